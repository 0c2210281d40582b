"""Compiled: readings to full precision, where those put together from parts lost digits."""

from __future__ import annotations

from backprobe.circuit.compiled import inner
from backprobe.circuit.net import Flags, Floats, Ints
from backprobe.circuit.refine import Room, prepare, refine
from backprobe.circuit.small import Vectors
from backprobe.circuit.spots import AGREE, Ground, Rows, Spots, again, feel, less, weigh

SWAMPED = 100.0
"""A resistance of so small a share of what it is without ports and turns is found anew."""


@inner
def read_carefully(
    ground: Ground,
    places: Spots,
    own: Vectors,
    ports: Ints,
    turned: Ints,
    fine: Room,
    test: Room,
    rows: Rows,
    left: float,
    volts: bool,
    doubt: Flags,
) -> None:
    """To full precision the `volts`, if these are in doubt, and resistances where (u,) there is `doubt`.
    `test` shares its system with `fine`."""
    prepare(ground.laid, own, ports, ground.turns, turned, fine)
    if volts:
        refine(ground.exact, ground.laid, own, ports, ground.turns, turned, fine, left)
        for u in range(len(rows.ohms)):
            for c in range(2):
                rows.volts[c, u] = places.value[0, u] * fine.x[c, places.at[u, 0]]
                rows.volts[c, u] += places.value[1, u] * fine.x[c, places.at[u, 1]]
    one = two = -1
    if len(doubt):
        seen_two_ways(ground, places, own, ports, turned, fine, rows, doubt)
    for u in range(len(doubt)):
        if doubt[u] and one < 0:
            one = u
        elif doubt[u]:
            two = u
            tested(ground, own, ports, turned, places, one, two, test, rows, left)
            one = two = -1
    if one >= 0:
        tested(ground, own, ports, turned, places, one, two, test, rows, left)


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
) -> None:
    """Resistances, w C^-1 l taken off what they are without ports and turns; where that is to be doubted
    still. With w and l exchanged and C^-1 transposed it is the same, and rounded otherwise."""
    many, size = len(ports), len(ports) + len(turned)
    for i in range(many):
        weigh(rows.moves[i], ground, own, ports[i], places)
        feel(rows.feels[i], rows.far, ground, own, ports[i], places)
    weight, pull = (rows.moves, rows.seen), (rows.feels, rows.felt)
    again(rows.ohms, rows.bare_ohm)
    again(rows.twice, rows.bare_ohm)
    taken_off(rows.ohms, rows.part, weight, pull, fine.solved, many, size)
    taken_off(rows.twice, rows.part, pull, weight, fine.solved.T, many, size)
    for u in range(len(rows.ohms)):
        least = abs(rows.ohms[u]) + 0.01
        swamped = abs(rows.bare_ohm[u]) > SWAMPED * least
        doubt[u] &= swamped or not abs(rows.ohms[u] - rows.twice[u]) < AGREE * least


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


@inner
def tested(
    ground: Ground,
    own: Vectors,
    ports: Ints,
    turned: Ints,
    places: Spots,
    one: int,
    two: int,
    test: Room,
    rows: Rows,
    left: float,
) -> None:
    """Volts at one or two places (-1 for none) per ampere of test current there, to full precision."""
    for b in range(2):
        u, start, right = (one, two)[b], test.start[b], test.right[b]
        for n in range(len(start)):
            start[n] = right[n] = 0.0
        for e in range(2 if u >= 0 else 0):
            if places.far[u, e] != 0.0:
                column = ground.laid[places.far_in[u, e]]
                right[places.far_at[u, e]] += places.far[u, e]
                for n in range(len(column)):
                    start[n] += places.far[u, e] * column[n]
    refine(ground.exact, ground.laid, own, ports, ground.turns, turned, test, left)
    for b in range(2):
        u = (one, two)[b]
        if u >= 0:
            rows.ohms[u] = places.value[0, u] * test.x[b, places.at[u, 0]]
            rows.ohms[u] += places.value[1, u] * test.x[b, places.at[u, 1]]
