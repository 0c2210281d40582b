"""Compiled: readings to full precision, where those put together from parts lost digits."""

from __future__ import annotations

from backprobe.circuit.compiled import inner
from backprobe.circuit.net import Floats, Ints
from backprobe.circuit.refine import Room, prepare, refine
from backprobe.circuit.small import Vectors
from backprobe.circuit.spots import AGREE, Ground, Rows, Spots, feel, less, weigh

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
    asked: bool,
) -> None:
    """The same to full precision."""
    many, size = len(ports), len(ports) + len(turned)
    prepare(ground.laid, own, ports, ground.turns, turned, fine)
    refine(ground.exact, ground.laid, own, ports, ground.turns, turned, fine, left)
    for u in range(len(rows.ohms)):
        for c in range(2):
            rows.volts[c, u] = places.value[u, 0] * fine.x[places.at[u, 0], c]
            rows.volts[c, u] += places.value[u, 1] * fine.x[places.at[u, 1], c]
        rows.ohms[u] = rows.bare_ohm[u]
        rows.twice[u] = rows.bare_ohm[u]
    if not asked:
        return
    for i in range(many):
        weigh(rows.weight[i], ground, own, ports[i], places)
        feel(rows.pull[i], rows.far, ground, own, ports[i], places)
    weight, pull = (rows.weight, rows.seen), (rows.pull, rows.felt)
    taken_off(rows.ohms, rows.part, weight, pull, fine.solved, many, size)
    taken_off(rows.twice, rows.part, pull, weight, fine.solved.T, many, size)
    ready = False
    for u in range(len(rows.ohms)):
        least = abs(rows.ohms[u]) + 0.01
        swamped = abs(rows.bare_ohm[u]) > SWAMPED * least
        swamped |= not abs(rows.ohms[u] - rows.twice[u]) < AGREE * least
        if places.asked[u] and swamped:
            if not ready:
                prepare(ground.laid, own, ports, ground.turns, turned, test)
                ready = True
            rows.ohms[u] = tested(ground, own, ports, turned, places, u, test, left)


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
    for the turns. With w and l exchanged and C^-1 transposed it is the same, and rounded otherwise."""
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
    u: int,
    test: Room,
    left: float,
) -> float:
    """Volts at a place per ampere of test current there, to full precision, as prepared."""
    for n in range(len(test.start)):
        test.start[n, 0] = 0.0
        test.right[n, 0] = 0.0
    for e in range(2):
        if places.far[u, e] != 0.0:
            column = ground.laid[places.far_in[u, e]]
            test.right[places.far_at[u, e], 0] += places.far[u, e]
            for n in range(len(column)):
                test.start[n, 0] += places.far[u, e] * column[n]
    refine(ground.exact, ground.laid, own, ports, ground.turns, turned, test, left)
    total: float = places.value[u, 0] * test.x[places.at[u, 0], 0]
    total += places.value[u, 1] * test.x[places.at[u, 1], 0]
    return total
