"""Compiled: readings to full precision, where those put together from parts lost digits."""

from __future__ import annotations

from typing import NamedTuple

from backprobe.circuit.compiled import inner, making
from backprobe.circuit.net import Flags, Floats, Ints
from backprobe.circuit.refine import Room, beside, prepare, refine, room_for
from backprobe.circuit.small import Vectors
from backprobe.circuit.spots import AGREE, Ground, Rows, Spots, again, feel, less, weigh

SWAMPED = 100.0
"""A resistance of so small a share of what it is without ports and turns is found anew."""


class Careful(NamedTuple):
    """Room for a hypothesis read carefully, one system for all: what all sources drive and a volt in every
    battery, `fine`; the same and two test currents, `both`; a `pair` of test currents, and `many`. More
    drives side by side take less time than one after the other."""

    fine: Room
    both: Room
    pair: Room
    many: Room


@making
def careful_for(ground: Ground, ports: int) -> Careful:
    """Room for so many ports and turns."""
    fine = room_for(len(ground.x), ports, 2)
    both = beside(fine, 4)
    for room in (fine, both):
        for n in range(len(ground.x)):
            for c in range(2):
                room.start[c, n] = ground.x[n, c]
                room.right[c, n] = ground.exact.right[c, n]
        room.emf[0], room.swing[1] = 1.0, 1.0
    return Careful(fine, both, beside(fine, 2), beside(fine, 8))


@inner
def read_carefully(
    ground: Ground,
    places: Spots,
    own: Vectors,
    ports: Ints,
    turned: Ints,
    room: Careful,
    rows: Rows,
    left: float,
    volts: bool,
    doubt: Flags,
) -> None:
    """To full precision the `volts`, if these are in doubt, and resistances where (u,) there is `doubt`,
    which is used up."""
    prepare(ground.laid, own, ports, ground.turns, turned, room.fine)
    tests = 0
    if len(doubt):
        tests = seen_two_ways(ground, places, own, ports, turned, room.fine, rows, doubt)
    if volts:
        last = room.both if tests else room.fine
        some = driven_by(ground, places, doubt, last, 2)
        refine(ground.exact, ground.laid, own, ports, ground.turns, turned, last, left)
        for c in range(2):
            for u in range(len(rows.ohms)):
                rows.volts[c, u] = read_at(places, u, last.x[c])
        tests -= taken_over(places, doubt, last, 2, some, rows)
    while tests > 0:
        last = room.many if tests > 2 else room.pair
        some = driven_by(ground, places, doubt, last, 0)
        refine(ground.exact, ground.laid, own, ports, ground.turns, turned, last, left)
        tests -= taken_over(places, doubt, last, 0, some, rows)


@inner
def driven_by(ground: Ground, places: Spots, doubt: Flags, room: Room, first: int) -> int:
    """Let drives from the `first` on be an ampere of test current at the next places in doubt, the last of
    them nothing where there are no more; how many places."""
    b, most = first, len(room.emf)
    for d in range(first, most):
        for n in range(room.start.shape[1]):
            room.start[d, n] = room.right[d, n] = 0.0
    for u in range(len(doubt)):
        if b == most:
            break
        if not doubt[u]:
            continue
        for e in range(2):
            if places.far[u, e] != 0.0:
                column, start = ground.laid[places.far_in[u, e]], room.start[b]
                room.right[b, places.far_at[u, e]] += places.far[u, e]
                for n in range(len(column)):
                    start[n] += places.far[u, e] * column[n]
        b += 1
    return b - first


@inner
def taken_over(places: Spots, doubt: Flags, room: Room, first: int, some: int, rows: Rows) -> int:
    """Resistances at the next `some` places in doubt, as their drives show them: no doubt is left. How
    many that were."""
    b = first
    for u in range(len(doubt)):
        if doubt[u] and b < first + some:
            rows.ohms[u], doubt[u] = read_at(places, u, room.x[b]), False
            b += 1
    return some


@inner
def read_at(places: Spots, u: int, x: Floats) -> float:
    """What a place reads of a solution (N,)."""
    total: float = places.value[0, u] * x[places.at[u, 0]]
    total += places.value[1, u] * x[places.at[u, 1]]
    return total


@inner
def seen_two_ways(
    ground: Ground,
    places: Spots,
    own: Vectors,
    ports: Ints,
    turned: Ints,
    fine: Room,
    rows: Rows,
    doubt: Flags,
) -> int:
    """Where (u,) resistances that were read plainly are to be doubted still, and in how many places: where
    w C^-1 l, all ports and turns at once, taken off what they are without does not say the same. With w
    and l exchanged and C^-1 transposed that is the same again, and rounded otherwise."""
    many, size, some = len(ports), len(ports) + len(turned), 0
    for i in range(many):
        weigh(rows.moves[i], ground, own, ports[i], places)
        feel(rows.feels[i], rows.far, ground, own, ports[i], places)
    weight, pull = (rows.moves, rows.seen), (rows.feels, rows.felt)
    again(rows.once, rows.bare_ohm)
    again(rows.twice, rows.bare_ohm)
    taken_off(rows.once, rows.part, weight, pull, fine.solved, many, size)
    taken_off(rows.twice, rows.part, pull, weight, fine.solved.T, many, size)
    for u in range(len(rows.ohms)):
        ohm = rows.ohms[u]
        least = abs(ohm) + 0.01
        swamped = not abs(rows.bare_ohm[u]) < SWAMPED * least
        off = max(abs(ohm - rows.once[u]), abs(ohm - rows.twice[u]))
        doubt[u] &= swamped or not off < AGREE * least
        some += doubt[u]
    return some


@inner
def taken_off(
    ohms: Floats,
    part: Floats,
    one: tuple[Floats, Floats],
    other: tuple[Floats, Floats],
    solved: Floats,
    many: int,
    size: int,
) -> None:
    """Take one (C^-1 other) off resistances (u,), each of `one` and `other` given for the `many` ports and
    for the turns."""
    for i in range(size):
        row = one[0][i] if i < many else one[1][i - many]
        for u in range(len(ohms)):
            part[u] = 0.0
        for j in range(size):
            less(part, -solved[i, j], other[0][j] if j < many else other[1][j - many])
        for u in range(len(ohms)):
            ohms[u] -= row[u] * part[u]
