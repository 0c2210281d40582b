"""What is likely before anything is measured on this machine."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from backprobe.defects.atoms import of_atoms
from backprobe.defects.model import Defects, Floats, Ints
from backprobe.findings.model import Condition
from backprobe.suspects.model import NOT_IN_BOOK

HEALTHY = 0.03
"""Chance that nothing electrical is wrong: fuel, hydraulics, operation. Judgement."""
OUTSIDE = 0.02
"""Chance that the defect is none of the book's: add-on, wrong row, several at once. Judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stories:
    """The rows of a Belief before any finding: healthy first, then (atom, always) for every
    atom, then (atom, sometimes), "not in this book" last. `log_prior` (R,) natural log."""

    atom: Ints
    sometimes: Ints
    log_prior: Floats


def stories(defects: Defects, conditions: Collection[Condition] = ()) -> Stories:
    """Stories with their prior: an atom's share of all failure rates, split by how often it comes
    and goes.

    `conditions`: those the complaint was tied to ("after washing" = wet); they raise the rate of
    the atoms that answer to them. Rates and factors carry their source in the atoms.
    """
    rate = of_atoms(defects, getattr, "rate")[1:]
    for condition in sorted(set(conditions) - {""}):
        rate = rate * of_atoms(defects, getattr, condition)[1:]
    total = rate.sum()
    share = rate / total if total > 0.0 else rate
    comes = of_atoms(defects, getattr, "sometimes")[1:]
    count = comes.size
    prior = np.empty(2 * count + 2)
    prior[0] = HEALTHY
    prior[1 : count + 1] = (1.0 - HEALTHY - OUTSIDE) * share * (1.0 - comes)
    prior[count + 1 : -1] = (1.0 - HEALTHY - OUTSIDE) * share * comes
    prior[-1] = OUTSIDE
    with np.errstate(divide="ignore"):
        log_prior = np.log(prior / prior.sum())
    numbers = np.arange(1, count + 1)
    return Stories(
        atom=np.concatenate([[0], numbers, numbers, [NOT_IN_BOOK]]).astype(np.int64),
        sometimes=np.concatenate([np.zeros(count + 1), np.ones(count), [0]]).astype(np.int64),
        log_prior=log_prior,
    )
