"""Compiled: readings to full precision, where those put together from parts lost digits."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import inner, making
from backprobe.circuit.net import Flags, Floats, Ints
from backprobe.circuit.refine import Room, beside, refine, room_for
from backprobe.circuit.small import Vectors
from backprobe.circuit.spots import Ground, Rows, Spots, again, feel, less, weigh

SWAMPED = 100.0
"""A resistance of so small a share of what it is without ports and turns is found anew."""


class Careful(NamedTuple):
    """Room for a hypothesis read carefully, one system for all: what all sources drive and, where it is
    asked for, a volt in every battery, `fine`; a `pair` of test currents, and `many`. More drives side by
    side take less time than one after the other."""

    fine: Room
    pair: Room
    many: Room


@making
def careful_for(ground: Ground, ports: int, kinds: int) -> Careful:
    """Room for so many ports and turns; `kinds` as in rows_for()."""
    fine = room_for(len(ground.x), ports, kinds)
    for n in range(len(ground.x)):
        for c in range(kinds):
            fine.start[c, n] = ground.x[n, c]
            fine.right[c, n] = ground.exact.right[c, n]
    fine.emf[0] = 1.0
    if kinds > 1:
        fine.swing[1] = 1.0
    return Careful(fine, beside(fine, 2), beside(fine, 8))


@inner
def volts_again(
    ground: Ground,
    places: Spots,
    own: Vectors,
    ports: Ints,
    turned: Ints,
    room: Careful,
    rows: Rows,
    left: float,
) -> None:
    """Readings to full precision, of a hypothesis prepared in `room`."""
    refine(ground.exact, ground.laid, own, ports, ground.turns, turned, room.fine, left)
    for c in range(len(rows.volts)):
        for u in range(len(rows.ohms)):
            rows.volts[c, u] = read_at(places, u, room.fine.x[c])


@inner
def ohms_again(
    ground: Ground,
    places: Spots,
    own: Vectors,
    ports: Ints,
    turned: Ints,
    room: Careful,
    rows: Rows,
    left: float,
    tests: int,
    doubt: Flags,
) -> None:
    """Resistances to full precision where (u,) there is `doubt`, in so many places; it is used up."""
    while tests > 0:
        last = room.many if tests > 2 else room.pair
        some = driven_by(ground, places, doubt, last)
        refine(ground.exact, ground.laid, own, ports, ground.turns, turned, last, left)
        tests -= taken_over(places, doubt, last, some, rows)


@inner
def driven_by(ground: Ground, places: Spots, doubt: Flags, room: Room) -> int:
    """Let every drive be an ampere of test current at the next place in doubt, the last of them nothing
    where there are no more; how many places."""
    b, most = 0, len(room.emf)
    for d in range(most):
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
    return b


@inner
def taken_over(places: Spots, doubt: Flags, room: Room, some: int, rows: Rows) -> int:
    """Resistances at the next `some` places in doubt, as their drives show them: no doubt is left. How
    many that were."""
    b = 0
    for u in range(len(doubt)):
        if doubt[u] and b < some:
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
) -> None:
    """How far off (u,) resistances that were read plainly may be, `rows.part`: how far w C^-1 l, all ports
    and turns at once, taken off what they are without is from it. With w
    and l exchanged and C^-1 transposed that is the same again, and rounded otherwise."""
    many, size = len(ports), len(ports) + len(turned)
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
        swamped = not abs(rows.bare_ohm[u]) < SWAMPED * (abs(ohm) + 0.01)
        off = max(abs(ohm - rows.once[u]), abs(ohm - rows.twice[u]))
        rows.part[u] = np.inf if swamped else off


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
