"""Ports: low-rank changes of a factorised network, many hypotheses at once.

A port has a left vector l, a right vector r, alpha and emf; with C = diag(alpha) + L' M^-1 R,

    y = C^-1 (L' x - emf)        x' = x - M^-1 R y        (Woodbury's identity)

    ohm d added to branch b      l = r = e_b                     alpha = -1/d (0 when opened)
    nodes p, q joined by R       l = r = e_p - e_q               alpha = R
    the same at t of a wire      l = r = e_q + (1-t) ohm e_b     alpha = R + (1-t) ohm
    volts added to branch b      l = 0, r = e_b                  alpha = 1, emf = volts

Vectors have few entries and are kept as (place, value) pairs, place -1 for none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

import numpy as np

from backprobe.circuit.base import Base
from backprobe.circuit.net import Floats, Ints

WIDTH = 4
"""Most entries a port vector has (a wire tapped against another wire)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """One port before it joins the arrays: entries (index in x, coefficient)."""

    left: tuple[tuple[int, float], ...]
    right: tuple[tuple[int, float], ...]
    alpha: float
    emf: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ports:
    """Ports as arrays: places (P, 4) and values (P, 4) of both vectors, alpha and emf (P,). Equal to
    themselves alone."""

    left_at: Ints
    left: Floats
    right_at: Ints
    right: Floats
    alpha: Floats
    emf: Floats

    @staticmethod
    def of(ports: Sequence[Port]) -> Ports:
        """Arrays from single ports. Entries at the reference (-1) are dropped."""
        left_at, left = entries([port.left for port in ports], WIDTH)
        right_at, right = entries([port.right for port in ports], WIDTH)
        return Ports(
            left_at=left_at,
            left=left,
            right_at=right_at,
            right=right,
            alpha=np.array([port.alpha for port in ports], float),
            emf=np.array([port.emf for port in ports], float),
        )

    def plus(self, other: Ports) -> Ports:
        """These ports and then the others."""
        if not other.count:
            return self
        join = np.concatenate
        return Ports(
            left_at=join([self.left_at, other.left_at]),
            left=join([self.left, other.left]),
            right_at=join([self.right_at, other.right_at]),
            right=join([self.right, other.right]),
            alpha=join([self.alpha, other.alpha]),
            emf=join([self.emf, other.emf]),
        )

    def only(self, numbers: Ints) -> Ports:
        """Some of them, in this order."""
        return Ports(**{f.name: getattr(self, f.name)[numbers] for f in fields(self)})

    @property
    def count(self) -> int:
        """How many ports there are."""
        return len(self.alpha)


def entries(vectors: Sequence[Sequence[tuple[int, float]]], width: int) -> tuple[Ints, Floats]:
    """Sparse vectors as (places, values), each (count, width), padded with -1 and 0."""
    at = np.full((len(vectors), width), -1, np.int64)
    value = np.zeros((len(vectors), width))
    found = [
        (number, k, place, coefficient)
        for number, vector in enumerate(vectors)
        for k, (place, coefficient) in enumerate([each for each in vector if each[0] >= 0])
    ]
    if found:
        row, column, place, coefficient = map(list, zip(*found, strict=True))
        at[row, column], value[row, column] = place, coefficient
    return at, value


@dataclass(frozen=True, slots=True, kw_only=True)
class Cases:
    """Which ports each hypothesis has: `ports` joined end to end, hypothesis h owns
    ports[start[h]:start[h + 1]]."""

    start: Ints
    ports: Ints

    @staticmethod
    def of(lists: Sequence[Sequence[int]]) -> Cases:
        """Cases from one list of port numbers per hypothesis."""
        start = np.zeros(len(lists) + 1, np.int64)
        np.cumsum([len(item) for item in lists], out=start[1:])
        return Cases(start=start, ports=np.array([p for item in lists for p in item], np.int64))

    @property
    def count(self) -> int:
        """How many hypotheses there are."""
        return len(self.start) - 1

    def with_all(self, extra: Sequence[int]) -> Cases:
        """The same, with these ports added to every hypothesis."""
        if not extra:
            return self
        size = np.diff(self.start)
        start = np.concatenate([[0], np.cumsum(size + len(extra))])
        ports = np.empty(start[-1], np.int64)
        owner = np.repeat(np.arange(self.count), size)
        within = np.arange(len(self.ports)) - self.start[owner]
        ports[start[owner] + within] = self.ports
        for k, port in enumerate(extra):
            ports[start[:-1] + size + k] = port
        return Cases(start=start, ports=ports)

    def only(self, which: Ints) -> Cases:
        """The same for some hypotheses, in the given order."""
        size = self.start[which + 1] - self.start[which]
        start = np.concatenate([[0], np.cumsum(size)]).astype(np.int64)
        owner = np.repeat(np.arange(len(which)), size)
        ports = self.ports[self.start[which][owner] + np.arange(start[-1]) - start[owner]]
        return Cases(start=start, ports=ports)

    def used(self, count: int) -> Ints:
        """The ports that anybody has, of so many, rising."""
        has = np.zeros(count + 1, bool)  # the last for -1
        has[self.ports] = True
        return has[:-1].nonzero()[0]

    def then(self, other: Cases) -> Cases:
        """These and then the others."""
        return Cases(
            start=np.concatenate([self.start, self.start[-1] + other.start[1:]]),
            ports=np.concatenate([self.ports, other.ports]),
        )

    def joined(self, first: Ints, second: Ints) -> Cases:
        """Pairs of hypotheses, each with the ports of both."""
        both = np.stack([first, second], axis=1).ravel()
        each = self.only(both)
        return Cases(start=each.start[::2].copy(), ports=each.ports)

    def blocks(self, which: Ints) -> Iterator[tuple[Ints, Ints]]:
        """Hypotheses of like port count together: (hypotheses (g,), ports (g, k)), -1 padded."""
        size = self.start[which + 1] - self.start[which]
        most, low = size.max(initial=0), -1
        for high in (1, 2, 4, 8, 16, 32, 64, 128, 256, len(self.ports)):
            if low >= most:
                break
            picked = which[(size > low) & (size <= high)]
            low = high
            if not picked.size:
                continue
            width = int((self.start[picked + 1] - self.start[picked]).max())
            reach = np.arange(width)
            inside = reach < (self.start[picked + 1] - self.start[picked])[:, None]
            place = np.where(inside, self.start[picked][:, None] + reach, 0)
            ports = np.where(inside, self.ports[place], -1) if self.ports.size else place - 1
            yield picked, ports


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Solved hypotheses of like port count: `cases` (g,), `ports` (g, k), C (g, k, k) and the
    port currents y (g, k, 2), for the solution and for its change per battery volt."""

    cases: Ints
    ports: Ints
    matrix: Floats
    current: Floats

    def only(self, cases: Ints, rows: Ints | slice) -> Block:
        """Some of its rows, as the hypotheses `cases`."""
        return Block(
            cases=cases,
            ports=self.ports[rows],
            matrix=self.matrix[rows],
            current=self.current[rows],
        )


def solve(base: Base, ports: Ports, cases: Cases, which: Ints) -> tuple[Block, ...]:
    """Solve the given hypotheses on one factorisation."""
    used = cases.only(which).ports
    solved, place = base.columns(np.maximum(ports.right_at[used[used >= 0]], 0))
    result = []
    for picked, numbers in cases.blocks(which):
        live = numbers >= 0
        safe = np.where(live, numbers, 0)
        if not ports.count or not numbers.shape[1]:
            empty = np.zeros((len(picked), 0))
            result.append(
                Block(
                    cases=picked,
                    ports=numbers[:, :0],
                    matrix=np.zeros((len(picked), 0, 0)),
                    current=empty[:, :, None].repeat(2, 2),
                )
            )
            continue
        k = numbers.shape[1]
        matrix = matrix_of(solved, place, ports, numbers)
        left_at, left = np.maximum(ports.left_at[safe], 0), ports.left[safe] * live[..., None]
        reach = np.arange(k)
        matrix[:, reach, reach] += np.where(live, ports.alpha[safe], 1.0)
        drive = np.einsum("gkw,gkwc->gkc", left, base.x[left_at])
        drive[:, :, 0] -= np.where(live, ports.emf[safe], 0.0)
        current = drive / matrix[:, :, :1] if k == 1 else np.linalg.solve(matrix, drive)
        result.append(Block(cases=picked, ports=numbers, matrix=matrix, current=current))
    return tuple(result)


def matrix_of(solved: Floats, place: Ints, ports: Ports, numbers: Ints) -> Floats:
    """L' M^-1 R (g, k, k) of ports (g, k), from columns of the inverse as Base.columns has them."""
    live = numbers >= 0
    safe = np.where(live, numbers, 0)
    left_at, right_at = np.maximum(ports.left_at[safe], 0), np.maximum(ports.right_at[safe], 0)
    right_at = place[right_at]
    left, right = ports.left[safe] * live[..., None], ports.right[safe] * live[..., None]
    matrix = np.zeros((*numbers.shape, numbers.shape[1]))
    rights = [b for b in range(WIDTH) if right[..., b].any()]
    for a in range(WIDTH):
        if not left[..., a].any():
            continue
        for b in rights:
            matrix += (
                left[:, :, None, a]
                * right[:, None, :, b]
                * solved[left_at[:, :, None, a], right_at[:, None, :, b]]
            )
    return matrix


def read(base: Base, ports: Ports, block: Block, at: Ints, value: Floats) -> tuple[Floats, Floats]:
    """Linear readings of solved hypotheses: (g, f, 2), and the sensitivity (g, f, k) of every
    reading to every port's current. `at`, `value` (f, w): which unknowns a reading adds up."""
    plain = np.einsum("fw,fwc->fc", value, base.x[np.maximum(at, 0)])
    numbers = block.ports
    if not numbers.shape[1]:
        shape = (len(block.cases), *plain.shape)
        return np.broadcast_to(plain, shape), np.zeros((*shape[:2], 0))
    weight = _reach(base, ports, numbers, at, value)
    seen = np.empty((2, len(block.cases), len(at)))
    for change in (0, 1):
        current = block.current[:, :, change]
        if numbers.shape[1] == 1:
            np.multiply(weight[:, 0], -current, out=seen[change])
        else:
            np.matmul(-current[:, None, :], weight, out=seen[change][:, None, :])
        seen[change] += plain[:, change]
    return np.moveaxis(seen, 0, 2), weight.transpose(0, 2, 1)


def _reach(base: Base, ports: Ports, numbers: Ints, at: Ints, value: Floats) -> Floats:
    """(g, k, f) what one ampere of every port of a block does to every reading."""
    live = numbers >= 0
    safe = np.where(live, numbers, 0)
    right_at, right = ports.right_at[safe], ports.right[safe] * live[..., None]
    solved, place = base.columns(np.maximum(right_at, 0))
    needed = place[np.maximum(right_at, 0)]
    used = np.zeros(solved.shape[1], bool)
    used[needed] = True
    columns, within = np.flatnonzero(used), (np.cumsum(used) - 1)[needed]
    rows = np.zeros((len(columns), len(at)))
    for w in range(at.shape[1]):
        some = np.flatnonzero(value[:, w])
        if some.size:
            rows[:, some] += value[some, w] * solved[np.ix_(at[some, w], columns)].T
    weight: Floats = rows[within[..., 0]] * right[..., 0, None]
    for w in range(1, WIDTH):
        ends = np.nonzero(right[..., w])
        if ends[0].size:
            weight[ends] += rows[within[..., w][ends]] * right[..., w][ends][:, None]
    return weight
