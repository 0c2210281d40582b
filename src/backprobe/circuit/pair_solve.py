"""Hypotheses as the pair arithmetic takes them, and the 2 x 2 systems of many pairs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from backprobe.circuit.net import Floats, Ints
from backprobe.circuit.ports import Cases, Ports
from backprobe.circuit.transfer import Held, Pattern, Transfer


@dataclass(frozen=True, slots=True, kw_only=True)
class Defective:
    """Hypotheses as the pair arithmetic takes them: one port each (`vector`, `alpha`, `emf`, all
    (H,)), or an event of many pins, whose ports are `held` (`event` (H,): which, 0 for none) and
    whose own port is the empty one."""

    vector: Ints
    alpha: Floats
    emf: Floats
    event: Ints
    held: tuple[Held, ...]

    @staticmethod
    def of(transfer: Transfer, ports: Ports, cases: Cases, leads: Sequence[int]) -> Defective:
        """Every hypothesis of `cases`, with `leads` (port numbers) fitted throughout."""
        size = np.diff(cases.start)
        alone = np.flatnonzero(size == 1)
        port = cases.ports[cases.start[alone]]
        vector = np.full(cases.count, transfer.vectors.empty)
        alpha, emf = np.ones(cases.count), np.zeros(cases.count)
        vector[alone] = transfer.vectors.of[port]
        alpha[alone], emf[alone] = ports.alpha[port], ports.emf[port]
        many = np.flatnonzero(size > 1)
        held = [Held.of(transfer.vectors, ports, leads)]
        for number in many:
            own = cases.ports[cases.start[number] : cases.start[number + 1]]
            held.append(Held.of(transfer.vectors, ports, np.concatenate([leads, own]).astype(int)))
        event = np.zeros(cases.count, np.int64)
        event[many] = 1 + np.arange(len(many))
        return Defective(
            vector=vector,
            alpha=alpha,
            emf=emf,
            event=event,
            held=tuple(held),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """Pairs solved in a pattern, all (m,): places of their vectors, C11, T21, T12 / C11, what is
    left of C22, and both port currents."""

    lead_at: Ints
    second_at: Ints
    own: Floats
    back: Floats
    c: Floats
    pivot: Floats
    y1: Floats
    y2: Floats

    def part(self, some: slice) -> Solved:
        """Some of them."""
        return Solved(**{f.name: getattr(self, f.name)[some] for f in fields(self)})

    def per_volt(self, pattern: Pattern) -> tuple[Floats, Floats]:
        """Both port currents' change per volt of battery."""
        near, far = (
            np.where(pattern.dead[at], 0.0, pattern.drive[at, 1])
            for at in (self.lead_at, self.second_at)
        )
        y = near / self.own
        y2 = (far - self.back * y) / self.pivot
        return y - self.c * y2, y2


def solve_pairs(d: Defective, pattern: Pattern, place: Ints, lead: Ints, second: Ints) -> Solved:
    """The 2 x 2 system of every pair; `place` (V,) finds vectors among the pattern's ports."""
    one, two = place[d.vector[lead]], place[d.vector[second]]
    many = len(pattern.ports)
    used = np.zeros(many, bool)
    used[one] = True
    leaders = np.flatnonzero(used)
    if len(leaders) * many <= 16 * len(one):
        line = np.zeros(many, np.int64)
        line[leaders] = np.arange(len(leaders)) * many
        at = line[one] + two
        forth = pattern.forth(leaders).ravel()[at]
        back = pattern.back(leaders).ravel()[at]
    else:
        forth, back = pattern.each(one, two), pattern.each(two, one)

    def own(at: Ints, who: Ints) -> tuple[Floats, Floats]:
        dead = pattern.dead[at]
        matrix = np.where(dead, 1.0, pattern.own[at] + d.alpha[who])
        return matrix, np.where(dead, 0.0, pattern.drive[at, 0]) - d.emf[who]

    (first, drive), (other, far) = own(one, lead), own(two, second)
    c = forth / first
    y = drive / first
    pivot = other - back * c
    y2 = (far - back * y) / pivot
    return Solved(
        lead_at=one, second_at=two, own=first, back=back, c=c, pivot=pivot, y1=y - c * y2, y2=y2
    )
