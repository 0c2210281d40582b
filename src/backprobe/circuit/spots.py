"""Compiled: where instruments touch, and what currents through ports do there."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from backprobe.circuit.compiled import inner, making
from backprobe.circuit.factor import Exact
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.small import Vectors

AGREE = 1e-8
"""So far, as a share, what is worked out in two orders may differ."""
SURE = 1e-10
"""Volts that may be lost where nothing else is said."""
LIGHT: Final = 1e6
"""Ohms from which an instrument loads so little that what contacts and warmth do to the load is
nothing beside what they do to the reading."""
KNOWN, ASKED = 1, 2
"""Resistance at the probes: known already, or to be found; 0 where no instrument loads them."""


class Ground(NamedTuple):
    """A factorisation to read on: its equations, columns of the inverse `laid` down as rows (c, N), `x` (N, 2), and a port for each turn."""

    exact: Exact
    laid: Floats
    x: Floats
    turns: Vectors


class Resting(NamedTuple):
    """Hypotheses at rest: who owns which ports (-1 where it does nothing), and of every pattern its
    turns: turned[begin[p]:begin[p + 1]]."""

    start: Ints
    ports: Ints
    own: Vectors
    begin: Ints
    turned: Ints


class Spots(NamedTuple):
    """Where instruments touch, each place once: unknowns `at` (u, 2) times `value` (2, u) that add up, where a
    test current enters, `far_at` (`far_in` in solved columns) and `far` (u, 2), and whether resistance
    is asked for there. `runs` (r, 3): the first of places side by side at unknowns side by side, its
    unknown, and how many; `second`: the places of which the second unknown counts."""

    at: Ints
    value: Floats
    far_at: Ints
    far_in: Ints
    far: Floats
    asked: Flags
    runs: Ints
    second: Ints


class Meters(NamedTuple):
    """The instruments: at which place (f,), what one loads per ohm at its probes, `load`
    (0 for those that load nothing or show ohms), whether what it shows bears any error of them, `easy`, and
    the share of them that may be lost, `agree`; whether it shows ohms, and what is known of the resistance at its probes (KNOWN,
    ASKED or 0). `runs` (r, 3): the first of instruments side by side at places side by side of which
    the same is known, its place, and how many."""

    place: Ints
    load: Floats
    easy: Flags
    agree: Floats
    shows_ohms: Flags
    source: States
    runs: Ints


class Rows(NamedTuple):
    """Room to work in, by place u. Of turns (d, u): what their currents do to readings, `seen`, what
    a test current does to them, `felt`, and T^-1 times that, `passed`; of ports (k, u) `weight` w and
    `pull` l. Readings (1 or 2, u) and resistances (u,) of the network as factorised (`bare`), in a pattern
    (`clear`), under a hypothesis; the same resistance worked out in two other ways; and what adds up to it.
    Signs left out, what turns add to readings and resistances on the way, `stirred` and
    `stirred_ohm` (u,), and to what a port does, `moves` w and `feels` l (k, u). `far` (N, u): what a
    test current does to every unknown, where there are enough hypotheses to lay that out for."""

    seen: Floats
    felt: Floats
    passed: Floats
    weight: Floats
    pull: Floats
    bare: Floats
    clear: Floats
    volts: Floats
    bare_ohm: Floats
    clear_ohm: Floats
    ohms: Floats
    once: Floats
    twice: Floats
    part: Floats
    stirred: Floats
    stirred_ohm: Floats
    moves: Floats
    feels: Floats
    far: Floats


@making
def rows_for(places: int, turns: int, ports: int, unknowns: int, kinds: int) -> Rows:
    """Room for so many; `kinds`: 1 for readings alone, 2 with what a volt of the battery does to them."""
    return Rows(
        np.empty((turns, places)),
        np.empty((turns, places)),
        np.empty((turns, places)),
        np.empty((ports, places)),
        np.empty((ports, places)),
        np.empty((kinds, places)),
        np.empty((kinds, places)),
        np.empty((kinds, places)),
        np.empty(places),
        np.empty(places),
        np.empty(places),
        np.empty(places),
        np.empty(places),
        np.empty(places),
        np.empty(places),
        np.empty(places),
        np.empty((ports, places)),
        np.empty((ports, places)),
        np.empty((unknowns, places)),
    )


@inner
def again(row: Floats, other: Floats) -> None:
    """Make a row (u,) what the other is."""
    for u in range(len(row)):
        row[u] = other[u]


@inner
def less(row: Floats, times: float, other: Floats) -> None:
    """Take so many times the other off a row (u,)."""
    for u in range(len(row)):
        row[u] -= times * other[u]


@inner
def times(row: Floats, one: Floats, other: Floats) -> None:
    """Make a row (u,) the product of two."""
    for u in range(len(row)):
        row[u] = one[u] * other[u]


@inner
def weigh(row: Floats, ground: Ground, of: Vectors, p: int, places: Spots) -> None:
    """What an ampere through a port does to the readings (u,)."""
    for u in range(len(row)):
        row[u] = 0.0
    for b in range(of.rights[p]):
        column, feed = ground.laid[of.right_in[p, b]], of.right[p, b]
        for r in range(len(places.runs)):
            u, n, many = places.runs[r]
            for k in range(many):
                row[u + k] += feed * (places.value[0, u + k] * column[n + k])
        for u in places.second:
            row[u] += feed * (places.value[1, u] * column[places.at[u, 1]])


@inner
def feel(row: Floats, far: Floats, ground: Ground, of: Vectors, p: int, places: Spots) -> None:
    """What a test current of an ampere does to a port (u,)."""
    for u in range(len(row)):
        row[u] = 0.0
    for a in range(of.lefts[p]):
        at, share = of.left_at[p, a], of.left[p, a]
        if len(far):
            less(row, -share, far[at])
            continue
        for u in range(len(row)):
            row[u] += share * tested_at(ground, places, u, at)


@inner
def tested_at(ground: Ground, places: Spots, u: int, at: int) -> float:
    """What a test current of an ampere at a place does to an unknown, 0 where none is asked for."""
    total = 0.0
    for e in range(2):
        if places.asked[u]:
            total += places.far[u, e] * ground.laid[places.far_in[u, e], at]
    return total
