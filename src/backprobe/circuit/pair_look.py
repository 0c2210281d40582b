"""Compiled: pairs of hypotheses looked at in full, each in the pattern of states it stands in.

The turns of a pattern, then the ports of a pair's first hypothesis, then the second's are put into the
network one after the other, as Gauss eliminates: with the ones before in it, port i has its own
transfer and drive left, and takes w_i off what is watched. A port v that comes after them finds

    u_i = z_iv - sum over j < i of z_ij u_j / p_j       b_i the same from v to i       p_v = z_vv + alpha - sum of b_i u_i / p_i

What comes first is shared by all pairs that have it. No inverse is made: where a piece hangs on
its leak the product of two inverses would lose all digits.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from backprobe.circuit.compiled import compiled, loosely
from backprobe.circuit.limits import QUICK
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.pair_table import Conditions, Table
from backprobe.circuit.patterns import Marks, Patterns, number_of

NEVER = 9
"""A pace slower than any."""
KEPT = 64
"""Ways out of a pattern that are remembered, by a hash of the moves they take."""


class Moves(NamedTuple):
    """What moves states (circuit.limits), each by one of what is `watched`, whose `size` (K,) may be
    what counts; `turn` (K,): the turn whose current that is, -1 for none."""

    state: Ints
    leaves: States
    to: States
    above: Floats
    below: Floats
    pace: Ints
    watched: Ints
    size: Flags
    turn: Ints


class Defective(NamedTuple):
    """Hypotheses: h owns the ports begin[h]:begin[h + 1] by `vector`, `alpha`, `emf`; those of the last
    one are leads fitted throughout. `turn` (V,): the turn a vector is the current of, without which
    it does nothing, -1 for none; `most` (1,) ports a hypothesis has. Of the first port of each (H,)
    `port`, `alone` and `lift`: vector, alpha and emf."""

    begin: Ints
    vector: Ints
    alpha: Floats
    emf: Floats
    turn: Ints
    most: Ints
    port: NDArray[np.uint32]
    alone: Floats
    lift: Floats


class Desk(NamedTuple):
    """Room to work in. `there` (turns,) in a pattern; of the things put in, in order: their number
    `thing`, `part` (m,) 1 / p, their `flow` (m,), `lower` and `upper` (m, m): z_ij / p_j and z_ji / p_j
    at [j, i], and what they take off what is watched, `effect` (m, K). What is watched while nothing is
    defect `level`, and with a first hypothesis `seen`; where that moves a state, `high` and `low`, and
    whether it can be read, `live` (K,); the moves that can be made, `active`, by what
    they watch from its `head` (K,) on, each of which `follows` another; those `due`, and where the last ones `led`."""

    there: Flags
    thing: Ints
    part: Floats
    flow: Floats
    lower: Floats
    upper: Floats
    effect: Floats
    active: Ints
    level: Floats
    seen: Floats
    high: Floats
    low: Floats
    live: Floats
    sign: Floats
    amount: Floats
    taken: Floats
    over: Flags
    eight: Marks
    head: Ints
    follows: Ints
    due: Ints
    pace: Ints
    keys: Marks
    led: Ints
    near: Floats
    far: Floats
    after: States


@compiled
def desk_for(turns: int, ports: int, moves: int, watches: int, states: int) -> Desk:
    """Room for so many."""
    most, over = turns + ports, np.zeros((watches + 7) // 8 * 8, np.bool_)
    return Desk(
        np.zeros(turns, np.bool_),
        np.zeros(most, np.int64),
        np.zeros(most),
        np.zeros(most),
        np.zeros((most, most)),
        np.zeros((most, most)),
        np.zeros((most, watches)),
        np.zeros(moves, np.int64),
        np.zeros(watches),
        np.zeros(watches),
        np.zeros(watches),
        np.zeros(watches),
        np.zeros(watches),
        np.zeros(watches),
        np.zeros(watches),
        np.zeros(watches),
        over,
        over.view(np.uint64),
        np.zeros(watches, np.int64),
        np.zeros(moves, np.int64),
        np.zeros(moves, np.int64),
        np.zeros(moves, np.int64),
        np.zeros(KEPT, np.uint64),
        np.zeros(KEPT, np.int64),
        np.zeros(most),
        np.zeros(most),
        np.zeros(states, np.int8),
    )


@loosely
def stand(
    table: Table, cond: Conditions, moves: Moves, d: Defective, states: States, desk: Desk
) -> tuple[int, int]:
    """Put leads and a pattern's turns in. How many there are, and how many moves can be made."""
    turns, first, count = len(table.there), len(table.z) - len(table.there), 0
    leads = len(d.begin) - 2
    there, level, high, low, live = desk.there, desk.level, desk.high, desk.low, desk.live
    for k in range(len(level)):
        level[k], high[k], low[k] = table.level[k], np.inf, -np.inf
        desk.head[k] = -1
    for e in range(d.begin[leads], d.begin[leads + 1]):
        v = d.vector[e]
        put_in(
            table.z, table.turned, table.own, table.watch, v, d.alpha[e], table.drive[v, 0] - d.emf[e], count,
            desk.thing, desk.part, desk.flow, desk.lower, desk.upper, desk.effect, desk.near, desk.far,
            level,
        )  # fmt: skip
        count += 1
    for t in range(turns):
        flag = True
        for c in range(cond.begin[t], cond.begin[t + 1]):
            flag &= (cond.mask[c] >> states[cond.state[c]]) & 1 == 1
        there[t] = flag
        if flag != table.there[t]:
            put_in(
                table.z, table.turned, table.own, table.watch, first + t, table.alpha[t],
                table.drive[first + t, 0] - table.emf[t], count, desk.thing, desk.part, desk.flow,
                desk.lower, desk.upper, desk.effect, desk.near, desk.far, level,
            )  # fmt: skip
            count += 1
    awake = 0
    head, follows = desk.head, desk.follows
    for m in range(len(moves.state) - 1, -1, -1):
        if states[moves.state[m]] == moves.leaves[m]:
            k = moves.watched[m]
            high[k], low[k] = min(high[k], moves.above[m]), max(low[k], moves.below[m])
            head[k], follows[m] = m, head[k]
            desk.active[awake] = m
            awake += 1
    for k in range(len(level)):
        desk.sign[k] = -1.0 if moves.size[k] else 1.0
        # An absent branch carries nothing, to the last digit.
        live[k] = 1.0 if moves.turn[k] < 0 or there[moves.turn[k]] else 0.0
        level[k] *= live[k]
    return count, awake


@loosely
def put_in(
    z: Floats,
    turned: Floats,
    own: Floats,
    watch: Floats,
    v: int,
    alpha: float,
    drive: float,
    count: int,
    thing: Ints,
    part: Floats,
    flow: Floats,
    lower: Floats,
    upper: Floats,
    effect: Floats,
    near: Floats,
    far: Floats,
    seen: Floats,
) -> None:
    """Put thing v in after `count` others."""
    left = own[v] + alpha
    for i in range(count):
        far[i], near[i] = z[thing[i], v], turned[thing[i], v]
    for j in range(count):
        u, b = far[j], near[j]
        for i in range(j + 1, count):
            far[i] -= lower[j, i] * u
            near[i] -= upper[j, i] * b
        left -= b * u * part[j]
        drive -= b * flow[j]
        upper[j, count], lower[j, count] = u * part[j], b * part[j]
    thing[count], part[count], flow[count] = v, 1.0 / left, drive / left
    for k in range(len(seen)):
        effect[count, k] = watch[v, k]
    four = count // 4 * 4
    for j in range(0, four, 4):
        p, q, r, s = (
            upper[j, count], upper[j + 1, count], upper[j + 2, count], upper[j + 3, count],
        )  # fmt: skip
        for k in range(len(seen)):
            effect[count, k] -= (p * effect[j, k] + q * effect[j + 1, k]) + (
                r * effect[j + 2, k] + s * effect[j + 3, k]
            )
    for j in range(four, count):
        p = upper[j, count]
        for k in range(len(seen)):
            effect[count, k] -= p * effect[j, k]
    current = flow[count]
    for k in range(len(seen)):
        seen[k] -= current * effect[count, k]


@loosely
def join(table: Table, d: Defective, h: int, count: int, desk: Desk) -> int:
    """Put a hypothesis' ports in after `count` others; how many there are then."""
    for e in range(d.begin[h], d.begin[h + 1]):
        v = d.vector[e]
        if d.turn[v] < 0 or desk.there[d.turn[v]]:
            put_in(
                table.z, table.turned, table.own, table.watch, v, d.alpha[e], table.drive[v, 0] - d.emf[e],
                count, desk.thing, desk.part, desk.flow, desk.lower, desk.upper, desk.effect,
                desk.near, desk.far, desk.seen,
            )  # fmt: skip
            count += 1
    return count


@loosely
def look(
    table: Table,
    cond: Conditions,
    moves: Moves,
    known: Patterns,
    d: Defective,
    desk: Desk,
    one: Ints,
    two: Ints,
    stands: Ints,
    goes: Ints,
    first: int,
) -> int:
    """Where pairs (n,) go next, -1 for stay. `two`: -1 for nobody; `stands` (n,): the pattern
    of each, sorted. From `first` on, as far as there is room for new patterns."""
    z, turned, watch, drives = table.z, table.turned, table.watch, table.drive
    diagonal = table.own
    there, thing, part, flow = desk.there, desk.thing, desk.part, desk.flow
    lower, upper, effect, near, far = desk.lower, desk.upper, desk.effect, desk.near, desk.far
    level, seen, high, low, live, sign = (
        desk.level, desk.seen, desk.high, desk.low, desk.live, desk.sign,
    )  # fmt: skip
    amount, taken, over, due = desk.amount, desk.taken, desk.over, desk.due
    eight = desk.eight
    pace, after = desk.pace, desk.after
    head, follows, keys, led = desk.head, desk.follows, desk.keys, desk.led
    state, to, above, below = moves.state, moves.to, moves.above, moves.below
    speed, watched = moves.pace, moves.watched
    begin, turn, port, alone, lift = d.begin, d.turn, d.port, d.alone, d.lift
    every, marks, mark = known.states, known.hash, known.mark
    slot, met = known.slot, known.met
    pattern, lead, count, many, last, drive, left = -1, -2, 0, 0, -1, 0.0, 0.0
    for n in range(first, len(one)):
        if met[0] == len(every):
            return n
        if stands[n] != pattern:
            pattern, lead = stands[n], -2
            for kept in range(KEPT):
                led[kept] = -1
            count, _ = stand(table, cond, moves, d, every[pattern], desk)
        if one[n] != lead:
            lead = one[n]
            for k in range(len(seen)):
                seen[k] = level[k]
            many, last = join(table, d, lead, count, desk), -1
        second = two[n]
        if second >= 0 and begin[second + 1] > begin[second] + 1:
            join(table, d, second, many, desk)
            lead = -2
            for k in range(len(seen)):
                amount[k] = seen[k]
        elif second < 0:
            for k in range(len(seen)):
                amount[k] = seen[k]
        else:
            v = port[second]
            if v != last:  # severities of one defect stand side by side
                last, drive, left = v, drives[v, 0], diagonal[v]
                for i in range(many):
                    far[i], near[i] = z[thing[i], v], turned[thing[i], v]
                for j in range(many):
                    u, b = far[j], near[j]
                    for i in range(j + 1, many):
                        far[i] -= lower[j, i] * u
                        near[i] -= upper[j, i] * b
                    far[j] = u * part[j]
                    left -= b * far[j]
                    drive -= b * flow[j]
                for k in range(len(taken)):
                    taken[k] = watch[v, k]
                four = many // 4 * 4
                for i in range(0, four, 4):
                    p, q, r, s = far[i], far[i + 1], far[i + 2], far[i + 3]
                    for k in range(len(taken)):
                        taken[k] -= (p * effect[i, k] + q * effect[i + 1, k]) + (
                            r * effect[i + 2, k] + s * effect[i + 3, k]
                        )
                for i in range(four, many):
                    p = far[i]
                    for k in range(len(taken)):
                        taken[k] -= p * effect[i, k]
            y = (drive - lift[second]) / (left + alone[second])
            if turn[v] >= 0 and not there[turn[v]]:
                y = 0.0
            for k in range(len(seen)):
                amount[k] = seen[k] - y * taken[k]
        broken = 0
        for k in range(len(amount)):
            amount[k] *= live[k]
            size = max(amount[k], amount[k] * sign[k])
            over[k] = (size > high[k]) | (size < low[k])
            broken += over[k]
        goes[n] = -1
        if broken:
            some = moves_due(
                amount, sign, over, eight, head, follows, above, below, speed, due, pace
            )
            first_due, worst = pace_due(amount, sign, above, watched, due, pace, some)
            if some:
                new = marks[pattern]
                for a in range(some):
                    m = due[a]
                    if pace[a] == first_due and (a == worst or first_due not in (1, 3)):
                        new ^= mark[state[m], every[pattern, state[m]]] ^ mark[state[m], to[m]]
                    else:
                        due[a] = -1
                kept = int(new & np.uint64(KEPT - 1))
                if keys[kept] != new or led[kept] < 0:
                    keys[kept] = new
                    led[kept] = entered(
                        every, marks, mark, slot, met, pattern, due[:some], state, to, after
                    )
                goes[n] = led[kept]
    return len(one)


@loosely
def entered(
    every: States,
    marks: Marks,
    mark: Marks,
    slot: Ints,
    met: Ints,
    pattern: int,
    due: Ints,
    state: Ints,
    to: States,
    after: States,
) -> int:
    """The number of the pattern that moves lead to; -1 among those `due` is none."""
    new = marks[pattern]
    for s in range(len(after)):
        after[s] = every[pattern, s]
    for m in due:
        if m >= 0:
            new ^= mark[state[m], after[state[m]]] ^ mark[state[m], to[m]]
            after[state[m]] = to[m]
    return number_of(every, marks, slot, met, after, new)


@loosely
def moves_due(
    amount: Floats,
    sign: Floats,
    over: Flags,
    eight: Marks,
    head: Ints,
    follows: Ints,
    above: Floats,
    below: Floats,
    speed: Ints,
    due: Ints,
    pace: Ints,
) -> int:
    """How many moves are beyond their limits; which, in order, in `due`, at which `pace`."""
    some, k = 0, -1
    while k + 1 < len(over):
        k += 1
        if k % 8 == 0 and eight[k // 8] == 0:  # none of eight
            k += 7
            continue
        if not over[k]:
            continue
        m, size = head[k], max(amount[k], amount[k] * sign[k])
        while m >= 0:
            if size > above[m] or size < below[m]:
                at = some
                while at > 0 and due[at - 1] > m:
                    due[at], pace[at] = due[at - 1], pace[at - 1]
                    at -= 1
                due[at] = m
                pace[at] = 3 if speed[m] == 1 and size < QUICK * above[m] else speed[m]
                some += 1
            m = follows[m]
    return some


@loosely
def pace_due(
    amount: Floats, sign: Floats, above: Floats, watched: Ints, due: Ints, pace: Ints, some: int
) -> tuple[int, int]:
    """The pace of the moves due first (as circuit.limits.due), and of two fuses the one furthest over,
    as a place in `due`."""
    first, over, worst = NEVER, -1.0, -1
    for a in range(some):
        if pace[a] <= first:
            k, most = watched[due[a]], above[due[a]]
            share = max(amount[k], amount[k] * sign[k]) / most
            if pace[a] < first or share > over:
                over, worst = share, a
            first = pace[a]
    return first, worst
