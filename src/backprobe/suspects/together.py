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
from backprobe.circuit.pair_lists import unlike_both
from backprobe.circuit.parting import distinct
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
    first, second = _doubles(circuit)
    settled = circuit.settled_pairs((first, second), situation)
    own, label = distinct(circuit.settled(situation).states)
    _, alike = distinct(np.concatenate([own, settled.patterns]))
    odd = np.zeros(len(first), bool)
    unlike_both(settled.patterns, alike[len(own) :], settled.end, own, label, first, second, odd)
    some = np.flatnonzero(odd & settled.steady)
    if not some.size:
        return None
    pairs = rated(circuit, first[some], second[some])
    return pairs.only(np.argsort(-pairs.rate, kind="stable")[:CARRIED])


@lru_cache(maxsize=1)
def _doubles(circuit: Circuit) -> tuple[Ints, Ints]:
    """Every pair of atoms, each at its likeliest severity."""
    return two_faults(circuit, heaviest(circuit))


def heaviest(circuit: Circuit) -> Ints:
    """The likeliest severity of every atom, rising."""
    defects = circuit.defects
    rows = np.flatnonzero(defects.atom_of > 0)
    order = rows[np.lexsort((-defects.weight[rows], defects.atom_of[rows]))]
    _, first = np.unique(defects.atom_of[order], return_index=True)
    return np.sort(order[first])
