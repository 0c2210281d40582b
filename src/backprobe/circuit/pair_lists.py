"""Compiled: millions of pairs put in order: who leads, who has come to rest, who moves on."""

from __future__ import annotations

import numpy as np

from backprobe.circuit.compiled import compiled, loosely
from backprobe.circuit.net import Flags, Ints, States
from backprobe.circuit.pair_follow import Followers, Leavers
from backprobe.circuit.pair_put import Numbers


@compiled
def named(count: int, first: Ints, second: Ints) -> Flags:
    """(count,) the numbers that are met."""
    met = np.zeros(count, np.bool_)
    for p in range(len(first)):
        met[first[p]] = True
        met[second[p]] = True
    return met


@loosely
def led(
    first: Ints, second: Ints, rank: Ints, events: Flags, starts: Ints, begin: Ints,
    followers: Followers,
) -> bool:  # fmt: skip
    """Put every pair with the hypothesis that leads it; away are those whose second is an event of
    many pins, and pairs that begin (`starts`) where their leader does not (`begin`). Whether seconds
    are in order."""
    sums, many = followers.begin, followers.many
    for p in range(len(first)):
        a, b = first[p], second[p]
        sums[(b if rank[b] < rank[a] else a) + 1] += 1
    for h in range(len(begin)):
        sums[h + 1] += sums[h]
    ordered = True
    for p in range(len(first)):
        a, b = first[p], second[p]
        h = b if rank[b] < rank[a] else a
        at, other = sums[h] + many[h], a + b - h
        ordered &= many[h] == 0 or followers.second[at - 1] < other
        followers.second[at], followers.number[at] = other, p
        many[h] += 1
        start = starts[p] if len(starts) and starts[p] >= 0 else begin[h]
        followers.away[at] = events[other] or start != begin[h]
    return ordered


@loosely
def alone(followers: Followers, starts: Ints, begin: Ints, loose: Numbers) -> int:
    """Pairs that are away from the start, (m, 4): slot, both hypotheses, pattern, but for those with
    the one that does nothing that begin where the other does. How many."""
    out = 0
    for h in range(len(begin)):
        for at in range(followers.begin[h], followers.begin[h + 1]):
            if followers.away[at]:
                p = followers.number[at]
                start = starts[p] if len(starts) and starts[p] >= 0 else begin[h]
                followers.many[h] -= 1
                if h == 0 and start == begin[followers.second[at]]:
                    continue
                loose[out, 0], loose[out, 1] = at, h
                loose[out, 2], loose[out, 3] = followers.second[at], start
                out += 1
    return out


@loosely
def rested(followers: Followers, leaders: Ints, at: Ints, end: Numbers) -> None:
    """The followers of these leaders end where their leader stands."""
    for h in leaders:
        for p in range(followers.begin[h], followers.begin[h + 1]):
            if not followers.away[p]:
                end[followers.number[p]] = at[h]


@loosely
def moving_on(
    followers: Followers, at: Ints, loose: Numbers, goes: Numbers, leave: Leavers, last: bool,
    end: Numbers, steady: Flags, result: Numbers,
) -> int:  # fmt: skip
    """Pairs that go nowhere end where they stand, in the `last` round all; those that go on, slots in
    order: those on their own and those that leave the leader who stands `at`. How many."""
    on, p = 0, 0
    for h in range(len(at)):
        q, many = leave.begin[h], leave.begin[h] + leave.many[h]
        while q < many or (p < len(goes) and loose[p, 1] == h):
            if q == many or (p < len(goes) and loose[p, 1] == h and loose[p, 0] < leave.slot[q]):
                slot, stood, to = loose[p, 0], loose[p, 3], goes[p]
                p += 1
            else:
                slot, stood, to = leave.slot[q], at[h], leave.goes[q]
                q += 1
            if to < 0 or last:
                end[followers.number[slot]] = stood
                steady[followers.number[slot]] = to < 0
            else:
                result[on, 0], result[on, 1], result[on, 2], result[on, 3] = (
                    slot, h, followers.second[slot], to,
                )  # fmt: skip
                on += 1
    return on


@loosely
def by_label(label: Numbers, begin: Ints, which: Numbers, order: Numbers) -> None:
    """`which` sorted by their label, equal ones as they stand; `begin`: zeros, one more than labels."""
    for p in range(len(label)):
        begin[label[p] + 1] += 1
    for c in range(len(begin) - 1):
        begin[c + 1] += begin[c]
    for p in which:
        order[begin[label[p]]] = p
        begin[label[p]] += 1


@loosely
def by_end(followers: Followers, end: Numbers, begin: Ints, order: Numbers) -> None:
    """Pairs by their end, then by who leads: number, who leads, the other, end (4, m); `begin`:
    zeros, one more than ends."""
    for p in range(len(end)):
        begin[end[p] + 1] += 1
    for c in range(len(begin) - 1):
        begin[c + 1] += begin[c]
    for h in range(len(followers.many)):
        for slot in range(followers.begin[h], followers.begin[h + 1]):
            p = followers.number[slot]
            at = begin[end[p]]
            begin[end[p]] = at + 1
            order[0, at], order[1, at] = p, h
            order[2, at], order[3, at] = followers.second[slot], end[p]


@loosely
def unlike_both(
    patterns: States, alike: Ints, end: Numbers, own: States, label: Ints, first: Ints, second: Ints,
    result: Flags,
) -> None:  # fmt: skip
    """Pairs (n,), (n,) that end in `patterns` by `end` (n,) with some state that is neither the
    first's nor the second's, which end as `own` by their `label` (H,). `alike` (p,): which of `own` a
    pattern is, or a number beyond them."""
    for p in range(len(end)):
        one, two, both, odd = label[first[p]], label[second[p]], end[p], 0
        if alike[both] != one and alike[both] != two:
            for s in range(patterns.shape[1]):
                stands = patterns[both, s]
                odd += (stands != own[one, s]) & (stands != own[two, s])
        result[p] = odd > 0
