"""Compiled: millions of pairs put in order: who leads, who has come to rest, who moves on."""

from __future__ import annotations

import numpy as np

from backprobe.circuit.compiled import compiled, loosely
from backprobe.circuit.net import Flags, Ints
from backprobe.circuit.pair_follow import Followers


@compiled
def named(count: int, first: Ints, second: Ints) -> Flags:
    """(count,) the numbers that are met."""
    met = np.zeros(count, np.bool_)
    for p in range(len(first)):
        met[first[p]] = True
        met[second[p]] = True
    return met


@compiled
def led(
    first: Ints,
    second: Ints,
    rank: Ints,
    events: Flags,
    starts: Ints,
    begin: Ints,
    followers: Followers,
    lone: Ints,
) -> int:
    """Put every pair with the hypothesis that leads it, or among those on their own: two events of
    many pins, and pairs that begin (`starts`) where their leader does not (`begin`)."""
    lead, alone = np.empty(len(first), np.int64), 0
    for p in range(len(first)):
        a, b = first[p], second[p]
        h = b if rank[b] < rank[a] else a
        start = starts[p] if len(starts) and starts[p] >= 0 else begin[h]
        if (events[a] and events[b]) or start != begin[h]:
            lone[0, alone], lone[1, alone], lone[2, alone], lone[3, alone] = a, b, p, start
            alone += 1
            h = -1
        else:
            followers.many[h] += 1
        lead[p] = h
    total = 0
    for h in range(len(begin)):
        followers.begin[h] = total
        total += followers.many[h]
        followers.many[h] = 0
    for p in range(len(first)):
        h = lead[p]
        if h >= 0:
            at = followers.begin[h] + followers.many[h]
            followers.second[at] = first[p] + second[p] - h
            followers.number[at] = p
            followers.many[h] += 1
    return alone


@loosely
def rested(followers: Followers, leaders: Ints, at: Ints, end: Ints) -> None:
    """The followers of these leaders end where their leader stands."""
    for h in leaders:
        for p in range(followers.begin[h], followers.begin[h] + followers.many[h]):
            end[followers.number[p]] = at[h]


@compiled
def by_pattern(loose: Ints, count: int, result: Ints) -> None:
    """Pairs (4, m) by their pattern, below `count`."""
    begin = np.zeros(count + 1, np.int64)
    for p in range(loose.shape[1]):
        begin[loose[3, p] + 1] += 1
    for c in range(count):
        begin[c + 1] += begin[c]
    for p in range(loose.shape[1]):
        at = begin[loose[3, p]]
        begin[loose[3, p]] += 1
        for row in range(4):
            result[row, at] = loose[row, p]


@loosely
def moving_on(loose: Ints, goes: Ints, end: Ints, steady: Flags, last: bool) -> int:
    """Pairs that go nowhere end where they stand, in the `last` round all; how many go on, first."""
    on = 0
    for p in range(len(goes)):
        if goes[p] < 0 or last:
            end[loose[2, p]] = loose[3, p]
            steady[loose[2, p]] = goes[p] < 0
        else:
            for row in range(3):
                loose[row, on] = loose[row, p]
            loose[3, on] = goes[p]
            on += 1
    return on


@compiled
def by_label(label: Ints, count: int, which: Ints, order: Ints) -> None:
    """`which` sorted by their label below `count`, equal ones as they stand."""
    begin = np.zeros(count + 1, np.int64)
    for p in range(len(label)):
        begin[label[p] + 1] += 1
    for c in range(count):
        begin[c + 1] += begin[c]
    for p in which:
        order[begin[label[p]]] = p
        begin[label[p]] += 1
