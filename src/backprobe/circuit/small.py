"""Compiled arithmetic on the small systems of ports: transfers read off solved columns, inverses.

Loops over hypotheses stand in compiled code (numba, kept on disk after the first use): each has a
system of a few ports, too small for array arithmetic to pay. A pattern's turns (circuit.turned) are
taken out once for all hypotheses in it; what is left for each is a system of its own ports,

    C' = C - A T^-1 B      T = alpha + L_t' M^-1 R_t,  A = L' M^-1 R_t,  B = L_t' M^-1 R
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import inner, making, piece
from backprobe.circuit.net import Flags, Floats, Ints
from backprobe.circuit.ports import Ports


class Vectors(NamedTuple):
    """Ports for compiled code: places (P, 4) and values (P, 4) of both vectors, `right_in` the places
    counted in solved columns; how many entries (P,) are in use, what follows them says nothing;
    alpha, emf and what emf gains with a volt of the battery (P,). A port that feeds the equation of a
    branch which the factorised pattern lacks does so in that of the `turn` (P,) that has it, by
    `gain` (P,), and nowhere else."""

    left_at: Ints
    left: Floats
    lefts: Ints
    right_at: Ints
    right_in: Ints
    right: Floats
    rights: Ints
    alpha: Floats
    emf: Floats
    swing: Floats
    turn: Ints
    gain: Floats


def laid_out(ports: Ports, place: Ints, swing: Floats | None = None) -> Vectors:
    """Ports with their right vectors in columns as `place` (N,) finds them."""
    lefts, rights = _in_use(ports)
    none = np.zeros(ports.count)
    return Vectors(
        left_at=ports.left_at,
        left=ports.left,
        lefts=lefts,
        right_at=ports.right_at,
        right_in=place[ports.right_at],
        right=ports.right,
        rights=rights,
        alpha=ports.alpha,
        emf=ports.emf,
        swing=none if swing is None else swing,
        turn=np.full(ports.count, -1, np.int64),
        gain=none,
    )


def fed_apart(of: Vectors, absent: Flags, branch_turn: Ints) -> Vectors:
    """Ports beside a pattern that lacks the branches of some equations, `absent` (N,); `branch_turn`
    (B,): the turn of a branch."""
    row, entry = np.nonzero(absent[of.right_at] & (of.right_at >= 0))
    if not row.size:
        return of
    right, turn, gain = of.right.copy(), of.turn.copy(), of.gain.copy()
    branch = of.right_at[row, entry] - (len(absent) - len(branch_turn))
    turn[row] = branch_turn[branch]
    np.add.at(gain, row, right[row, entry])
    right[row, entry] = 0.0
    return of._replace(right=right, turn=turn, gain=gain)


@lru_cache(maxsize=16)
def _in_use(ports: Ports) -> tuple[Ints, Ints]:
    """(P,) how many entries the vectors of each port have."""
    return (ports.left_at >= 0).sum(axis=1), (ports.right_at >= 0).sum(axis=1)


@piece
def transfer(laid: Floats, of: Vectors, p: int, to: Vectors, q: int) -> float:
    """l_p' M^-1 r_q, from columns of the inverse laid down as rows (c, N)."""
    total = 0.0
    for b in range(to.rights[q]):
        column, part = to.right_in[q, b], 0.0
        for a in range(of.lefts[p]):
            part += of.left[p, a] * laid[column, of.left_at[p, a]]
        total += to.right[q, b] * part
    return total


@piece
def alike(of: Vectors, p: int, q: int) -> bool:
    """Whether two ports differ in alpha and emf alone, as severities of one defect do."""
    if of.lefts[p] != of.lefts[q] or of.rights[p] != of.rights[q] or of.gain[p] != of.gain[q]:
        return False
    for a in range(of.lefts[p]):
        if of.left_at[p, a] != of.left_at[q, a] or of.left[p, a] != of.left[q, a]:
            return False
    for b in range(of.rights[p]):
        if of.right_at[p, b] != of.right_at[q, b] or of.right[p, b] != of.right[q, b]:
            return False
    return True


@piece
def driven(x: Floats, of: Vectors, p: int, change: int) -> float:
    """l_p' x of a port (change 0), or what a volt of the battery adds to it (change 1)."""
    total = 0.0
    for a in range(of.lefts[p]):
        total += of.left[p, a] * x[of.left_at[p, a], change]
    return total


@inner
def inverted(matrix: Floats, result: Floats, size: int) -> None:
    """The inverse of the first `size` rows and columns, which are used up; Gauss and Jordan's way
    with row pivots. A zero pivot leaves infinities or nan."""
    for i in range(size):
        for j in range(size):
            result[i, j] = 0.0
        result[i, i] = 1.0
    for c in range(size):
        best = c
        for i in range(c + 1, size):
            if abs(matrix[i, c]) > abs(matrix[best, c]):
                best = i
        if best != c:
            for j in range(size):
                matrix[c, j], matrix[best, j] = matrix[best, j], matrix[c, j]
                result[c, j], result[best, j] = result[best, j], result[c, j]
        pivot = matrix[c, c]
        if pivot == 0.0:
            result[0, 0] = np.nan
            return
        scale = 1.0 / pivot
        for j in range(size):
            matrix[c, j] *= scale
            result[c, j] *= scale
        for i in range(size):
            factor = matrix[i, c]
            if i != c and factor != 0.0:
                for j in range(c, size):
                    matrix[i, j] -= factor * matrix[c, j]
                for j in range(size):
                    result[i, j] -= factor * result[c, j]


class Bench(NamedTuple):
    """Room to work in, for up to d turns and k ports: of a pattern `core` T (d, d), its `inverse` and
    the turns' currents `flow` (d, 2) while nothing is defect; of ports that met it `near` A (k, d), `far` B
    and `through` T^-1 B (d, k), their transfers `bare` and what the turns leave of them, `left`
    (k, k), what those have `eaten` of each (k,), and what drives it, `drive` (k, 2), emf left out; of
    a hypothesis `matrix` C' (k, k), its inverse `solved` and the ports' currents `current` (k, 2); of
    each its own transfer `before`, the share a turn `keeps` of it (d,), and what is `spent` on a
    port's on the way (k,)."""

    core: Floats
    inverse: Floats
    flow: Floats
    near: Floats
    far: Floats
    through: Floats
    bare: Floats
    left: Floats
    eaten: Floats
    drive: Floats
    matrix: Floats
    solved: Floats
    before: Floats
    keeps: Floats
    spent: Floats
    current: Floats


@piece
def kept(ratio: float) -> float:
    """The share of its digits that a number keeps when it shrinks or grows by this ratio: what grows
    swamps what stood beside it."""
    return min(abs(ratio), 1.0 / abs(ratio))


@making
def bench(turns: int, ports: int) -> Bench:
    """Room for so many."""
    return Bench(
        np.empty((turns, turns)),
        np.empty((turns, turns)),
        np.empty((turns, 2)),
        np.empty((ports, turns)),
        np.empty((turns, ports)),
        np.empty((turns, ports)),
        np.empty((ports, ports)),
        np.empty((ports, ports)),
        np.empty(ports),
        np.empty((ports, 2)),
        np.empty((ports, ports)),
        np.empty((ports, ports)),
        np.empty(max(turns, ports)),
        np.empty(turns),
        np.empty(ports),
        np.empty((ports, 2)),
    )


@piece
def take_out(laid: Floats, x: Floats, turns: Vectors, turned: Ints, work: Bench) -> float:
    """A pattern's turns (d,), solved for: `inverse` and `flow`. The least share of its own transfer
    that one of them is left with."""
    count, least = len(turned), 1.0
    for i in range(count):
        for j in range(count):
            work.core[i, j] = transfer(laid, turns, turned[i], turns, turned[j])
        work.core[i, i] += turns.alpha[turned[i]]
        work.before[i] = work.core[i, i]
    inverted(work.core, work.inverse, count)
    for i in range(count):
        work.keeps[i] = kept(work.before[i] * work.inverse[i, i])
        least = min(least, work.keeps[i])
        work.flow[i, 0] = 0.0
        work.flow[i, 1] = 0.0
    for j in range(count):
        for c in range(2):
            drive = driven(x, turns, turned[j], c)
            drive -= turns.emf[turned[j]] if c == 0 else turns.swing[turned[j]]
            for i in range(count):
                work.flow[i, c] += work.inverse[i, j] * drive
    return least


@piece
def meet(
    laid: Floats, x: Floats, turns: Vectors, turned: Ints, own: Vectors, ports: Ints, work: Bench
) -> None:
    """What a hypothesis' ports (k,) find of a pattern that was taken out, whatever their alpha and
    emf: `through`, `bare`, `left`, `eaten` and `drive`."""
    count, many = len(turned), len(ports)
    for i in range(many):
        for d in range(count):
            work.near[i, d] = transfer(laid, own, ports[i], turns, turned[d])
            work.far[d, i] = transfer(laid, turns, turned[d], own, ports[i])
            if own.gain[ports[i]] != 0.0 and own.turn[ports[i]] == turned[d]:
                work.far[d, i] -= own.gain[ports[i]]
    for d in range(count):
        for i in range(many):
            work.through[d, i] = 0.0
        for e in range(count):
            for i in range(many):
                work.through[d, i] += work.inverse[d, e] * work.far[e, i]
    for i in range(many):
        work.eaten[i] = 0.0
        for j in range(many):
            work.bare[i, j] = transfer(laid, own, ports[i], own, ports[j])
            work.left[i, j] = work.bare[i, j]
        for d in range(count):
            work.eaten[i] += abs(work.near[i, d] * work.through[d, i]) / work.keeps[d]
            for j in range(many):
                work.left[i, j] -= work.near[i, d] * work.through[d, j]
        for c in range(2):
            work.drive[i, c] = driven(x, own, ports[i], c)
            for d in range(count):
                work.drive[i, c] -= work.near[i, d] * work.flow[d, c]


@piece
def put_in(own: Vectors, ports: Ints, work: Bench, kept_out: float) -> tuple[float, float]:
    """Ports (k,) that have met the pattern, solved for: `solved` and `current`. The least share of its
    own transfer that one of them is left with, or that was left of it beside what the turns added;
    and the least share of digits it is left with beside turns that keep theirs, at least `kept_out`."""
    many, least, whole = len(ports), 1.0, kept_out
    for i in range(many):
        for j in range(many):
            work.matrix[i, j] = work.left[i, j]
        alpha = own.alpha[ports[i]]
        work.matrix[i, i] += alpha
        work.before[i] = work.bare[i, i] + alpha
        work.spent[i] = abs(work.before[i]) + work.eaten[i]
        if own.gain[ports[i]] != 0.0:  # it is what a turn feeds or nothing
            work.before[i] = work.spent[i]
        least = min(least, kept(work.before[i] / work.matrix[i, i]))
    inverted(work.matrix, work.solved, many)
    for i in range(many):
        least = min(least, kept(work.before[i] * work.solved[i, i]))
        whole = min(whole, 1.0 / abs(work.spent[i] * work.solved[i, i]))
        work.current[i, 0] = 0.0
        work.current[i, 1] = 0.0
    for j in range(many):
        for c in range(2):
            drive = work.drive[j, c] - (own.emf[ports[j]] if c == 0 else own.swing[ports[j]])
            for i in range(many):
                work.current[i, c] += work.solved[i, j] * drive
    return least, whole
