"""How every finding speaks about every suspect: by leaving it out and weighing again.

Leaving a finding out needs only the hypotheses that are still alive, or would be without it: a
single finding is never worth more than about a thousand to one, so the likeliest few hundred
hold all that counts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from backprobe.defects.model import Defects, Floats, Ints
from backprobe.suspects.evidence import Evidence, only, without
from backprobe.suspects.factor import Factor
from backprobe.suspects.filter import forward
from backprobe.suspects.model import Belief
from backprobe.suspects.prior import Stories
from backprobe.suspects.weigh import outside

KEPT = 400
"""Hypotheses the reasons are worked out on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """One finding left out. `factor` (G,): how much likelier the finding makes each group, over
    what it does to all suspects on average."""

    finding: str
    factor: Floats


def leave_out(
    evidence: Evidence, defects: Defects, stories: Stories, belief: Belief, groups: tuple[str, ...]
) -> tuple[LeftOut, ...]:
    """Every finding that was weighed, left out in turn."""
    rows = alive(belief)
    few = only(evidence, rows)
    member = _member(defects, rows, groups)
    prior = _prior(defects, stories, rows)
    full = _groups(few, prior, member, stories)
    ids = dict.fromkeys(told.finding for told in evidence.told)
    result: list[LeftOut] = []
    for finding in ids:
        rest = _groups(without(few, finding), prior, member, stories)
        average = logsumexp(full) - logsumexp(rest)
        with np.errstate(invalid="ignore"):
            factor = np.exp(full[:-2] - rest[:-2] - average)
        result.append(LeftOut(finding=finding, factor=np.nan_to_num(factor, nan=1.0)))
    return tuple(result)


def fit(says: Factor, belief: Belief, defects: Defects) -> float:
    """How well a finding fits the suspects that are left, in the world that suits it best: 1 is
    no better than chance, MISREAD the floor when none of them reads so."""
    total, held = 0.0, 0.0
    for sometimes in (0, 1):
        best = says.present.max(axis=1)
        if sometimes:
            best = np.maximum(best, says.gone.max(axis=1))
            best = best if says.jumps is None else np.maximum(best, says.jumps.max(axis=1))
        share = np.zeros(len(defects.atoms))
        rows = (belief.atom >= 0) & (belief.sometimes == sometimes)
        share[belief.atom[rows]] = belief.chance[rows]
        whole = np.bincount(defects.atom_of, belief.hypothesis, minlength=share.size)
        with np.errstate(divide="ignore", invalid="ignore"):
            scale = np.where(whole > 0.0, share / whole, 0.0)
        weight = belief.hypothesis * scale[defects.atom_of]
        total += float((weight * best).sum())
        held += float(weight.sum())
    return total / held if held > 0.0 else 1.0


def alive(belief: Belief) -> Ints:
    """The likeliest hypotheses, healthy first."""
    count = min(KEPT, belief.hypothesis.size)
    top = np.argpartition(-belief.hypothesis, count - 1)[:count]
    return np.concatenate([[0], np.sort(top[top > 0])]).astype(np.int64)


def _member(defects: Defects, rows: Ints, groups: tuple[str, ...]) -> Ints:
    """(N,) number of each hypothesis's group; healthy and groups not listed come after."""
    number = {key: k for k, key in enumerate(groups)}
    of_atom = np.array([number.get(atom.group, len(groups)) for atom in defects.atoms])
    of_atom[0] = len(groups)
    return of_atom[defects.atom_of[rows]].astype(np.int64)


def _prior(defects: Defects, stories: Stories, rows: Ints) -> tuple[Floats, Floats]:
    """Log prior of each hypothesis as always there and as coming and going."""
    atoms = len(defects.atoms)
    with np.errstate(divide="ignore"):
        weight = np.log(defects.weight[rows])
    at = defects.atom_of[rows]
    comes = np.concatenate([[-np.inf], stories.log_prior[atoms:-1]])
    return stories.log_prior[at] + weight, comes[at] + weight


def _groups(
    evidence: Evidence, prior: tuple[Floats, Floats], member: Ints, stories: Stories
) -> Floats:
    """(G + 2,) log joint by group, then the rest, then "not in this book"."""
    always = forward(evidence, member.size, sometimes=False)
    comes = forward(evidence, member.size, sometimes=True)
    joint = np.logaddexp(prior[0] + always.log_lik, prior[1] + comes.log_lik)
    count = int(member.max()) + 1
    top = np.full(count, -np.inf)
    np.maximum.at(top, member, joint)
    safe = np.where(np.isfinite(top), top, 0.0)
    summed = np.bincount(member, np.exp(joint - safe[member]), minlength=count)
    with np.errstate(divide="ignore"):
        log_sum = np.log(summed) + safe
    return np.append(log_sum, stories.log_prior[-1] + outside(evidence))
