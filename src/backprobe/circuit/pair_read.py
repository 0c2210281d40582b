"""Compiled: what taps read under pairs at rest, unloaded, and the resistance they see.

Things are put into the network one after the other (circuit.pair_put), with what they do to taps: port i
takes w_i y_i off what a tap reads and w_i q_i / p_i off the resistance it sees, q_i what a test current
at the tap drives through it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import loosely
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.pair_put import (
    Defective,
    Found,
    Made,
    Numbers,
    fetch,
    join,
    meet,
    row_of,
    stand,
    taken_off,
)
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


class Room(NamedTuple):
    """Room to work in. What is read while nothing is defect, with a first hypothesis, with both: rows of
    `open_`, `volt`, `ohm` (3, f); of a second one's ports what makes the resistance, `both` (f,). `now` (2,):
    the pattern put in and how many things that is; `end`, `mended`, `moved` (m,) for pieces that hang."""

    open_: Floats
    volt: Floats
    ohm: Floats
    both: Floats
    now: Ints
    end: Floats
    mended: Floats
    moved: Floats


def room_for(things: int, taps: int, swings: int) -> Room:
    """Room for so many; `swings`: as many as taps where the change per volt is asked for, or 0."""
    return Room(
        open_=np.zeros((3, taps)),
        volt=np.zeros((3, swings)),
        ohm=np.zeros((3, taps)),
        both=np.zeros(taps),
        now=np.full(2, -1),
        end=np.zeros(things),
        mended=np.zeros(things),
        moved=np.zeros(things),
    )


@loosely
def dead(ends: Ends, made: Made, room: Room, many: int) -> bool:
    """Opens among the things put in that leave a piece of wire on its leak alone: nothing feeds it, so
    it is dead, and what stands across the open is what makes it so. False where the digits of
    some current are gone and this does not say where they went."""
    end, flow, moved = room.end, room.mended, room.moved
    for i in range(many):
        flow[i] = made.flow[i]
    sure, still = True, True
    for _ in range(SWEEPS):
        sure, still = True, True
        for h in range(many):
            if not made.grown[h] > WORN:
                continue
            # What comes after goes along, and may be what feeds the piece: then nothing is lost.
            for i in range(h, many):
                moved[i] = 0.0
                for j in range(h, i):
                    moved[i] -= made.lower[i, j] / made.part[j] * moved[j]
                moved[i] = 1.0 if i == h else moved[i] * made.part[i]
            v, off, most, found = made.thing[h], 0.0, 0.0, False
            for at in (ends.top[v], ends.bottom[v]):
                if at < 0:
                    continue
                volts, reach = ends.x[at], 0.0
                for i in range(many):
                    end[i] = ends.full[at, made.thing[i]]
                    for j in range(i):
                        end[i] -= made.upper[i, j] * end[j]
                    volts -= flow[i] * end[i]
                    reach += moved[i] * end[i] if i >= h else 0.0
                if abs(reach) > 0.1 and (abs(volts) > most or not found):
                    found, most, off = True, abs(volts), volts / reach
            if found and abs(off) < NOISE * made.grown[h] * max(1.0, abs(flow[h])):
                still &= most < DEAD
                for i in range(h, many):
                    flow[i] += off * moved[i]
            elif (found or ends.top[v] < -1) and not made.grown[h] < LOST:
                sure = False
        if still:
            break
    for i in range(many):
        off = flow[i] - made.flow[i]
        if off != 0.0:
            for f in range(made.effect.shape[1]):
                room.open_[2, f] -= off * made.effect[i, f]
    return sure and still


@loosely
def go_on(made: Made, room: Room, row: int, to: int, first: int, many: int) -> None:
    """From a row of readings to one with things first:many as well."""
    open_, ohm, volt = room.open_, room.ohm, room.volt
    for f in range(open_.shape[1]):
        open_[to, f], ohm[to, f] = open_[row, f], ohm[row, f]
    for f in range(volt.shape[1]):
        volt[to, f] = volt[row, f]
    for i in range(first, many):
        flow, swing, part = made.flow[i], made.swing[i], made.part[i]
        for f in range(open_.shape[1]):
            open_[to, f] -= flow * made.effect[i, f]
            ohm[to, f] -= part * made.effect[i, f] * made.reach[i, f]
        for f in range(volt.shape[1]):
            volt[to, f] -= swing * made.effect[i, f]


@loosely
def stand_for(
    table: Table, cond: Conditions, lens: Lens, d: Defective, made: Made, room: Room, states: States
) -> int:
    """Put leads and a pattern's turns in, and read with them; how many there are."""
    count = stand(table, cond, d, lens.taken, lens.reach, made, states, False)
    for f in range(len(lens.level)):
        room.open_[0, f], room.ohm[0, f] = lens.level[f], lens.bare[f]
        made.live[f] = 1.0 if lens.turn[f] < 0 or made.there[lens.turn[f]] else 0.0
    for f in range(room.volt.shape[1]):
        room.volt[0, f] = lens.swing[f]
    go_on(made, room, 0, 0, 0, count)
    for f in range(len(lens.level)):
        room.open_[0, f] *= made.live[f]
    for f in range(room.volt.shape[1]):
        room.volt[0, f] *= made.live[f]
    return count


@loosely
def read(
    table: Table,
    cond: Conditions,
    lens: Lens,
    ends: Ends,
    d: Defective,
    made: Made,
    found: Found,
    room: Room,
    patterns: States,
    lead: Numbers,
    other: Numbers,
    stands: Numbers,
    open_: Floats,
    volt: Floats,
    ohm: Floats,
    lost: Flags,
    load: Floats,
    shown: Floats,
) -> None:
    """Read taps under pairs (n,) at rest, sorted by the pattern each `stands` in and by who leads:
    (n, f). `volt` may have no rows; `lost` (n,): not to be trusted. With one or two meters that `load`
    (., f) siemens only what they show, `shown` (n, ., f), is kept, and `open_`, `ohm` are one row to work in."""
    z, turned, thing, part, flow, swing = (
        table.z, table.turned, made.thing, made.part, made.flow, made.swing,
    )  # fmt: skip
    upper, lower, effect, reach, grown = made.upper, made.lower, made.effect, made.reach, made.grown
    seen, volts, seen_ohm, both, port = room.open_, room.volt, room.ohm, room.both, d.port
    taps, swings, by_meter, at = open_.shape[1], len(volt) > 0, len(load) > 0, 0
    alone = len(load) == 1
    pattern, count, h, many, last, worn = room.now[0], room.now[1], -1, 0, -1, False
    own, drive, more, largest, row = 0.0, 0.0, 0.0, 0.0, 0
    for n in range(len(lead)):
        if stands[n] != pattern:
            pattern, h = stands[n], -1
            found.now[0] += 1
            found.now[1] = 0
            count = stand_for(table, cond, lens, d, made, room, patterns[pattern])
            room.now[0], room.now[1] = pattern, count
        if lead[n] != h:
            h, last, worn = lead[n], -1, False
            many = join(table, d, lens.taken, lens.reach, made, h, count, False)
            go_on(made, room, 0, 1, count, many)
            for i in range(many):
                worn |= not grown[i] < WORN
        b = other[n]
        v, every, doubt, at = port[b], many + 1, worn, 0 if by_meter else n
        if d.begin[b + 1] > d.begin[b] + 1 or (d.turn[v] >= 0 and not made.there[d.turn[v]]):
            every, last = join(table, d, lens.taken, lens.reach, made, b, many, False), -1
            go_on(made, room, 1, 2, many, every)
            for f in range(taps):
                open_[at, f], ohm[at, f] = seen[2, f], seen_ohm[2, f]
            if swings:
                for f in range(taps):
                    volt[n, f] = volts[2, f]
            for i in range(many, every):
                doubt |= not grown[i] < WORN
        else:
            if v != last:  # severities of one defect stand side by side
                last, row = v, row_of(table, lens.taken, lens.reach, made, found, v, count)
                fetch(z, turned, thing, v, count, many, found.forth[row], found.back[row])
                own, drive, more, largest, _ = meet(
                    part, flow, swing, grown, upper, lower, count, many, found.forth[row], found.back[row], found.rest[row, 0], found.rest[row, 1], found.rest[row, 2],
                    found.rest[row, 3], 0.0,
                )  # fmt: skip
                taken_off(
                    effect[many], found.effect[row], found.forth[row], part, effect, count, many
                )
                taken_off(reach[many], found.reach[row], found.back[row], part, reach, count, many)
                for f in range(taps):
                    both[f] = effect[many, f] * reach[many, f]
            share = 1.0 / (own + d.alone[b])
            y = (drive - d.lift[b]) * share
            doubt |= not largest * abs(share) < WORN
            if by_meter and not doubt:
                if alone:
                    for f in range(taps):
                        source = max(seen_ohm[1, f] - share * both[f], 0.0)
                        each = seen[1, f] - y * effect[many, f]
                        shown[n, 0, f] = each / (1.0 + source * load[0, f])
                else:
                    for f in range(taps):
                        source = max(seen_ohm[1, f] - share * both[f], 0.0)
                        one, two = 1.0 + source * load[0, f], 1.0 + source * load[1, f]
                        each = (seen[1, f] - y * effect[many, f]) / (one * two)
                        shown[n, 0, f], shown[n, 1, f] = each * two, each * one
                lost[n] = False
                continue
            for f in range(taps):
                open_[at, f] = seen[1, f] - y * effect[many, f]
                ohm[at, f] = seen_ohm[1, f] - share * both[f]
            if swings:
                for f in range(taps):
                    volt[n, f] = volts[1, f] - more * share * effect[many, f]
            if doubt:
                thing[many], flow[many], part[many] = v, y, share
                grown[many] = largest * abs(share)
                for j in range(many):
                    upper[many, j] = found.forth[row, j] * part[j]
                    lower[many, j] = found.back[row, j] * part[j]
        lost[n] = False
        if doubt:
            for f in range(taps):
                seen[2, f] = 0.0
            lost[n] = not dead(ends, made, room, every)
            for f in range(taps):
                open_[at, f] += seen[2, f] * made.live[f]
        if by_meter:
            show_by(open_[at], ohm[at], load, shown[n])


@loosely
def show(open_: Floats, ohm: Floats, meter: Floats, ohms: Flags, result: Floats) -> None:
    """What instruments of `meter` (f,) ohm show of unloaded readings (n, f) seen through `ohm` (n, f)."""
    for n in range(len(open_)):
        for f in range(len(meter)):
            load = 1.0 + max(ohm[n, f], 0.0) * meter[f]
            result[n, f] = ohm[n, f] if ohms[f] else open_[n, f] / load


@loosely
def show_by(open_: Floats, ohm: Floats, load: Floats, shown: Floats) -> None:
    """The same (f,) of one or two meters that load by so many siemens (., f), by one division for both:
    it takes longest."""
    for f in range(len(open_)):
        source = max(ohm[f], 0.0)
        one, two = 1.0 + source * load[0, f], 1.0 + source * load[-1, f]
        each = open_[f] / (one * two)
        shown[0, f] = each * two
        shown[-1, f] = each * one
