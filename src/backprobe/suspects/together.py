"""Two faults that show only together: neither half explains anything, so no bound on the singles
finds them. Two grounds of one unit are the usual case: either alone is enough for it.

Every pair of defects is brought to rest where the machine was found failing, and those count that
leave a fuse, relay, unit or diode as neither half alone would. The likeliest of them are then weighed as
any pair is (suspects.twofold).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from backprobe.book.situations import Situation
from backprobe.circuit.net import States
from backprobe.defects.model import Ints
from backprobe.defects.pairs import PairList, rated, two_faults
from backprobe.defects.predict import Circuit
from backprobe.findings.model import CodesFound, JobState, Works

NODES = 500
"""Nodes up to which every pair is looked at: a million and a half take a second a situation."""
CARRIED = 600
"""Pairs that are weighed, the likeliest first."""


def failing_in(job: JobState) -> Situation | None:
    """The latest situation in which a code was active or something did not work."""
    found: Situation | None = None
    for finding in job.findings:
        if (isinstance(finding, CodesFound) and finding.active) or (
            isinstance(finding, Works) and finding.works is False
        ):
            found = finding.situation.bare()
    return found


@lru_cache(maxsize=4)
def only_together(circuit: Circuit, situation: Situation) -> PairList | None:
    """Pairs that stand in `situation` as neither half alone does, the likeliest first; None where there
    are none, or the machine is too large to look at every pair."""
    if len(circuit.net.nodes) > NODES:
        return None
    first, second = two_faults(circuit, heaviest(circuit))
    settled = circuit.settled_pairs((first, second), situation)
    alone = circuit.settled(situation).states
    some = np.flatnonzero(settled.steady)
    end = settled.end[some].astype(np.int64)
    some = some[unlike_both(settled.patterns, end, alone, first[some], second[some])]
    if not some.size:
        return None
    pairs = rated(circuit, first[some], second[some])
    return pairs.only(np.argsort(-pairs.rate, kind="stable")[:CARRIED])


def heaviest(circuit: Circuit) -> Ints:
    """The likeliest severity of every atom, rising."""
    defects = circuit.defects
    rows = np.flatnonzero(defects.atom_of > 0)
    order = rows[np.lexsort((-defects.weight[rows], defects.atom_of[rows]))]
    _, first = np.unique(defects.atom_of[order], return_index=True)
    return np.sort(order[first])


def unlike_both(patterns: States, end: Ints, alone: States, first: Ints, second: Ints) -> Ints:
    """Places among pairs of hypotheses (n,), (n,), that end in `patterns` by `end` (n,), whose states
    are somewhere neither those of the first nor of the second, which end as `alone` (H, S)."""
    own, label = np.unique(alone, axis=0, return_inverse=True)
    label, count = label.ravel(), np.int64(len(own))
    key = (label[first] * count + label[second]) * len(patterns) + end
    cases, place = np.unique(key, return_inverse=True)
    stands, both = patterns[cases % len(patterns)], cases // len(patterns)
    odd = ((stands != own[both // count]) & (stands != own[both % count])).any(axis=1)
    result: Ints = np.flatnonzero(odd[place.ravel()])
    return result
