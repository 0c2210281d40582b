"""Compiled: which second defects move what their first alone would not move.

In the pattern where a leading hypothesis stands, a second one of port v carries

    y = (drive_v - C_v,lead y_lead - emf) / (C_vv - C_v,lead C_lead^-1 C_lead,v + alpha)

and changes what is watched by y (w_v - w_lead C_lead^-1 C_lead,v): no move differs as long as that stays
within the room the leader leaves. One product for a run of hypotheses of the same port tells for nearly all; the
others are looked at one by one, amount by amount, and leave where that moves them otherwise.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import for_numbers, loosely, within
from backprobe.circuit.limits import QUICK
from backprobe.circuit.net import Flags, Floats, Ints
from backprobe.circuit.pair_look import Desk, Moves, beyond, next_of, ready
from backprobe.circuit.pair_put import Defective, Made, Numbers, gone, join
from backprobe.circuit.pair_table import Conditions, Table
from backprobe.circuit.patterns import Patterns

WORN = 1e4
"""How many times a thing's own transfer the largest number on the way may be for nobody to mind."""
ONE, STRIDE = np.uint64(1), np.uint64(16)
"""Slots that are passed over at once. (A number without a sign needs no look whether it counts from the
end of a list.)"""
LINE = 8
"""Numbers that are fetched and written together."""
USUAL = 0.5
"""Share of the usual room below which an amount is looked at on its own."""


class Followers(NamedTuple):
    """Second hypotheses by their leader: h leads slots begin[h]:begin[h + 1], `second` there in order,
    of pairs `number`; those on their own are `away`, `many` (H,) are not."""

    begin: Ints
    many: Ints
    second: Numbers
    number: Numbers
    away: Flags


class Leavers(NamedTuple):
    """Those of leader h who leave in a round, from begin[h] on as `many` (H,): their `slot`, and where
    each `goes`; `met` (1,) in all."""

    begin: Ints
    many: Ints
    slot: Numbers
    goes: Numbers
    met: Ints


class Runs(NamedTuple):
    """Hypotheses of one port that stand side by side, of those asked for: run r from number begin[r] to
    begin[r + 1], of `port` (R,); of all of a port (V,) the `least` and the `most` alpha and the largest
    size of an emf, `lift`."""

    begin: Numbers
    port: Numbers
    least: Floats
    most: Floats
    lift: Floats


def runs_of(d: Defective, some: Ints, vectors: int) -> Runs:
    """The runs of some hypotheses (n,), rising, on so many vectors."""
    port = d.port[some]
    first = np.concatenate([[0], 1 + np.flatnonzero(np.diff(port))])
    least, most, lift = np.full(vectors, np.inf), np.full(vectors, -np.inf), np.zeros(vectors)
    np.minimum.at(least, port, d.alone[some])
    np.maximum.at(most, port, d.alone[some])
    np.maximum.at(lift, port, np.abs(d.lift[some]))
    begin = np.append(some[first], len(d.port)).astype(np.int32)
    return Runs(begin, port[first], least, most, lift)


class Shelf(NamedTuple):
    """Room to work in. Of a pattern, for every port of the table: its `own` transfer, `drive`, what it
    takes off what is `watched` (K, V), `across` (V, K) and the most of the usual room `gain` (V,) that is, by the `unit`
    (K,). Of the things put in, `forth` and `back` (m, V) transfers and `share` (m, V) of a current
    they take over, and what is `lost` (V,) of a port's own to their digits. With a leader, what is `left` (3, V) of own, drive and gain; the room it leaves, `up`
    and `down` (K,); of whom it `wants` (V,) a closer look, and `near`: runs of those."""

    own: Floats
    drive: Floats
    watched: Floats
    across: Floats
    gain: Floats
    unit: Floats
    forth: Floats
    back: Floats
    share: Floats
    lost: Floats
    left: Floats
    up: Floats
    down: Floats
    ratio: Floats
    taken: Floats
    work: Floats
    wants: Flags
    near: Numbers


def shelf_for(things: int, vectors: int, moves: int, watches: int, runs: int) -> Shelf:
    """Room for so many things put in, vectors, moves, watches, runs."""
    return Shelf(
        np.zeros(vectors),
        np.zeros(vectors),
        np.zeros((watches, vectors)),
        np.zeros((vectors, watches)),
        np.zeros(vectors),
        np.zeros(watches),
        np.zeros((things, vectors)),
        np.zeros((things, vectors)),
        np.zeros((things, vectors)),
        np.zeros(vectors),
        np.zeros((3, vectors)),
        np.zeros(watches),
        np.zeros(watches),
        np.zeros(moves),
        np.zeros(vectors),
        np.zeros(vectors),
        np.zeros(vectors, bool),
        np.zeros(runs + 1, np.int32),
    )


@loosely
def rooms(
    moves: Moves, active: Ints, seen: Floats, up: Floats, down: Floats, ratio: Floats
) -> None:
    """How far each amount `seen` (K,) may rise, `up`, and fall, `down`, before another of the `active`
    moves is due: over or not over its limit, quick or slow for a fuse, and which of the blowing fuses
    is furthest over (by `ratio`)."""
    top, following, blowing = 0.0, 0.0, 0
    for k in range(len(seen)):
        up[k], down[k] = np.inf, np.inf
    for a in range(len(active)):
        m = active[a]
        k, above, below = moves.watched[m], moves.above[m], moves.below[m]
        size, fuse, ratio[a] = moves.size[k], moves.pace[m] == 1, 0.0
        turned = size and seen[k] < 0.0
        amount = -seen[k] if turned else seen[k]
        over, under = amount > above, amount < below
        rise, fall = np.inf, np.inf
        if over and fuse and amount >= QUICK * above:
            fall = amount - QUICK * above
        elif over:
            fall = amount - above
            if fuse:
                rise = QUICK * above - amount
        elif under:
            rise = below - amount
            if size:
                fall = below + amount
        else:
            rise = above - amount
            # Of a size, the same seen from zero: it may shrink to nothing and grow the other way.
            fall = amount + above if size and below == -np.inf else amount - below
        if turned:
            rise, fall = fall, rise
        up[k], down[k] = min(up[k], rise), min(down[k], fall)
        if fuse and (over or under) and above < np.inf:
            ratio[a] = amount / above
            blowing += 1
            if ratio[a] > top:
                top, following = ratio[a], top
            elif ratio[a] > following:
                following = ratio[a]
    if blowing > 1:
        for a in range(len(active)):
            if ratio[a] > 0.0:
                k, gap = moves.watched[active[a]], (top - following) / 2.0
                up[k] = min(up[k], gap * moves.above[active[a]])
                down[k] = min(down[k], gap * moves.above[active[a]])


@loosely
def survey(
    table: Table,
    d: Defective,
    moves: Moves,
    made: Made,
    desk: Desk,
    shelf: Shelf,
    count: int,
    awake: int,
) -> None:
    """Every port's own transfer, drive and effect on what is watched, in the pattern taken out."""
    rooms(moves, desk.active[:awake], desk.level, shelf.up, shelf.down, shelf.ratio)
    unit, own, drive, gain, live = shelf.unit, shelf.own, shelf.drive, shelf.gain, made.live
    lost = shelf.lost
    for k in range(len(unit)):
        unit[k] = live[k] / max(min(shelf.up[k], shelf.down[k]), 1e-9)
    for v in range(len(own)):
        own[v], drive[v], lost[v] = table.own[v], table.drive[v, 0], 0.0
    forth, back = shelf.forth, shelf.back
    for i in range(count):
        spread(table.z, table.turned, made.thing[i], i, made.lower, made.upper, forth, back)
        part, flow = made.part[i], made.flow[i]
        for v in range(len(own)):
            own[v] -= back[i, v] * forth[i, v] * part
            drive[v] -= back[i, v] * flow
        worn(made.grown[i], part, forth[i], back[i], lost)
    for v in range(len(own)):
        gain[v] = 0.0
        dead = gone(own[v], lost[v])
        if dead or (d.turn[v] >= 0 and not made.there[d.turn[v]]):
            own[v] = np.inf
    for i in range(count):
        for v in range(len(own)):
            shelf.share[i, v] = forth[i, v] * made.part[i]
    for k in range(len(unit)):
        shown(
            k, table.watched, made.effect, shelf.share, live[k], unit[k], shelf.watched, gain, count
        )
    for begin in range(0, len(own), LINE):  # a line of the cache at a time
        for k in range(len(unit)):
            for v in range(begin, min(begin + LINE, len(own))):
                shelf.across[v, k] = shelf.watched[k, v]


@within
def worn(grown: float, part: float, forth: Floats, back: Floats, lost: Floats) -> None:
    """What a thing whose digits are few takes off every port's own transfer, times what it had
    `grown`: the most of it, in `lost` (V,)."""
    if grown > WORN:
        for v in range(len(lost)):
            lost[v] = max(lost[v], abs(back[v] * forth[v] * part) * grown)


@loosely
def spread(
    z: Floats,
    turned: Floats,
    p: int,
    i: int,
    lower: Floats,
    upper: Floats,
    forth: Floats,
    back: Floats,
) -> None:
    """Transfers from and to thing p, put in after i others, seen from every port: row i of `forth` and
    `back` (m, V)."""
    for v in range(forth.shape[1]):
        forth[i, v], back[i, v] = z[p, v], turned[p, v]
    for j in range(i):
        near, far = lower[i, j], upper[i, j]
        for v in range(forth.shape[1]):
            forth[i, v] -= near * forth[j, v]
            back[i, v] -= far * back[j, v]


@for_numbers
def shown(
    k: int,
    watch: Floats,
    effect: Floats,
    share: Floats,
    live: float,
    unit: float,
    watched: Floats,
    gain: Floats,
    count: int,
) -> None:
    """What ports take off amount k, `watched`, and the most of the usual room that is."""
    for v in range(len(gain)):
        watched[k, v] = watch[k, v] * live
    for i in range(count):
        each = effect[i, k] * live
        if each != 0.0:
            for v in range(len(gain)):
                watched[k, v] -= each * share[i, v]
    if unit > 0.0:
        for v in range(len(gain)):
            gain[v] = max(gain[v], abs(watched[k, v]) * unit)


@for_numbers
def nearest(
    k: int, room: float, effect: Floats, share: Floats, watched: Floats, taken: Floats,
    work: Floats, first: int, many: int,
) -> None:  # fmt: skip
    """The share of its `room` that a unit of a second's current takes off amount k, if that is the most
    that is `taken` (V,)."""
    for v in range(len(taken)):
        work[v] = watched[k, v]
    for i in range(first, many):
        each = effect[i, k]
        if each != 0.0:
            for v in range(len(taken)):
                work[v] -= each * share[i, v]
    scale = 1.0 / room
    for v in range(len(taken)):
        taken[v] = max(taken[v], abs(work[v]) * scale)


@loosely
def lead(
    table: Table,
    d: Defective,
    moves: Moves,
    made: Made,
    desk: Desk,
    shelf: Shelf,
    h: int,
    count: int,
    awake: int,
) -> int:
    """Put a leader in after the `count` turns: how many things there are then."""
    own, left, unit, seen = shelf.own, shelf.left, shelf.unit, desk.seen
    forth, back, share, lost = shelf.forth, shelf.back, shelf.share, shelf.work
    for k in range(len(seen)):
        seen[k] = desk.level[k]
    for v in range(len(own)):
        left[0, v], left[1, v], left[2, v] = own[v], shelf.drive[v], shelf.gain[v]
    many = join(table, d, table.watch, table.none, made, h, count, True)
    for i in range(count, many):
        spread(table.z, table.turned, made.thing[i], i, made.lower, made.upper, forth, back)
        part, flow, lift = made.part[i], made.flow[i], 0.0
        for k in range(len(unit)):
            seen[k] -= flow * made.effect[i, k]
            lift = max(lift, abs(made.effect[i, k]) * unit[k])
        for v in range(len(own)):
            share[i, v] = forth[i, v] * part
            left[0, v] -= back[i, v] * share[i, v]
            left[1, v] -= back[i, v] * flow
            left[2, v] += lift * abs(share[i, v])
        if made.grown[i] > WORN:
            for v in range(len(own)):
                lost[v] = 0.0
            worn(made.grown[i], part, forth[i], back[i], lost)
            for v in range(len(own)):
                if gone(left[0, v], max(lost[v], shelf.lost[v])):
                    left[0, v] = np.inf
    rooms(moves, desk.active[:awake], seen, shelf.up, shelf.down, shelf.ratio)
    usual, taken, work = 1.0, shelf.taken, shelf.work
    for v in range(len(own)):
        taken[v] = 0.0
    for k in range(len(unit)):
        if unit[k] > 0.0:
            room = min(shelf.up[k], shelf.down[k])
            if room * unit[k] >= USUAL:
                usual = min(usual, room * unit[k])
            else:
                nearest(
                    k, max(room, 1e-30), made.effect, share, shelf.watched, taken, work, count, many
                )
    scale = 1.0 / usual
    for v in range(len(own)):
        left[2, v] = max(left[2, v] * scale, taken[v])
    return many


@within
def wanting(left: Floats, runs: Runs, wants: Flags, near: Numbers) -> int:
    """Runs of which some hypothesis may take more than the room there is: how many are `near`."""
    least, most, lift, some = runs.least, runs.most, runs.lift, 0
    for v in range(len(wants)):
        taken = (abs(left[1, v]) + lift[v]) * left[2, v]
        wants[v] = not taken < max(left[0, v] + least[v], -left[0, v] - most[v])
    for r in range(np.uint64(len(runs.port))):
        near[np.uint64(some)] = r
        some += wants[np.uint32(runs.port[r])]
    return some


@within
def slot_from(second: Numbers, b: int, slot: np.uint64, end: np.uint64) -> np.uint64:
    """The first slot from `slot` on whose second is b or after it, `end` for none."""
    while slot + STRIDE < end and second[slot + STRIDE] < b:
        slot += STRIDE
    while slot < end and second[slot] < b:
        slot += ONE
    return slot


@loosely
def follow(
    table: Table,
    cond: Conditions,
    moves: Moves,
    known: Patterns,
    d: Defective,
    runs: Runs,
    made: Made,
    desk: Desk,
    shelf: Shelf,
    pairs: Followers,
    leaders: Ints,
    stands: Ints,
    aims: Ints,
    leave: Leavers,
    begin: int,
) -> int:
    """Who of the followers of `leaders` (n,), who stand in the patterns `stands` (n,), sorted, and go
    to `aims` (-1 stay), goes elsewhere. From place `begin` on, as far as there is room for new
    patterns."""
    pattern, turns, awake, out = -1, 0, 0, leave.met[0]
    left, up, down, near = shelf.left, shelf.up, shelf.down, shelf.near
    across, effect, share, taken = shelf.across, made.effect, shelf.share, desk.taken
    sign, high, low, bit, mask = desk.sign, desk.high, desk.low, desk.bit, desk.mask
    alpha, emf, second, away = d.alone, d.lift, pairs.second, pairs.away
    for n in range(begin, len(leaders)):
        h = leaders[n]
        if stands[n] != pattern:
            pattern = stands[n]
            turns, awake = ready(table, cond, moves, d, made, desk, known.states[pattern])
            survey(table, d, moves, made, desk, shelf, turns, awake)
        many = lead(table, d, moves, made, desk, shelf, h, turns, awake)
        p, end = np.uint64(pairs.begin[h]), np.uint64(pairs.begin[h + 1])
        if not leave.many[h]:
            leave.begin[h] = out
        for i in range(np.uint64(wanting(left, runs, shelf.wants, near))):
            r = np.uint32(near[i])
            v, told, after = np.uint32(runs.port[r]), False, runs.begin[r + 1]
            own_v, drive_v, gain_v = left[0, v], left[1, v], left[2, v]
            p = slot_from(second, runs.begin[r], p, end)
            while p < end and second[p] < after:
                b = np.uint32(second[p])
                drive, own, here = drive_v - emf[b], own_v + alpha[b], p
                p += ONE
                if away[here] or abs(drive) * gain_v < abs(own):
                    continue
                if not told:  # severities of one defect stand side by side
                    told = True
                    for k in range(len(up)):
                        taken[k] = across[v, k]
                    for j in range(turns, many):
                        over = share[j, v]
                        for k in range(len(up)):
                            taken[k] -= over * effect[j, k]
                y, inside = drive / own, 0
                for k in range(len(up)):
                    each = y * taken[k]
                    inside += (-each < up[k]) & (each < down[k])
                if inside == len(up):
                    continue
                if known.met[0] == len(known.states):
                    leave.met[0] = out
                    return n
                goes = -1
                if beyond(desk.seen, y, taken, sign, high, low, bit, mask):
                    goes = next_of(moves, known, desk, pattern, y)
                if goes != aims[n]:
                    away[here] = True
                    leave.slot[out], leave.goes[out] = here, goes
                    out += 1
                    leave.many[h] += 1
                    pairs.many[h] -= 1
    leave.met[0] = out
    return len(leaders)
