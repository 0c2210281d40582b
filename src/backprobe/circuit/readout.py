"""Compiled: what instruments show under hypotheses at rest, all on one factorisation.

With w what the ports' currents do to a reading and l what a test current does to them,

    V = V0 - w y        Z = Z0 - w C'^-1 l
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from backprobe.circuit.compiled import compiled, inner
from backprobe.circuit.factor import Exact
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.refine import Room, prepare, refine, room_for
from backprobe.circuit.settled import LOST, READS, SEES
from backprobe.circuit.small import Bench, Vectors, bench, put_in, take_out

SWAMPED = 100.0
"""A resistance of so small a share of what it is without ports and turns is found anew."""
AGREE = 1e-8
"""So far, as a share, what is worked out in two orders may differ."""
SURE, LIVE = 1e-10, 100.0
"""Volts that may be lost where nothing else is said; more volts than a machine has."""
LIGHT: Final = 1e6
"""Ohms from which an instrument loads so little that what contacts and warmth do to the load is
nothing beside what they do to the reading."""
WHOLE = 1e-6
"""Share of digits that ports keep beside turns which lost some, from which all is read plainly."""
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
    """Where instruments touch, each place once: unknowns `at` and `value` (u, 2) that add up, where a
    test current enters, `far_at` (`far_in` in solved columns) and `far` (u, 2), and whether resistance
    is asked for there."""

    at: Ints
    value: Floats
    far_at: Ints
    far_in: Ints
    far: Floats
    asked: Flags


class Meters(NamedTuple):
    """The instruments: at which place (f,), input ohm, whether it shows ohms, and what is known of
    the resistance at its probes (KNOWN, ASKED or 0)."""

    place: Ints
    ohm: Floats
    shows_ohms: Flags
    source: States


class Rows(NamedTuple):
    """Room to work in, by place u. Of turns (d, u): what their currents do to readings, `seen`, what
    a test current does to them, `felt`, and T^-1 times that, `passed`; of ports (k, u) `weight` w and
    `pull` l. Readings (2, u) and resistances (u,) of the network as factorised (`bare`), in a pattern
    (`clear`), under a hypothesis; the same resistance worked out another way; and what adds up to it."""

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
    twice: Floats
    part: Floats


@compiled
def readout(
    ground: Ground,
    resting: Resting,
    places: Spots,
    meters: Meters,
    order: Ints,
    label: Ints,
    mean: Floats,
    change: Floats,
    source: Floats,
    sure: float,
) -> None:
    """Fill in readings, their change per volt of the battery and the resistance at the probes (H, f),
    for the hypotheses `order` (n,), sorted by their pattern `label` (n,). What
    may have lost more than `sure` volts is refined."""
    many, widest, most = len(places.at), 1, 1
    for h in order:
        widest = max(widest, resting.start[h + 1] - resting.start[h])
    for p in range(len(resting.begin) - 1):
        most = max(most, resting.begin[p + 1] - resting.begin[p])
    work, rows = bench(most, widest), rows_for(many, most, widest)
    fine, test = fine_for(ground, most + widest), room_for(len(ground.x), most + widest, 1)
    room, turned, least = np.empty(widest, np.int64), resting.turned[:0], 1.0
    untouched(ground, places, rows)
    for n in range(len(order)):
        h = order[n]
        if n == 0 or label[n] != label[n - 1]:
            turned = resting.turned[resting.begin[label[n]] : resting.begin[label[n] + 1]]
            least = take_out(ground.laid, ground.x, ground.turns, turned, work)
            patterned(ground, places, turned, work, rows)
        own, left, whole = 0, least, least
        for c in range(resting.start[h], resting.start[h + 1]):
            if resting.ports[c] >= 0:
                room[own] = resting.ports[c]
                own += 1
        ports = room[:own]
        if own:
            left, whole = put_in(
                ground.laid, ground.x, ground.turns, turned, resting.own, ports, work, least
            )
            left = min(left, least)
        plain = left >= READS and whole >= WHOLE
        if plain or whole >= SEES:
            read_plainly(ground, places, resting.own, ports, turned, work, rows)
            plain = plain or trusted(meters, len(ports), len(turned), work, rows, whole, sure)
        if not plain:
            read_carefully(ground, places, resting.own, ports, turned, fine, test, rows, left)
        for f in range(len(meters.place)):
            u = meters.place[f]
            mean[h, f] = rows.volts[0, u]
            change[h, f] = rows.volts[1, u]
            if meters.source[f] == ASKED:
                source[h, f] = rows.ohms[u]
            if meters.source[f]:
                ohm = source[h, f]
                if meters.shows_ohms[f]:
                    mean[h, f] = ohm
                    change[h, f] = 0.0
                else:
                    load = 1.0 / (1.0 + max(ohm, 0.0) / meters.ohm[f])
                    mean[h, f] *= load
                    change[h, f] *= load


@inner
def rows_for(places: int, turns: int, ports: int) -> Rows:
    """Room for so many."""
    return Rows(
        np.empty((turns, places)),
        np.empty((turns, places)),
        np.empty((turns, places)),
        np.empty((ports, places)),
        np.empty((ports, places)),
        np.empty((2, places)),
        np.empty((2, places)),
        np.empty((2, places)),
        np.empty(places),
        np.empty(places),
        np.empty(places),
        np.empty(places),
        np.empty(places),
    )


@inner
def fine_for(ground: Ground, ports: int) -> Room:
    """Room to refine what all sources drive, and a volt in every battery."""
    fine = room_for(len(ground.x), ports, 2)
    for n in range(len(ground.x)):
        for c in range(2):
            fine.start[n, c] = ground.x[n, c]
            fine.right[n, c] = ground.exact.right[c, n]
    fine.emf[0], fine.swing[1] = 1.0, 1.0
    return fine


@inner
def patterned(ground: Ground, places: Spots, turned: Ints, work: Bench, rows: Rows) -> None:
    """Readings and resistances in a pattern that was taken out, nothing defect."""
    count, many = len(turned), len(places.at)
    again(rows.clear[0], rows.bare[0])
    again(rows.clear[1], rows.bare[1])
    again(rows.clear_ohm, rows.bare_ohm)
    for i in range(count):
        weigh(rows.seen[i], ground, ground.turns, turned[i], places)
        feel(rows.felt[i], ground, ground.turns, turned[i], places)
        for c in range(2):
            less(rows.clear[c], work.flow[i, c], rows.seen[i])
    for i in range(count):
        for u in range(many):
            rows.passed[i, u] = 0.0
        for j in range(count):
            less(rows.passed[i], -work.inverse[i, j], rows.felt[j])
        for u in range(many):
            rows.clear_ohm[u] -= rows.seen[i, u] * rows.passed[i, u]


@inner
def read_plainly(
    ground: Ground, places: Spots, own: Vectors, ports: Ints, turned: Ints, work: Bench, rows: Rows
) -> None:
    """Readings and resistances of a hypothesis whose ports were put in."""
    many, count = len(ports), len(turned)
    for c in range(2):
        again(rows.volts[c], rows.clear[c])
    again(rows.ohms, rows.clear_ohm)
    for i in range(many):
        weigh(rows.weight[i], ground, own, ports[i], places)
        for d in range(count):
            less(rows.weight[i], work.through[d, i], rows.seen[d])
        for c in range(2):
            less(rows.volts[c], work.current[i, c], rows.weight[i])
    if not places.asked.any():
        return
    for j in range(many):
        feel(rows.pull[j], ground, own, ports[j], places)
        for d in range(count):
            less(rows.pull[j], work.near[j, d], rows.passed[d])
    for i in range(many):
        for j in range(many):
            for u in range(len(rows.ohms)):
                rows.ohms[u] -= rows.weight[i, u] * work.solved[i, j] * rows.pull[j, u]


@inner
def trusted(
    meters: Meters, ports: int, turns: int, work: Bench, rows: Rows, left: float, sure: float
) -> bool:
    """Whether what was read plainly has lost less than `sure` volts, and ohms no digits worth
    mentioning: what is added up and taken off on the way is small where the probes are."""
    lost = LOST / left
    for f in range(len(meters.place)):
        u, volts, ohms = meters.place[f], 0.0, 0.0
        for d in range(turns):
            volts += abs(work.flow[d, 0] * rows.seen[d, u])
        for i in range(ports):
            volts += abs(work.current[i, 0]) * passing(
                rows.weight[i, u], work.through[:, i], rows.seen, turns, u
            )
        if not lost * volts < sure:
            return False
        if meters.source[f] != ASKED:
            continue
        for d in range(turns):
            ohms += abs(rows.seen[d, u] * rows.passed[d, u])
        for i in range(ports):
            weight = passing(rows.weight[i, u], work.through[:, i], rows.seen, turns, u)
            for j in range(ports):
                pull = passing(rows.pull[j, u], work.near[j], rows.passed, turns, u)
                ohms += weight * abs(work.solved[i, j]) * pull
        if meters.shows_ohms[f] or meters.ohm[f] < LIGHT:
            if not lost * ohms < AGREE * (abs(rows.ohms[u]) + 0.01):
                return False
        elif not lost * ohms < sure * meters.ohm[f] / LIVE:
            return False
    return True


@inner
def passing(whole: float, times: Floats, rows: Floats, turns: int, u: int) -> float:
    """What a port does at a place, directly and by way of turns, signs left out."""
    total = abs(whole)
    for d in range(turns):
        total += abs(times[d] * rows[d, u])
    return total


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
    if not places.asked.any():
        return
    for i in range(many):
        weigh(rows.weight[i], ground, own, ports[i], places)
        feel(rows.pull[i], ground, own, ports[i], places)
    by_pull(rows, fine.solved, many, size, rows.ohms)
    by_weight(rows, fine.solved, many, size, rows.twice)
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
def by_pull(rows: Rows, solved: Floats, many: int, size: int, ohms: Floats) -> None:
    """Take w (C^-1 l) off resistances (u,), over ports and then turns."""
    for i in range(size):
        row = rows.weight[i] if i < many else rows.seen[i - many]
        for u in range(len(ohms)):
            rows.part[u] = 0.0
        for j in range(size):
            less(rows.part, -solved[i, j], rows.pull[j] if j < many else rows.felt[j - many])
        for u in range(len(ohms)):
            ohms[u] -= row[u] * rows.part[u]


@inner
def by_weight(rows: Rows, solved: Floats, many: int, size: int, ohms: Floats) -> None:
    """Take (w C^-1) l off them: the same, and rounded otherwise."""
    for j in range(size):
        column = rows.pull[j] if j < many else rows.felt[j - many]
        for u in range(len(ohms)):
            rows.part[u] = 0.0
        for i in range(size):
            less(rows.part, -solved[i, j], rows.weight[i] if i < many else rows.seen[i - many])
        for u in range(len(ohms)):
            ohms[u] -= column[u] * rows.part[u]


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


@inner
def untouched(ground: Ground, places: Spots, rows: Rows) -> None:
    """Readings and resistances of the factorised network itself."""
    for u in range(len(places.at)):
        for c in range(2):
            rows.bare[c, u] = 0.0
            for w in range(2):
                rows.bare[c, u] += places.value[u, w] * ground.x[places.at[u, w], c]
        rows.bare_ohm[u] = 0.0
        if places.asked[u]:
            for w in range(2):
                for e in range(2):
                    rows.bare_ohm[u] += (
                        places.value[u, w]
                        * places.far[u, e]
                        * ground.laid[places.far_in[u, e], places.at[u, w]]
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
def weigh(row: Floats, ground: Ground, of: Vectors, p: int, places: Spots) -> None:
    """What an ampere through a port does to the readings (u,)."""
    for u in range(len(row)):
        row[u] = 0.0
    for b in range(of.rights[p]):
        laid, feed = ground.laid[of.right_in[p, b]], of.right[p, b]
        for u in range(len(row)):
            row[u] += feed * (
                places.value[u, 0] * laid[places.at[u, 0]]
                + places.value[u, 1] * laid[places.at[u, 1]]
            )


@inner
def feel(row: Floats, ground: Ground, of: Vectors, p: int, places: Spots) -> None:
    """What a test current of an ampere does to a port (u,)."""
    for u in range(len(row)):
        row[u] = 0.0
    for a in range(of.lefts[p]):
        at, share = of.left_at[p, a], of.left[p, a]
        for u in range(len(row)):
            if places.asked[u]:
                row[u] += share * (
                    places.far[u, 0] * ground.laid[places.far_in[u, 0], at]
                    + places.far[u, 1] * ground.laid[places.far_in[u, 1], at]
                )
