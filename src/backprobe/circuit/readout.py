"""Compiled: what instruments show under hypotheses at rest, all on one factorisation.

With w what the ports' currents do to a reading and l what a test current does to them,

    V = V0 - w y        Z = Z0 - w C'^-1 l
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.circuit.careful import Careful, careful_for, ohms_again, seen_two_ways, volts_again
from backprobe.circuit.compiled import compiled, inner
from backprobe.circuit.net import Flags, Floats, Ints
from backprobe.circuit.refine import prepare
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
WORTH = 0.1
"""Share of the volts that may be lost which an error of the resistance at a probe may be worth."""
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
    may have lost more than `sure` volts is refined. Of `source` only one row may be there, to work in; of
    `change` none."""
    many, widest, most, kinds = len(places.at), 1, 1, 2 if len(change) else 1
    for h in order:
        widest = max(widest, resting.start[h + 1] - resting.start[h])
    for p in range(len(resting.begin) - 1):
        most = max(most, resting.begin[p + 1] - resting.begin[p])
    desk = Desk(
        bench(most, widest),
        rows_for(many, most, widest, len(ground.x) if 2 * len(order) > len(ground.x) else 0, kinds),
        careful_for(ground, most + widest, kinds),
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
        plain, sees = left >= READS and whole >= WHOLE, whole >= SEES
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
            if volts:
                prepare(ground.laid, own, ports, ground.turns, turned, desk.careful.fine)
                volts_again(ground, places, own, ports, turned, desk.careful, rows, left)
            if asked:
                strain(many, work, rows, whole, sees)
                tests = doubted(meters, places, rows, sure, desk.doubt)
                if tests and not volts:
                    prepare(ground.laid, own, ports, ground.turns, turned, desk.careful.fine)
                if tests:
                    seen_two_ways(ground, places, own, ports, turned, desk.careful.fine, rows)
                    weighed = False
                    tests = doubted(meters, places, rows, sure, desk.doubt)
                if tests:
                    ohms_again(
                        ground,
                        places,
                        own,
                        ports,
                        turned,
                        desk.careful,
                        rows,
                        left,
                        tests,
                        desk.doubt,
                    )
        shown(meters, rows, mean[h], source[h if kept else 0])
        if len(change):
            changed(meters, rows, change[h], source[h if kept else 0])


@inner
def shown(meters: Meters, rows: Rows, mean: Floats, source: Floats) -> None:
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
    for f in range(len(mean)):
        if meters.shows_ohms[f]:
            mean[f] = source[f]


@inner
def changed(meters: Meters, rows: Rows, change: Floats, source: Floats) -> None:
    """What a volt of the battery adds to what they show."""
    for f in range(len(change)):
        part = 1.0 / (1.0 + max(source[f], 0.0) * meters.load[f])
        change[f] = 0.0 if meters.shows_ohms[f] else rows.volts[1, meters.place[f]] * part


@inner
def patterned(ground: Ground, places: Spots, turned: Ints, work: Bench, rows: Rows) -> None:
    """Readings and resistances in a pattern that was taken out, nothing defect."""
    count, many = len(turned), len(places.at)
    for c in range(len(rows.clear)):
        again(rows.clear[c], rows.bare[c])
    again(rows.clear_ohm, rows.bare_ohm)
    for i in range(count):
        weigh(rows.seen[i], ground, ground.turns, turned[i], places)
        feel(rows.felt[i], rows.far, ground, ground.turns, turned[i], places)
        for c in range(len(rows.clear)):
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
    for c in range(len(rows.volts)):
        again(rows.volts[c], rows.clear[c])
    for i in range(many):
        for c in range(len(rows.volts)):
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
def strain(ports: int, work: Bench, rows: Rows, left: float, sees: bool) -> None:
    """How far off resistances read plainly may be (u,), `rows.part`, in the same way: without end where
    next to nothing is left."""
    lost = LOST / left
    again(rows.part, rows.stirred_ohm)
    for i in range(ports):
        for j in range(ports):
            for u in range(len(rows.part)):
                rows.part[u] += rows.moves[i, u] * abs(work.solved[i, j]) * rows.feels[j, u]
    for u in range(len(rows.part)):
        rows.part[u] = lost * rows.part[u] if sees else np.inf


@inner
def doubted(meters: Meters, places: Spots, rows: Rows, sure: float, doubt: Flags) -> int:
    """Where resistances that may be off by `rows.part` (u,) matter, `doubt` (u,); how many. Where a meter
    of R loads E volts behind Z, an error of Z is worth E R / (R + Z)^2 of it, and as much of what a volt
    of the battery adds."""
    for u in range(len(doubt)):
        doubt[u] = False
    for f in range(len(meters.place)):
        u, load = meters.place[f], meters.load[f]
        if meters.easy[f] or not places.asked[u]:
            continue
        off, ohm, volt = rows.part[u], abs(rows.ohms[u]), 0.0
        for c in range(len(rows.volts)):
            volt += abs(rows.volts[c, u])
        fine = off < meters.agree[f] * (ohm + 0.01)
        if load > 0.0:
            fine |= volt < sure
            fine |= off * volt * load < WORTH * sure * (1.0 + max(ohm - off, 0.0) * load) ** 2
        doubt[u] |= not fine
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
        for c in range(len(rows.bare)):
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
