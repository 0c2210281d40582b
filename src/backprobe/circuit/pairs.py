"""Where every pair of hypotheses comes to rest, millions at a time.

A pair ends exactly where settle() would bring it with the ports of both. Most pairs of a defect
end where that defect ends alone, whatever the second one is. So of the two, the one with the
rarer end leads: it walks its own way from pattern to pattern, and a second defect of current y2
follows it as long as it moves no watched amount as far as the leader's nearest limit,

    |y2| (|W2| + |W1 c|) < margin,      c = T12 / C11,      W: watched amount per port current

tested by one number per pair, exactly only where that number is not enough. What leaves its leader
is followed alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from backprobe.circuit.bases import Bases
from backprobe.circuit.limits import Limits
from backprobe.circuit.net import Flags, Ints, States
from backprobe.circuit.pair_solve import Defective
from backprobe.circuit.parting import by_number
from backprobe.circuit.ports import Cases, Ports
from backprobe.circuit.settle import settle
from backprobe.circuit.transfer import Transfer, vectors_of
from backprobe.circuit.walk import PairEnd, Start, Walk


@dataclass(frozen=True, slots=True, kw_only=True)
class SettledPairs:
    """Where every pair came to rest. `lead`, `second` (m,): its hypotheses, the leading first
    (their order says nothing else); `end` (m,) which of `ends`; `steady` (m,) False where relays
    chatter; `looked` how many times a pair's limits were looked at in full."""

    transfer: Transfer
    defective: Defective
    lead: Ints
    second: Ints
    ends: tuple[PairEnd, ...]
    end: Ints
    steady: Flags
    looked: int

    @property
    def count(self) -> int:
        """How many pairs there are."""
        return len(self.lead)

    def states(self) -> States:
        """(m, S) the states every pair came to rest in."""
        table = np.array([end.states for end in self.ends], np.int8)
        return table[self.end] if len(table) else np.zeros((0, 0), np.int8)


def settle_pairs(
    bases: Bases,
    limits: Limits,
    ports: Ports,
    cases: Cases,
    pairs: tuple[Ints, Ints],
    *,
    alone: Start,
    together: Start = (),
    leads: Sequence[int] = (),
) -> SettledPairs:
    """Bring pairs of the hypotheses of `cases` to rest.

    `pairs`: hypothesis numbers (m,), (m,); at most one of two may have more than one port, and
    two on one and the same port are no pair. `alone`: (states, hypotheses) every hypothesis starts
    in; `together`: the same for pairs (pair numbers), where that is not where their hypotheses
    start. `leads`: ports fitted throughout.
    """
    first, second = (np.asarray(part, np.int64) for part in pairs)
    healthy = next(states for states, which in alone if (np.asarray(which) == 0).any())
    only = Cases.of([list(leads)])
    rest = settle(bases, limits, ports, only, [(healthy, np.zeros(1, np.int64))]).states[0]
    used = np.unique(np.concatenate([first, second]))
    vectors = vectors_of(
        bases.net, ports, np.concatenate([cases.only(used).ports, np.array(leads, np.int64)])
    )
    transfer = Transfer.of(bases, limits, vectors, rest)
    defective = Defective.of(transfer, ports, cases, leads)
    begin = np.zeros((cases.count, len(healthy)), np.int8)
    for states, which in alone:
        begin[which] = states
    walk = Walk(transfer=transfer, defective=defective, limits=limits)
    walk.run(begin, used, first[:0], second[:0], ())
    _, way, shared = np.unique(walk.way, return_inverse=True, return_counts=True)
    rank = np.where(defective.event > 0, -1, shared[way.ravel()])
    swap = rank[second] < rank[first]
    lead, other = np.where(swap, second, first), np.where(swap, first, second)
    if (defective.event[other] > 0).any():
        raise ValueError("two events of many pins are no pair for this kernel")
    order = by_number(lead, cases.count)
    lead, other = lead[order], other[order]
    back = np.empty(len(order), np.int64)
    back[order] = np.arange(len(order))
    walk = Walk(transfer=transfer, defective=defective, limits=limits)
    walk.run(begin, np.unique(lead), lead, other, [(s, back[which]) for s, which in together])
    ends = [
        PairEnd(states=end.states, event=end.event, pairs=order[end.pairs])
        for end in walk.ends(rows=False)
    ]
    end_of = np.zeros(len(order), np.int64)
    for number, end in enumerate(ends):
        end_of[end.pairs] = number
    return SettledPairs(
        transfer=transfer,
        defective=defective,
        lead=lead[back],
        second=other[back],
        ends=tuple(ends),
        end=end_of,
        steady=walk.steady[back],
        looked=walk.looked,
    )
