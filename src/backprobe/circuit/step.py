"""Compiled: one round of the walk, every hypothesis in the pattern of states it stands in. Only the
amounts that limits watch are looked at."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import compiled, inner
from backprobe.circuit.factor import Exact
from backprobe.circuit.moves import Rules, close_call, moved_on, reaching, spared
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.refine import Room, prepare, refine, room_for
from backprobe.circuit.small import Bench, Vectors, bench, put_in, take_out

UNSURE = 2
"""Verdict on a hypothesis whose digits do not suffice; 1 moved, 0 rests."""
CROWD = 64
"""Hypotheses in a pattern from which it is told by a bound who moves as the healthy machine does
(measured): of each, the currents of its ports and what they do at most."""
NEARLY = 0.999


class Frame(NamedTuple):
    """A reference pattern: its equations, columns of the inverse `laid` down as rows (c, N),
    `x` (N, 2); `watch` (N, K) what a
    unit fed into an equation does to what limits watch, `level` (K,) what they watch; `there` its
    turns, and a port for each of them."""

    exact: Exact
    laid: Floats
    x: Floats
    watch: Floats
    level: Floats
    there: Flags
    turns: Vectors


class Crowd(NamedTuple):
    """Hypotheses: who owns which ports (circuit.ports.Cases), the turn each port touches or -1, and
    whether it has nothing else (Turns.touched)."""

    start: Ints
    ports: Ints
    own: Vectors
    touches: Ints
    alone: Flags


class Care(NamedTuple):
    """Digits: the share of its own transfer from which a port `reads` well whatever it sees, from which
    it `sees` what is not near to a limit (`close`), and the `least` that refining mends, if it is to
    `mend`."""

    mend: bool
    least: float
    sees: float
    reads: float
    close: float


class Calm(NamedTuple):
    """A bound on what moves in a pattern: one over what every amount may change by before something
    else is due, `spare` (K,); how far a unit fed into an equation (N,), or a turn's (d,), goes of
    that, `reach` (below zero: not asked yet) and `sway`."""

    spare: Floats
    reach: Floats
    sway: Floats


@compiled
def step(
    frame: Frame,
    rules: Rules,
    crowd: Crowd,
    care: Care,
    order: Ints,
    label: Ints,
    present: Flags,
    states: States,
    share: Floats,
    verdict: States,
) -> None:
    """One round for the hypotheses `order` (n,), sorted by the pattern `label` (n,) they stand in,
    whose turns are `present` (p, turns). Moves `states` (H, S) on, fills in the least `share`
    (H,) of its own transfer that a port is left with and the `verdict` (H,)."""
    turns, many = len(frame.there), len(rules.state)
    widest, most = 1, 1
    for h in order:
        widest = max(widest, crowd.start[h + 1] - crowd.start[h])
    for p in range(len(present)):
        count = 0
        for t in range(turns):
            if present[p, t] != frame.there[t]:
                count += 1
        most = max(most, count)
    work = bench(most, widest)
    fine = room_for(len(frame.x), most + widest, 1)
    away, room, active = (
        np.empty(turns, np.int64),
        np.empty(widest, np.int64),
        np.empty(many, np.int64),
    )
    amount, level, watched = np.empty(many), np.empty(many), np.empty((most, many))
    strain = np.empty(many)
    calm = Calm(np.empty(many), np.empty(len(frame.x)), np.empty(most))
    alike, after, moves = False, np.empty(states.shape[1], np.int8), 0
    turned, there = away[:0], frame.there
    least, awake = 1.0, 0
    for n in range(len(order)):
        h = order[n]
        if n == 0 or label[n] != label[n - 1]:
            there, count = present[label[n]], 0
            for t in range(turns):
                if there[t] != frame.there[t]:
                    away[count] = t
                    count += 1
            turned, awake = away[:count], 0
            for k in range(many):
                if states[h, rules.state[k]] == rules.leaves[k]:
                    active[awake] = k
                    awake += 1
            least = take_out(frame.laid, frame.x, frame.turns, turned, work)
            for a in range(awake):
                level[a] = frame.level[active[a]]
            for i in range(count):
                for a in range(awake):
                    watched[i, a] = 0.0
                take_off(watched[i], -1.0, frame, frame.turns, turned[i], active, awake)
                for a in range(awake):
                    level[a] -= work.flow[i, 0] * watched[i, a]
            for a in range(awake):  # an absent branch carries nothing, to the last digit
                t = rules.watched[active[a]]
                if t >= 0 and not there[t]:
                    level[a] = 0.0
            alike = n + CROWD <= len(order) and label[n + CROWD - 1] == label[n]
            alike = alike and spared(level, rules, active, awake, there, calm.spare)
            if alike:
                for w in range(len(after)):
                    after[w] = states[h, w]
                moves = moved_on(level, rules, active, awake, after)
                for w in range(len(calm.reach)):
                    calm.reach[w] = -1.0
                for i in range(count):
                    calm.sway[i] = 0.0
                    for a in range(awake):
                        calm.sway[i] = max(calm.sway[i], abs(watched[i, a]) * calm.spare[a])
        own, strange, ports = 0, False, room[:0]
        for c in range(crowd.start[h], crowd.start[h + 1]):
            p = crowd.ports[c]
            if p < 0:
                continue
            t = crowd.touches[p]
            if t >= 0 and not there[t] and crowd.alone[p]:
                continue
            if t >= 0 and there[t] and not frame.there[t]:
                strange = True
            room[own] = p
            own += 1
        left = whole = least
        if own and not strange:
            ports = room[:own]
            left, whole = put_in(
                frame.laid, frame.x, frame.turns, turned, crowd.own, ports, work, least
            )
            left = min(left, least)
        if (
            alike
            and not strange
            and whole >= care.reads
            and swayed(frame, crowd.own, ports, len(turned), work, calm, active, awake) < NEARLY
        ):
            share[h], verdict[h] = left, moves
            for w in range(len(after) if moves else 0):
                states[h, w] = after[w]
            continue
        for a in range(awake):
            amount[a] = level[a]
        if own and not strange:
            for i in range(own):
                take_off(amount, work.current[i, 0], frame, crowd.own, ports[i], active, awake)
            for d in range(len(turned)):
                back = 0.0
                for i in range(own):
                    back += work.through[d, i] * work.current[i, 0]
                for a in range(awake):
                    amount[a] += back * watched[d, a]
        lost = not whole >= care.reads
        if lost and whole >= care.sees:
            strained(strain, watched, frame, crowd.own, ports, len(turned), work, active, awake)
            lost = close_call(amount, strain, rules, active, awake, there, care.close / whole)
        share[h], verdict[h] = (0.0 if strange or not left >= 0.0 else left), UNSURE
        if strange or not left >= care.least or (lost and not care.mend):
            continue
        if lost:
            again(frame, crowd.own, ports, turned, fine, left)
            for a in range(awake):
                k = active[a]
                amount[a] = 0.0
                for w in range(2):
                    amount[a] += rules.value[k, w] * fine.x[rules.at[k, w], 0]
        for a in range(awake):  # an absent branch carries nothing, to the last digit
            t = rules.watched[active[a]]
            if t >= 0 and not there[t]:
                amount[a] = 0.0
        verdict[h] = moved_on(amount, rules, active, awake, states[h])


@inner
def swayed(
    frame: Frame,
    of: Vectors,
    ports: Ints,
    turns: int,
    work: Bench,
    calm: Calm,
    active: Ints,
    awake: int,
) -> float:
    """How far at most ports that were put in go of what some amount may change by."""
    total = 0.0
    for i in range(len(ports)):
        p = ports[i]
        for b in range(of.rights[p]):
            n = of.right_at[p, b]
            if calm.reach[n] < 0.0:
                calm.reach[n] = reaching(frame.watch[n], calm.spare, active, awake)
            total += abs(of.right[p, b] * work.current[i, 0]) * calm.reach[n]
    for d in range(turns):
        back = 0.0
        for i in range(len(ports)):
            back += work.through[d, i] * work.current[i, 0]
        total += abs(back) * calm.sway[d]
    return total


@inner
def strained(
    strain: Floats,
    watched: Floats,
    frame: Frame,
    of: Vectors,
    ports: Ints,
    turns: int,
    work: Bench,
    active: Ints,
    awake: int,
) -> None:
    """How much is added to or taken off what awake limits watch, signs left out."""
    for a in range(awake):
        strain[a] = abs(frame.level[active[a]])
    for i in range(len(ports)):
        for b in range(of.rights[ports[i]]):
            watch = frame.watch[of.right_at[ports[i], b]]
            feed = abs(of.right[ports[i], b] * work.current[i, 0])
            for a in range(awake):
                strain[a] += feed * abs(watch[active[a]])
    for d in range(turns):
        flow = abs(work.flow[d, 0])
        for i in range(len(ports)):
            flow += abs(work.through[d, i] * work.current[i, 0])
        for a in range(awake):
            strain[a] += flow * abs(watched[d, a])


@inner
def again(frame: Frame, own: Vectors, ports: Ints, turned: Ints, fine: Room, left: float) -> None:
    """A hypothesis' solution to full precision, in `fine`."""
    prepare(frame.laid, own, ports, frame.turns, turned, fine)
    for n in range(len(frame.x)):
        fine.start[n, 0] = frame.x[n, 0]
        fine.right[n, 0] = frame.exact.right[0, n]
    fine.emf[0] = 1.0
    refine(frame.exact, frame.laid, own, ports, frame.turns, turned, fine, left)


@inner
def take_off(
    amount: Floats, amps: float, frame: Frame, of: Vectors, p: int, active: Ints, awake: int
) -> None:
    """Take what the amperes through a port do off what awake limits watch."""
    for b in range(of.rights[p]):
        watch, feed = frame.watch[of.right_at[p, b]], of.right[p, b] * amps
        for a in range(awake):
            amount[a] -= feed * watch[active[a]]
