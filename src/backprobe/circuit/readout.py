"""Compiled: what instruments show under hypotheses at rest, all on one factorisation.

With w what the ports' currents do to a reading and l what a test current does to them,

    V = V0 - w y        Z = Z0 - w C'^-1 l
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.circuit.careful import Careful, careful_for, read_carefully
from backprobe.circuit.compiled import compiled, inner
from backprobe.circuit.net import Flags, Floats, Ints
from backprobe.circuit.settled import LOST, READS, SEES
from backprobe.circuit.small import Bench, Vectors, alike, bench, meet, put_in, take_out
from backprobe.circuit.spots import (
    ASKED,
    KNOWN,
    Ground,
    Meters,
    Resting,
    Rows,
    Spots,
    again,
    feel,
    less,
    rows_for,
    times,
    weigh,
)

WHOLE = 1e-2
"""Share of digits that ports keep beside turns which lost some, from which all is read plainly."""
BLOCK = 16
"""Unknowns at a time for which columns are laid down as rows."""


class Desk(NamedTuple):
    """Room for a readout; ports of a hypothesis; places (u,) where the resistance is in `doubt`."""

    work: Bench
    rows: Rows
    careful: Careful
    room: Ints
    doubt: Flags


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
    may have lost more than `sure` volts is refined. Of `change` and `source` only one row may be there,
    to work in."""
    many, widest, most = len(places.at), 1, 1
    for h in order:
        widest = max(widest, resting.start[h + 1] - resting.start[h])
    for p in range(len(resting.begin) - 1):
        most = max(most, resting.begin[p + 1] - resting.begin[p])
    desk = Desk(
        bench(most, widest),
        rows_for(many, most, widest, len(ground.x) if 2 * len(order) > len(ground.x) else 0),
        careful_for(ground, most + widest),
        np.empty(widest, np.int64),
        np.empty(many, np.bool_),
    )
    go(ground, resting, places, meters, order, label, mean, change, source, sure, desk)


@inner
def go(
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
    desk: Desk,
) -> None:
    """readout(), with room to work in. Severities of one defect stand side by side: what their port
    does whatever its ohms is found once."""
    work, rows, own = desk.work, desk.rows, resting.own
    turned, least, asked = resting.turned[:0], 1.0, bool(places.asked.any())
    last, met, stirred, weighed, kept = -1, False, False, False, len(source) == len(mean)
    untouched(ground, places, rows)
    for n in range(len(order)):
        h = order[n]
        if n == 0 or label[n] != label[n - 1]:
            turned, last = resting.turned[resting.begin[label[n]] : resting.begin[label[n] + 1]], -1
            least, stirred = take_out(ground.laid, ground.x, ground.turns, turned, work), False
            patterned(ground, places, turned, work, rows)
        many, left, whole = 0, least, least
        for c in range(resting.start[h], resting.start[h + 1]):
            if resting.ports[c] >= 0:
                desk.room[many] = resting.ports[c]
                many += 1
        ports = desk.room[:many]
        if many != 1 or last < 0 or not alike(own, last, ports[0]):
            meet(ground.laid, ground.x, ground.turns, turned, own, ports, work)
            met = weighed = False
        last = ports[0] if many == 1 else -1
        if many:
            left, whole = put_in(own, ports, work, least)
            left = min(left, least)
        plain, sees, doubts = left >= READS and whole >= WHOLE, whole >= SEES, 0
        if not met:
            meet_places(ground, places, own, ports, turned, work, rows, asked)
            met = True
        read_plainly(many, work, rows, asked)
        if not plain:
            if sees and not stirred:
                stir(turned, work, rows, asked)
                stirred = True
            if sees and not weighed:
                ponder(many, turned, work, rows, asked)
                weighed = True
            volts = not sees or not trusted(many, work, rows, whole, sure)
            if asked:
                doubts = doubted(meters, places, many, work, rows, whole, sees, desk.doubt)
            if volts or doubts:
                read_carefully(
                    ground, places, own, ports, turned, desk.careful, rows, left, volts,
                    desk.doubt[: len(places.at) if doubts else 0],
                )  # fmt: skip
                weighed = False
        at = h if kept else 0
        shown(meters, rows, mean[h], change[at], source[at])


@inner
def shown(meters: Meters, rows: Rows, mean: Floats, change: Floats, source: Floats) -> None:
    """What instruments show of readings and resistances."""
    for r in range(len(meters.runs)):
        f, u, many = meters.runs[r]
        known, load, part = meters.source[f], meters.load[f : f + many], rows.part[u : u + many]
        own, ohms = source[f : f + many], rows.ohms[u : u + many]
        if known == ASKED:
            again(own, ohms)
        elif known != KNOWN:
            for i in range(many):
                own[i] = 0.0
        for i in range(many):
            part[i] = 1.0 / (1.0 + max(own[i], 0.0) * load[i])
        times(mean[f : f + many], rows.volts[0, u : u + many], part)
        times(change[f : f + many], rows.volts[1, u : u + many], part)
    for f in range(len(mean)):
        if meters.shows_ohms[f]:
            mean[f], change[f] = source[f], 0.0


@inner
def patterned(ground: Ground, places: Spots, turned: Ints, work: Bench, rows: Rows) -> None:
    """Readings and resistances in a pattern that was taken out, nothing defect."""
    count, many = len(turned), len(places.at)
    again(rows.clear[0], rows.bare[0])
    again(rows.clear[1], rows.bare[1])
    again(rows.clear_ohm, rows.bare_ohm)
    for i in range(count):
        weigh(rows.seen[i], ground, ground.turns, turned[i], places)
        feel(rows.felt[i], rows.far, ground, ground.turns, turned[i], places)
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
def meet_places(
    ground: Ground,
    places: Spots,
    own: Vectors,
    ports: Ints,
    turned: Ints,
    work: Bench,
    rows: Rows,
    asked: bool,
) -> None:
    """What the ports of a hypothesis do to readings, and a test current to them, in a pattern."""
    count = len(turned)
    for i in range(len(ports)):
        weigh(rows.weight[i], ground, own, ports[i], places)
        for d in range(count):
            less(rows.weight[i], work.through[d, i], rows.seen[d])
        if asked:
            feel(rows.pull[i], rows.far, ground, own, ports[i], places)
            for d in range(count):
                less(rows.pull[i], work.near[i, d], rows.passed[d])


@inner
def read_plainly(many: int, work: Bench, rows: Rows, asked: bool) -> None:
    """Readings and resistances of a hypothesis whose ports were put in."""
    for c in range(2):
        again(rows.volts[c], rows.clear[c])
    for i in range(many):
        for c in range(2):
            less(rows.volts[c], work.current[i, c], rows.weight[i])
    if not asked:
        return
    again(rows.ohms, rows.clear_ohm)
    for i in range(many):
        for j in range(many):
            for u in range(len(rows.ohms)):
                rows.ohms[u] -= rows.weight[i, u] * work.solved[i, j] * rows.pull[j, u]


@inner
def stir(turned: Ints, work: Bench, rows: Rows, asked: bool) -> None:
    """What a pattern's turns add to readings and resistances on the way, signs left out."""
    for u in range(len(rows.stirred)):
        rows.stirred[u] = rows.stirred_ohm[u] = 0.0
    for d in range(len(turned)):
        for u in range(len(rows.stirred)):
            rows.stirred[u] += abs(work.flow[d, 0] * rows.seen[d, u])
        for u in range(len(rows.stirred) if asked else 0):
            rows.stirred_ohm[u] += abs(rows.seen[d, u] * rows.passed[d, u])


@inner
def ponder(many: int, turned: Ints, work: Bench, rows: Rows, asked: bool) -> None:
    """What ports do at places, directly and by way of turns, signs left out."""
    for i in range(many):
        for u in range(len(rows.ohms)):
            rows.moves[i, u] = abs(rows.weight[i, u])
        for d in range(len(turned)):
            for u in range(len(rows.ohms)):
                rows.moves[i, u] += abs(work.through[d, i] * rows.seen[d, u])
        if not asked:
            continue
        for u in range(len(rows.ohms)):
            rows.feels[i, u] = abs(rows.pull[i, u])
        for d in range(len(turned)):
            for u in range(len(rows.ohms)):
                rows.feels[i, u] += abs(work.near[i, d] * rows.passed[d, u])


@inner
def trusted(ports: int, work: Bench, rows: Rows, left: float, sure: float) -> bool:
    """Whether what was read plainly has lost less than `sure` volts: what is added up and taken off
    on the way is small where the probes are."""
    lost, fine = LOST / left, 0
    again(rows.part, rows.stirred)
    for i in range(ports):
        less(rows.part, -abs(work.current[i, 0]), rows.moves[i])
    for u in range(len(rows.part)):
        fine += lost * rows.part[u] < sure
    return fine == len(rows.part)


@inner
def doubted(
    meters: Meters,
    places: Spots,
    ports: int,
    work: Bench,
    rows: Rows,
    left: float,
    sees: bool,
    doubt: Flags,
) -> int:
    """Where resistances read plainly may have lost digits worth mentioning, `doubt` (u,), in the same
    way; how many. All of them where next to nothing is left."""
    for u in range(len(doubt)):
        doubt[u] = places.asked[u] and not sees
    if sees:
        lost = LOST / left
        again(rows.part, rows.stirred_ohm)
        for i in range(ports):
            for j in range(ports):
                for u in range(len(rows.part)):
                    rows.part[u] += rows.moves[i, u] * abs(work.solved[i, j]) * rows.feels[j, u]
        for f in range(len(meters.place)):
            u = meters.place[f]
            most = meters.slack[f] + meters.agree[f] * (abs(rows.ohms[u]) + 0.01)
            doubt[u] |= places.asked[u] and not lost * rows.part[u] < most
    some = 0
    for u in range(len(doubt)):
        some += doubt[u]
    return some


@inner
def untouched(ground: Ground, places: Spots, rows: Rows) -> None:
    """Readings and resistances of the factorised network itself."""
    for first in range(0, len(rows.far), BLOCK):  # rows that are written to at a time
        last = min(first + BLOCK, len(rows.far))
        for u in range(len(places.at)):
            for at in range(first, last):
                rows.far[at, u] = 0.0
            for e in range(2 if places.asked[u] else 0):
                share, column = places.far[u, e], ground.laid[places.far_in[u, e]]
                if share != 0.0:
                    for at in range(first, last):
                        rows.far[at, u] += share * column[at]
    for u in range(len(places.at)):
        for c in range(2):
            rows.bare[c, u] = 0.0
            for w in range(2):
                rows.bare[c, u] += places.value[w, u] * ground.x[places.at[u, w], c]
        rows.bare_ohm[u] = 0.0
        if places.asked[u]:
            for w in range(2):
                for e in range(2):
                    rows.bare_ohm[u] += (
                        places.value[w, u]
                        * places.far[u, e]
                        * ground.laid[places.far_in[u, e], places.at[u, w]]
                    )
