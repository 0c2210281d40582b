"""Compiled: one round of the walk, every hypothesis in the pattern of states it stands in. Only the
amounts that limits watch are looked at."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import compiled, inner, piece
from backprobe.circuit.factor import Exact
from backprobe.circuit.moves import Rules, close_call, moved_on, reaching, spared
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.refine import Room, prepare, refine, room_for
from backprobe.circuit.small import Bench, Vectors, bench, meet, put_in, take_out
from backprobe.circuit.small import alike as kin

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


class Desk(NamedTuple):
    """Room to work in: `fine` to refine in; the turns `away`, the ports in the `room` of a hypothesis,
    the limits that are `active`. Of these limits (a,) the amounts in a pattern, `level`, and under a
    hypothesis, `amount`; what turns do to them, `watched` (d, a), a port's ampere, `effect`, and what
    is added and taken off, `strain`; the states `after` a move."""

    work: Bench
    fine: Room
    away: Ints
    room: Ints
    active: Ints
    level: Floats
    amount: Floats
    watched: Floats
    effect: Floats
    strain: Floats
    calm: Calm
    after: States


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
    desk = Desk(
        bench(most, widest),
        room_for(len(frame.x), most + widest, 1),
        np.empty(turns, np.int64),
        np.empty(widest, np.int64),
        np.empty(many, np.int64),
        np.empty(many),
        np.empty(many),
        np.empty((most, many)),
        np.empty(many),
        np.empty(many),
        Calm(np.empty(many), np.empty(len(frame.x)), np.empty(most)),
        np.empty(states.shape[1], np.int8),
    )
    go(frame, rules, crowd, care, order, label, present, states, share, verdict, desk)


@inner
def go(
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
    desk: Desk,
) -> None:
    """step(), with room to work in. Severities of one defect stand side by side and are told from what
    their port does whatever its ohms: only what that is is found anew for each port."""
    work, fine, room, active, amount = desk.work, desk.fine, desk.room, desk.active, desk.amount
    level, watched, effect, strain, after = (
        desk.level, desk.watched, desk.effect, desk.strain, desk.after,
    )  # fmt: skip
    alike, moves, awake, count, least = False, 0, 0, 0, 1.0
    turned, there = desk.away[:0], frame.there
    last, sway, ready = -1, -1.0, False
    for n in range(len(order)):
        h = order[n]
        if n == 0 or label[n] != label[n - 1]:
            there = present[label[n]]
            count = put_aside(there, frame.there, desk.away)
            turned, awake, last = desk.away[:count], 0, -1
            for k in range(len(active)):
                if states[h, rules.state[k]] == rules.leaves[k]:
                    active[awake] = k
                    awake += 1
            least = take_out(frame.laid, frame.x, frame.turns, turned, work)
            levelled(frame, rules, turned, there, awake, desk)
            alike = n + CROWD <= len(order) and label[n + CROWD - 1] == label[n]
            alike = alike and spared(level, rules, active, awake, there, desk.calm.spare)
            if alike:
                for w in range(len(after)):
                    after[w] = states[h, w]
                moves = moved_on(level, rules, active, awake, after)
                calm_down(count, awake, desk)
        own = 0
        for c in range(crowd.start[h], crowd.start[h + 1]):
            p = crowd.ports[c]
            if p < 0:
                continue
            t = crowd.touches[p]
            if t >= 0 and not there[t] and crowd.alone[p]:
                continue
            room[own] = p
            own += 1
        left = whole = least
        ports = room[:own]
        if own:
            if own > 1 or last < 0 or not kin(crowd.own, last, ports[0]):
                meet(frame.laid, frame.x, frame.turns, turned, crowd.own, ports, work)
                sway, ready = -1.0, False
            last = ports[0] if own == 1 else -1
            left, whole = put_in(crowd.own, ports, work, least)
            left = min(left, least)
        if alike and whole >= care.reads:
            if own == 1:
                if sway < 0.0:
                    sway = swayed_by(frame, crowd.own, ports[0], count, awake, desk)
                far = abs(work.current[0, 0]) * sway
            else:
                far = swayed(frame, crowd.own, ports, count, awake, desk)
            if far < NEARLY:
                share[h], verdict[h] = left, moves
                for w in range(len(after) if moves else 0):
                    states[h, w] = after[w]
                continue
        if own == 1:
            if not ready:
                affected(frame, crowd.own, ports[0], count, awake, desk)
                ready = True
            for a in range(awake):
                amount[a] = level[a] - work.current[0, 0] * effect[a]
        else:
            changed(frame, crowd.own, ports, count, awake, desk)
        lost = not whole >= care.reads
        if lost and whole >= care.sees:
            strained(strain, watched, frame, crowd.own, ports, count, work, active, awake)
            lost = close_call(amount, strain, rules, active, awake, there, care.close / whole)
        share[h], verdict[h] = max(left, 0.0), UNSURE
        if not left >= care.least or (lost and not care.mend):
            continue
        if lost:
            again(frame, crowd.own, ports, turned, fine, left)
            for a in range(awake):
                k = active[a]
                amount[a] = 0.0
                for w in range(2):
                    amount[a] += rules.value[k, w] * fine.x[0, rules.at[k, w]]
        without(amount, rules, there, active, awake)
        verdict[h] = moved_on(amount, rules, active, awake, states[h])


@inner
def put_aside(there: Flags, usual: Flags, away: Ints) -> int:
    """The turns of a pattern that the reference does not have, or has besides; how many."""
    count = 0
    for t in range(len(there)):
        if there[t] != usual[t]:
            away[count] = t
            count += 1
    return count


@inner
def levelled(
    frame: Frame, rules: Rules, turned: Ints, there: Flags, awake: int, desk: Desk
) -> None:
    """What awake limits watch in a pattern, and what its turns do to that."""
    active, level = desk.active, desk.level
    for a in range(awake):
        level[a] = frame.level[active[a]]
    for i in range(len(turned)):
        for a in range(awake):
            desk.watched[i, a] = 0.0
        take_off(desk.watched[i], -1.0, frame, frame.turns, turned[i], active, awake)
        for a in range(awake):
            level[a] -= desk.work.flow[i, 0] * desk.watched[i, a]
    without(level, rules, there, active, awake)


@piece
def without(amount: Floats, rules: Rules, there: Flags, active: Ints, awake: int) -> None:
    """An absent branch carries nothing, to the last digit."""
    for a in range(awake):
        t = rules.watched[active[a]]
        if t >= 0 and not there[t]:
            amount[a] = 0.0


@piece
def affected(frame: Frame, own: Vectors, p: int, turns: int, awake: int, desk: Desk) -> None:
    """What an ampere through the only port takes off what awake limits watch."""
    effect, watched, through = desk.effect, desk.watched, desk.work.through
    for a in range(awake):
        effect[a] = 0.0
    take_off(effect, -1.0, frame, own, p, desk.active, awake)
    for d in range(turns):
        for a in range(awake):
            effect[a] -= through[d, 0] * watched[d, a]


@inner
def changed(frame: Frame, own: Vectors, ports: Ints, turns: int, awake: int, desk: Desk) -> None:
    """What awake limits watch with any number of ports put in."""
    amount, watched, work = desk.amount, desk.watched, desk.work
    for a in range(awake):
        amount[a] = desk.level[a]
    for i in range(len(ports)):
        take_off(amount, work.current[i, 0], frame, own, ports[i], desk.active, awake)
    for d in range(turns if len(ports) else 0):
        back = 0.0
        for i in range(len(ports)):
            back += work.through[d, i] * work.current[i, 0]
        for a in range(awake):
            amount[a] += back * watched[d, a]


@inner
def calm_down(turns: int, awake: int, desk: Desk) -> None:
    """Nobody has asked yet how far equations reach; how far turns do."""
    calm = desk.calm
    for w in range(len(calm.reach)):
        calm.reach[w] = -1.0
    for i in range(turns):
        calm.sway[i] = 0.0
        for a in range(awake):
            calm.sway[i] = max(calm.sway[i], abs(desk.watched[i, a]) * calm.spare[a])


@piece
def reached(frame: Frame, of: Vectors, p: int, amps: float, awake: int, desk: Desk) -> float:
    """How far at most amperes through a port go by themselves of what some amount may change by."""
    calm, total = desk.calm, 0.0
    for b in range(of.rights[p]):
        n = of.right_at[p, b]
        if calm.reach[n] < 0.0:
            calm.reach[n] = reaching(frame.watch[n], calm.spare, desk.active, awake)
        total += abs(of.right[p, b] * amps) * calm.reach[n]
    return total


@piece
def swayed_by(frame: Frame, of: Vectors, p: int, turns: int, awake: int, desk: Desk) -> float:
    """How far at most an ampere through the only port goes of what some amount may change by."""
    total: float = reached(frame, of, p, 1.0, awake, desk)
    for d in range(turns):
        total += abs(desk.work.through[d, 0]) * desk.calm.sway[d]
    return total


@inner
def swayed(frame: Frame, of: Vectors, ports: Ints, turns: int, awake: int, desk: Desk) -> float:
    """How far at most ports that were put in go of what some amount may change by."""
    total, work = 0.0, desk.work
    for i in range(len(ports)):
        total += reached(frame, of, ports[i], work.current[i, 0], awake, desk)
    for d in range(turns):
        back = 0.0
        for i in range(len(ports)):
            back += work.through[d, i] * work.current[i, 0]
        total += abs(back) * desk.calm.sway[d]
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
        fine.start[0, n] = frame.x[n, 0]
        fine.right[0, n] = frame.exact.right[0, n]
    fine.emf[0] = 1.0
    refine(frame.exact, frame.laid, own, ports, frame.turns, turned, fine, left)


@piece
def take_off(
    amount: Floats, amps: float, frame: Frame, of: Vectors, p: int, active: Ints, awake: int
) -> None:
    """Take what the amperes through a port do off what awake limits watch."""
    for b in range(of.rights[p]):
        watch, feed = frame.watch[of.right_at[p, b]], of.right[p, b] * amps
        for a in range(awake):
            amount[a] -= feed * watch[active[a]]
