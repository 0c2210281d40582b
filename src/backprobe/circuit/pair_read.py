"""Compiled: what taps read under pairs at rest, unloaded, and the resistance they see.

Things are put into the network one after the other, as where pairs are looked at
(circuit.pair_look), here with what they do to taps: port i takes w_i y_i off what a tap reads and
w_i q_i / p_i off the resistance it sees, q_i what a test current at the tap drives through it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import compiled, loosely
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.pair_look import Defective
from backprobe.circuit.pair_table import Conditions, Table

WORN, LOST = 1e4, 1e6
"""How many times p_i the largest number on the way to it may be: beyond, the digits of its current may
be told better, and too many are gone."""
SWEEPS, DEAD = 8, 1e-9
"""Times dead pieces are gone through, one may hang on another, and volts that are none."""
NOISE = 1e-13
"""What rounding may do to the largest number on the way."""


class Lens(NamedTuple):
    """Taps (f,) for compiled code: what one unit of a thing's current takes off them, `taken`, and what
    their test current drives through it, `reach` (n, f); what they read (f,) with nothing put in,
    `level`, per battery volt, `swing`, and the resistance they see, `bare`; `turn` (f,): the turn they
    read the current of, -1 for none."""

    taken: Floats
    reach: Floats
    level: Floats
    swing: Floats
    bare: Floats
    turn: Ints


class Ends(NamedTuple):
    """Both ends of the branch a thing opens, as unknowns (n,), -1 the reference, -2 where it opens none;
    `full` (N, n) what one unit of a thing's current does to every unknown, `x` (N,)."""

    top: Ints
    bottom: Ints
    full: Floats
    x: Floats


class Stand(NamedTuple):
    """Room to work in, as a Desk: the things put in, what each takes off the taps, `effect`, and what
    the taps drive through it, `reach` (m, f); currents `flow` and per battery volt `swing` (m,), how many
    times its p_i the largest number on the way was, `grown`; what is
    read while nothing is defect, with a first hypothesis, with both: rows of `open_`, `volt`, `ohm` (3, f)."""

    there: Flags
    live: Floats
    thing: Ints
    part: Floats
    flow: Floats
    swing: Floats
    lower: Floats
    upper: Floats
    effect: Floats
    reach: Floats
    near: Floats
    far: Floats
    end: Floats
    left: Floats
    grown: Floats
    mended: Floats
    moved: Floats
    open_: Floats
    volt: Floats
    ohm: Floats


@compiled
def stand_for(turns: int, ports: int, taps: int, swings: int) -> Stand:
    """Room for so many; `swings`: as many as taps where the change per volt is asked for, or 0."""
    most = turns + ports
    return Stand(
        np.zeros(turns, np.bool_),
        np.zeros(taps),
        np.zeros(most, np.int64),
        np.zeros(most),
        np.zeros(most),
        np.zeros(most),
        np.zeros((most, most)),
        np.zeros((most, most)),
        np.zeros((most, taps)),
        np.zeros((most, taps)),
        np.zeros(most),
        np.zeros(most),
        np.zeros(most),
        np.zeros(4),
        np.zeros(most),
        np.zeros(most),
        np.zeros(most),
        np.zeros((3, taps)),
        np.zeros((3, swings)),
        np.zeros((3, taps)),
    )


@loosely
def put(
    table: Table, lens: Lens, room: Stand, v: int, own: tuple[float, float, float],
    count: int, row: int,
) -> None:  # fmt: skip
    """Put thing v (alpha, emf and swing: `own`) in after `count` others, and take what it does off the
    readings in a `row`, -1 for none."""
    thing, part, flow, swing = room.thing, room.part, room.flow, room.swing
    lower, upper, near, far, grown = room.lower, room.upper, room.near, room.far, room.grown
    left = table.own[v] + own[0]
    drive, volt = table.drive[v, 0] - own[1], table.drive[v, 1] - own[2]
    # Transfers are as exact as the network's larger conductances allow, a siemens or an ohm at least.
    largest = max(1.0, abs(left))
    for i in range(count):
        far[i], near[i] = table.z[thing[i], v], table.turned[thing[i], v]
    for j in range(count):
        u, b = far[j], near[j]
        for i in range(j + 1, count):
            far[i] -= lower[j, i] * u
            near[i] -= upper[j, i] * b
        left -= b * u * part[j]
        drive -= b * flow[j]
        volt -= b * swing[j]
        upper[j, count], lower[j, count] = u * part[j], b * part[j]
        largest = max(largest, abs(left))
    thing[count], part[count] = v, 1.0 / left
    flow[count], swing[count] = drive / left, volt / left
    grown[count] = largest / abs(left)
    room.left[0], room.left[1], room.left[2], room.left[3] = left, drive, volt, largest
    effect, reach = room.effect, room.reach
    for f in range(effect.shape[1]):
        effect[count, f], reach[count, f] = lens.taken[v, f], lens.reach[v, f]
    for each, factor in ((effect, upper), (reach, lower)):
        four = count // 4 * 4
        for j in range(0, four, 4):
            p, q = factor[j, count], factor[j + 1, count]
            r, s = factor[j + 2, count], factor[j + 3, count]
            for f in range(effect.shape[1]):
                each[count, f] -= (p * each[j, f] + q * each[j + 1, f]) + (
                    r * each[j + 2, f] + s * each[j + 3, f]
                )
        for j in range(four, count):
            p = factor[j, count]
            for f in range(effect.shape[1]):
                each[count, f] -= p * each[j, f]
    if row < 0:
        return
    scale = part[count]
    for f in range(effect.shape[1]):
        room.open_[row, f] -= flow[count] * effect[count, f]
        room.ohm[row, f] -= scale * effect[count, f] * reach[count, f]
    if room.volt.shape[1]:
        for f in range(effect.shape[1]):
            room.volt[row, f] -= swing[count] * effect[count, f]


@loosely
def dead(ends: Ends, room: Stand, many: int) -> bool:
    """Opens among the things put in that leave a piece of wire on its leak alone: nothing feeds it, so
    it is dead, and what stands across the open is what makes it so. False where the digits of
    some current are gone and this does not say where they went."""
    end, flow, moved = room.end, room.mended, room.moved
    for i in range(many):
        flow[i] = room.flow[i]
    sure, still = True, True
    for _ in range(SWEEPS):
        sure, still = True, True
        for h in range(many):
            if not room.grown[h] > WORN:
                continue
            # What comes after goes along, and may be what feeds the piece: then nothing is lost.
            for i in range(h, many):
                moved[i] = 0.0
                for j in range(h, i):
                    moved[i] -= room.lower[j, i] / room.part[j] * moved[j]
                moved[i] = 1.0 if i == h else moved[i] * room.part[i]
            v, off, most, found = room.thing[h], 0.0, 0.0, False
            for at in (ends.top[v], ends.bottom[v]):
                if at < 0:
                    continue
                volts, reach = ends.x[at], 0.0
                for i in range(many):
                    end[i] = ends.full[at, room.thing[i]]
                    for j in range(i):
                        end[i] -= room.upper[j, i] * end[j]
                    volts -= flow[i] * end[i]
                    reach += moved[i] * end[i] if i >= h else 0.0
                if abs(reach) > 0.1 and (abs(volts) > most or not found):
                    found, most, off = True, abs(volts), volts / reach
            if found and abs(off) < NOISE * room.grown[h] * max(1.0, abs(flow[h])):
                still &= most < DEAD
                for i in range(h, many):
                    flow[i] += off * moved[i]
            elif (found or ends.top[v] < -1) and not room.grown[h] < LOST:
                sure = False
        if still:
            break
    for i in range(many):
        off = flow[i] - room.flow[i]
        if off != 0.0:
            for f in range(room.effect.shape[1]):
                room.open_[2, f] -= off * room.effect[i, f]
    return sure and still


@loosely
def read(
    table: Table,
    cond: Conditions,
    lens: Lens,
    ends: Ends,
    d: Defective,
    room: Stand,
    patterns: States,
    first: Ints,
    second: Ints,
    stands: Ints,
    open_: Floats,
    volt: Floats,
    ohm: Floats,
    lost: Flags,
) -> None:
    """Read taps under pairs (n,) at rest, sorted by the pattern each `stands` in, those with one
    hypothesis in common side by side: (n, f). `volt` may have no rows; `lost` (n,): not to be trusted."""
    turns, taps = len(table.there), open_.shape[1]
    leads = len(d.begin) - 2
    there, live, swings = room.there, room.live, len(volt) > 0
    grown, effect, reach = room.grown, room.effect, room.reach
    pattern, lead, count, many, last, worn = -1, -1, 0, 0, -1, False
    own, drive, more, largest = 0.0, 0.0, 0.0, 0.0
    for n in range(len(first)):
        if stands[n] != pattern:
            pattern, lead, count = stands[n], -1, 0
            for f in range(taps):
                room.open_[0, f], room.ohm[0, f] = lens.level[f], lens.bare[f]
            for f in range(room.volt.shape[1]):
                room.volt[0, f] = lens.swing[f]
            for e in range(d.begin[leads], d.begin[leads + 1]):
                put(table, lens, room, d.vector[e], (d.alpha[e], d.emf[e], 0.0), count, 0)
                count += 1
            for t in range(turns):
                flag = True
                for c in range(cond.begin[t], cond.begin[t + 1]):
                    flag &= (cond.mask[c] >> patterns[pattern, cond.state[c]]) & 1 == 1
                there[t] = flag
                if flag != table.there[t]:
                    v = len(table.z) - turns + t
                    put(
                        table,
                        lens,
                        room,
                        v,
                        (table.alpha[t], table.emf[t], table.swing[t]),
                        count,
                        0,
                    )
                    count += 1
            for f in range(taps):
                live[f] = 1.0 if lens.turn[f] < 0 or there[lens.turn[f]] else 0.0
        a, b = first[n], second[n]
        if lead not in (a, b):
            # The one that the next pair has as well.
            same = n + 1 < len(first) and stands[n + 1] == pattern
            lead, last = b if same and b in (first[n + 1], second[n + 1]) else a, -1
            copied(room, 0, 1)
            many = count
            for e in range(d.begin[lead], d.begin[lead + 1]):
                v = d.vector[e]
                if d.turn[v] < 0 or there[d.turn[v]]:
                    put(table, lens, room, v, (d.alpha[e], d.emf[e], 0.0), many, 1)
                    many += 1
            worn = False
            for i in range(many):
                worn |= not grown[i] < WORN
        other, every = a + b - lead, many
        v = d.vector[d.begin[other]]
        if d.begin[other + 1] > d.begin[other] + 1 or (d.turn[v] >= 0 and not there[d.turn[v]]):
            copied(room, 1, 2)
            for e in range(d.begin[other], d.begin[other + 1]):
                v = d.vector[e]
                if d.turn[v] < 0 or there[d.turn[v]]:
                    put(table, lens, room, v, (d.alpha[e], d.emf[e], 0.0), every, 2)
                    every += 1
            last = -1
            for f in range(taps):
                open_[n, f], ohm[n, f] = room.open_[2, f] * live[f], room.ohm[2, f]
            if swings:
                for f in range(taps):
                    volt[n, f] = room.volt[2, f] * live[f]
        else:
            if v != last:  # severities of one defect stand side by side
                put(table, lens, room, v, (0.0, 0.0, 0.0), many, -1)
                last, own, drive, more, largest = (
                    v, room.left[0], room.left[1], room.left[2], room.left[3],
                )  # fmt: skip
            part = 1.0 / (own + d.alone[other])
            y = (drive - d.lift[other]) * part
            room.flow[many], room.swing[many], room.part[many] = y, more * part, part
            grown[many], every = largest * abs(part), many + 1
            for f in range(taps):
                open_[n, f] = (room.open_[1, f] - y * effect[many, f]) * live[f]
                ohm[n, f] = room.ohm[1, f] - part * effect[many, f] * reach[many, f]
            if swings:
                for f in range(taps):
                    volt[n, f] = (room.volt[1, f] - more * part * effect[many, f]) * live[f]
        doubt = worn
        for i in range(many, every):
            doubt |= not grown[i] < WORN
        lost[n] = False
        if doubt:
            for f in range(taps):
                room.open_[2, f] = 0.0
            lost[n] = not dead(ends, room, every)
            for f in range(taps):
                open_[n, f] += room.open_[2, f] * live[f]


@loosely
def copied(room: Stand, row: int, to: int) -> None:
    """Go on from a row of readings."""
    for f in range(room.open_.shape[1]):
        room.open_[to, f], room.ohm[to, f] = room.open_[row, f], room.ohm[row, f]
    for f in range(room.volt.shape[1]):
        room.volt[to, f] = room.volt[row, f]


@loosely
def show(open_: Floats, ohm: Floats, meter: Floats, ohms: Flags, result: Floats) -> None:
    """What instruments of `meter` (f,) ohm show of unloaded readings (n, f) seen through `ohm` (n, f)."""
    for n in range(len(open_)):
        for f in range(len(meter)):
            load = 1.0 + max(ohm[n, f], 0.0) * meter[f]
            result[n, f] = ohm[n, f] if ohms[f] else open_[n, f] / load


@loosely
def show_both(
    open_: Floats, ohm: Floats, one: Floats, two: Floats, first: Floats, second: Floats
) -> None:
    """The same of two meters that load, by one division for both: it takes longest."""
    for n in range(len(open_)):
        for f in range(len(one)):
            source = max(ohm[n, f], 0.0)
            a, b = 1.0 + source * one[f], 1.0 + source * two[f]
            each = open_[n, f] / (a * b)
            first[n, f], second[n, f] = each * b, each * a
