"""Compiled: pairs of hypotheses looked at in full, each in the pattern of states it stands in.

Turns and ports are put in one after the other (circuit.pair_put). What moves next goes by which amounts
are beyond their limits: where that alone decides it, it is remembered for the pattern.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import compiled, loosely, soon, within
from backprobe.circuit.limits import QUICK
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.pair_put import (
    Defective,
    Found,
    Made,
    Numbers,
    fetch,
    gone,
    join,
    meet,
    row_of,
    stand,
    taken_off,
)
from backprobe.circuit.pair_table import Conditions, Table
from backprobe.circuit.patterns import Marks, Patterns, number_of

NEVER = 9
"""A pace slower than any."""
KEPT, SHIFT = 256, np.uint64(56)
"""Ways out of a pattern that are remembered, by a hash (its first bits) of what is beyond its limits."""
ODD = np.uint64(0x9E3779B97F4A7C15)
"""Spreads the bits of a number (Knuth's golden ratio)."""
DE_BRUIJN = np.uint64(0x03F79D71B4CB0A89)
"""A bit times this has a number of its own in the first six places (Leiserson, Prokop and Randall,
Using de Bruijn sequences to index a 1 in a computer word, MIT 1998; the number itself from memory)."""
PLACE = np.zeros(64, np.uint64)
PLACE[[(int(DE_BRUIJN) << k) % 2**64 >> 58 for k in range(64)]] = np.arange(64)


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


class Desk(NamedTuple):
    """Room to work in. What is watched while nothing is defect, `level`, and with a first
    hypothesis, `seen`; what a second one's current takes off it, `taken`, and with both, `amount`; where that moves
    a state, `high` and `low`; which are beyond, a `bit` (K,) of a `word` (K,) of the `mask`, of
    which `first` is the first; where that does not tell what they move, bits `rough`, the moves themselves
    from word `fine[0]` on and slow fuses from `fine[1]` on. The moves that can be made, `active`, by
    what they watch from its `head` (K,) on, each of which `follows` another; those `due`, at which
    `pace`. `beyond` (KEPT, words) and where that `led`; the states `after` a move."""

    active: Ints
    level: Floats
    seen: Floats
    high: Floats
    low: Floats
    sign: Floats
    bit: Marks
    word: Ints
    rough: Marks
    first: Marks
    fine: Ints
    amount: Floats
    taken: Floats
    mask: Marks
    head: Ints
    follows: Ints
    due: Ints
    pace: Ints
    beyond: Marks
    led: Ints
    after: States


def desk_for(moves: Moves, states: int) -> Desk:
    """Room for so many states."""
    watches, most = len(moves.size), len(moves.state)
    row, wide = np.zeros((6, watches)), wide_for(watches)
    coarse, fine = watches // 65 + 1, most // 64 + 1
    words = 2 * (coarse + fine)
    return Desk(
        active=np.zeros(most, np.int64),
        level=row[0],
        seen=row[1],
        high=row[2],
        low=row[3],
        sign=np.where(moves.size, -1.0, 1.0),
        bit=np.uint64(1) << (np.arange(watches, dtype=np.uint64) % np.uint64(wide)),
        word=np.arange(watches) // wide,
        rough=np.zeros(coarse, np.uint64),
        first=wide * np.arange(coarse, dtype=np.uint64),
        fine=np.array([2 * coarse, 2 * coarse + fine]),
        amount=row[4],
        taken=row[5],
        mask=np.zeros(words, np.uint64),
        head=np.zeros(watches, np.int64),
        follows=np.zeros(most, np.int64),
        due=np.zeros(most, np.int64),
        pace=np.zeros(most, np.int64),
        beyond=np.zeros((KEPT, words), np.uint64),
        led=np.zeros(KEPT, np.int64),
        after=np.zeros(states, np.int8),
    )


@loosely
def ready(
    table: Table, cond: Conditions, moves: Moves, d: Defective, made: Made, desk: Desk,
    states: States,
) -> tuple[int, int]:  # fmt: skip
    """Put leads and a pattern's turns in. How many there are, and how many moves can be made."""
    count, awake = stand(table, cond, d, table.watch, table.none, made, states, True), 0
    level, high, low, head, follows = desk.level, desk.high, desk.low, desk.head, desk.follows
    for k in range(len(level)):
        level[k], high[k], low[k], head[k] = table.level[k], np.inf, -np.inf, -1
    for i in range(count):
        for k in range(len(level)):
            level[k] -= made.flow[i] * made.effect[i, k]
    for m in range(len(moves.state) - 1, -1, -1):
        if states[moves.state[m]] == moves.leaves[m]:
            k = moves.watched[m]
            high[k], low[k] = min(high[k], moves.above[m]), max(low[k], moves.below[m])
            head[k], follows[m] = m, head[k]
            desk.active[awake] = m
            awake += 1
    desk.rough[:] = np.uint64(0)
    for k in range(len(level)):
        m, plain = head[k], True
        while m >= 0:
            above, below = moves.above[m], moves.below[m]
            plain &= (above == high[k] or above == np.inf) and (below == low[k] or below == -np.inf)
            plain &= moves.pace[m] != 1
            m = follows[m]
        desk.rough[desk.word[k]] |= desk.bit[k] * np.uint64(not plain)
    for k in range(len(level)):
        # An absent branch carries nothing, to the last digit.
        made.live[k] = 1.0 if moves.turn[k] < 0 or made.there[moves.turn[k]] else 0.0
        level[k] *= made.live[k]
    for kept in range(KEPT):
        desk.led[kept] = -1
    return count, awake


@within
def beyond(
    seen: Floats, y: float, taken: Floats, sign: Floats, high: Floats, low: Floats, bit: Marks,
    mask: Marks,
) -> bool:  # fmt: skip
    """Which of what is watched is above and which below its limits with a current y more; whether
    any is."""
    some, wide = np.uint64(0), wide_for(len(seen))
    words = len(seen) // 65 + 1
    for w in range(words):
        above, below = np.uint64(0), np.uint64(0)
        # A number without a sign needs no look whether it counts from the end.
        for k in range(np.uint64(wide * w), np.uint64(min(wide * w + wide, len(seen)))):
            amount = seen[k] - y * taken[k]
            size = max(amount, amount * sign[k])
            above |= bit[k] * np.uint64(size > high[k])
            below |= bit[k] * np.uint64(size < low[k])
        mask[w], mask[words + w] = above, below
        some |= above | below
    return bool(some)


@compiled
def wide_for(watches: int) -> int:
    """How many of what is watched share a word of bits: as even as whole vectors of eight allow."""
    words = watches // 65 + 1
    return (watches + 8 * words - 1) // (8 * words) * 8


@within
def finely(moves: Moves, desk: Desk, y: float) -> int:
    """Which moves are due of amounts beyond their limits that may move several, and which of these are
    fuses slower than relays, as words of the mask; how many words tell, which is fewer where there are
    none."""
    mask, fine, slow = desk.mask, desk.fine[0], desk.fine[1]
    below, some = np.uint64(fine // 2), np.uint64(0)
    for w in range(below):
        some |= (mask[w] | mask[below + w]) & desk.rough[w]
    if some == np.uint64(0):
        return int(fine)
    for u in range(np.uint64(fine), np.uint64(len(mask))):
        mask[u] = np.uint64(0)
    for w in range(below):
        some = (mask[w] | mask[below + w]) & desk.rough[w]
        while some != np.uint64(0):
            lowest = some & (~some + np.uint64(1))
            some ^= lowest
            k = desk.first[w] + PLACE[(lowest * DE_BRUIJN) >> np.uint64(58)]
            amount = desk.seen[k] - y * desk.taken[k]
            size, m = max(amount, amount * desk.sign[k]), desk.head[k]
            while m >= 0:
                if size > moves.above[m] or size < moves.below[m]:
                    bit = np.uint64(1) << np.uint64(m & 63)
                    mask[fine + (m >> 6)] |= bit
                    if moves.pace[m] == 1 and size < QUICK * moves.above[m]:
                        mask[slow + (m >> 6)] |= bit
                m = desk.follows[m]
    return len(mask)


@within
def kept_for(mask: Marks, many: int, beyond: Marks, led: Ints) -> np.int64:
    """Where the way out is remembered, negative (less one) where it is not yet; the first `many` words
    of the mask tell."""
    mark, same = np.uint64(0), 0
    for w in range(np.uint64(many)):
        mark = (mark ^ mask[w]) * ODD
    at = np.int64(mark >> SHIFT)
    if led[at] < 0:
        return -1 - at
    while same < many and beyond[at, same] == mask[same]:
        same += 1
    return at if same == many else -1 - at


@within
def next_of(moves: Moves, known: Patterns, desk: Desk, pattern: int, y: float) -> int:
    """The pattern that amounts beyond their limits lead to."""
    many = finely(moves, desk, y)
    mask, amount, sign = desk.mask, desk.amount, desk.sign
    at = kept_for(mask, many, desk.beyond, desk.led)
    if at >= 0:
        kept: int = desk.led[at]
        return kept
    due, pace, some, words = desk.due, desk.pace, 0, desk.fine[0] // 2
    for k in range(len(amount)):
        if (mask[desk.word[k]] | mask[words + desk.word[k]]) & desk.bit[k]:
            amount[k] = desk.seen[k] - y * desk.taken[k]
            some = add_due(
                k,
                amount[k],
                sign[k],
                desk.head,
                desk.follows,
                moves.above,
                moves.below,
                moves.pace,
                due,
                pace,
                some,
            )
    first, worst = pace_due(amount, sign, moves.above, moves.watched, due, pace, some)
    fuses, blow = first in (1, 3), 0
    for a in range(some):
        blow += pace[a] == first
        if not (pace[a] == first and (a == worst or not fuses)):
            due[a] = -1
    goes: int = entered(
        known.states, known.hash, known.mark, known.slot, known.met, pattern, due[:some],
        moves.state, moves.to, desk.after,
    )  # fmt: skip
    if not fuses or blow == 1:  # which of two fuses is further over, the mask does not tell
        at = -1 - at
        desk.led[at] = goes
        for w in range(many):
            desk.beyond[at, w] = mask[w]
    return goes


@loosely
def look(
    table: Table,
    cond: Conditions,
    moves: Moves,
    known: Patterns,
    d: Defective,
    made: Made,
    found: Found,
    desk: Desk,
    order: Numbers,
    loose: Numbers,
    goes: Numbers,
    begin: int,
) -> int:
    """Where pairs go next, (n,), -1 for stay. `loose` (n, 4): of each a slot, both hypotheses, -1 for
    nobody, and the pattern it stands in, by which `order` sorts. From place `begin` on, as far as there is room for new patterns."""
    z, turned = table.z, table.turned
    thing, part, flow, swing = made.thing, made.part, made.flow, made.swing
    upper, lower, effect = made.upper, made.lower, made.effect
    seen, taken, mask = desk.seen, desk.taken, desk.mask
    sign, high, low, bit = desk.sign, desk.high, desk.low, desk.bit
    port, alone, lift, end = d.port, d.alone, d.lift, len(order) - 1
    pattern, lead, count, many, last, own, drive, lost = -1, -1, 0, 0, -1, 0.0, 0.0, 0.0
    for n in range(begin, len(order)):
        if known.met[0] == len(known.states):
            return n
        p, next_ = order[n], order[min(n + 1, end)]
        soon(loose, order[min(n + 2, end)], 0)
        if many > count:
            soon(z, thing[count], port[loose[next_, 2]])
            soon(turned, thing[count], port[loose[next_, 2]])
        one, two, stands = loose[p, 1], loose[p, 2], loose[p, 3]
        if stands != pattern:
            pattern, lead = stands, -1
            found.now[0] += 1
            found.now[1] = 0
            count, _ = ready(table, cond, moves, d, made, desk, known.states[pattern])
        if one != lead:
            lead, last = one, -1
            many = join(table, d, table.watch, table.none, made, lead, count, True)
            for k in range(len(seen)):
                seen[k] = desk.level[k]
            for i in range(count, many):
                for k in range(len(seen)):
                    seen[k] -= flow[i] * effect[i, k]
        b, y = two, 0.0
        if b >= 0 and d.begin[b + 1] > d.begin[b] + 1:
            for k in range(len(seen)):
                taken[k] = 0.0
            for i in range(many, join(table, d, table.watch, table.none, made, b, many, True)):
                for k in range(len(seen)):
                    taken[k] += flow[i] * effect[i, k]
            y, last = 1.0, -1
        elif b >= 0:
            v = port[b]
            if v != last:  # severities of one defect stand side by side
                last, at = v, row_of(table, table.watch, table.none, made, found, v, count)
                fetch(z, turned, thing, v, count, many, found.forth[at], found.back[at])
                own, drive, _, _, lost = meet(
                    part, flow, swing, made.grown, upper, lower, count, many, found.forth[at], found.back[at], found.rest[at, 0], found.rest[at, 1], 0.0, 0.0,
                    found.rest[at, 4],
                )  # fmt: skip
                taken_off(taken, found.effect[at], found.forth[at], part, effect, count, many)
            y = (drive - lift[b]) / (own + alone[b])
            dead = gone(own + alone[b], lost)
            if dead or (d.turn[v] >= 0 and not made.there[d.turn[v]]):
                y = 0.0
        goes[p] = -1
        if beyond(seen, y, taken, sign, high, low, bit, mask):
            goes[p] = next_of(moves, known, desk, pattern, y)
    return len(order)


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
def add_due(
    k: int, amount: float, sign: float, head: Ints, follows: Ints, above: Floats, below: Floats,
    speed: Ints, due: Ints, pace: Ints, some: int,
) -> int:  # fmt: skip
    """Put the moves of amount k that are beyond their limits among those `due`, in order, at which
    `pace`; how many there are then."""
    m, size = head[k], max(amount, amount * sign)
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
