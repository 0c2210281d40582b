"""How every finding speaks about every suspect: by leaving it out and weighing again.

This is done on the likeliest hypotheses only, so "the average suspect" is one that is still in
play. Those that one finding alone has all but cleared are in play: a finding is seldom worth more
than a thousand to one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backprobe.base.sums import log_sum
from backprobe.defects.model import Defects, Floats, Ints
from backprobe.suspects.evidence import Evidence, without
from backprobe.suspects.factor import Factor
from backprobe.suspects.filter import filtered, filtered_without, laid
from backprobe.suspects.prior import Stories
from backprobe.suspects.weigh import outside

UNHEARD = 1e-3
"""Chance of "not in this book" below which what moves only that is left out of the reckoning."""
KEPT = 100
"""Hypotheses the reasons are worked out on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """One finding left out. `factor` (G,): how much likelier the finding makes each group, over
    what it does to all suspects on average; `chance` (G,), `outside`: that of each group and of "not in
    this book" without it."""

    finding: str
    factor: Floats
    chance: Floats
    outside: float


def leave_out(
    evidence: Evidence, defects: Defects, stories: Stories, groups: tuple[str, ...]
) -> tuple[LeftOut, ...]:
    """Every finding that was weighed, left out in turn. `evidence` and `defects` are those of the
    hypotheses that are left, healthy first."""
    member = _member(defects, groups)
    always, comes = _prior(defects, stories)
    told, beyond = laid(evidence, defects), float(stories.log_prior[-1])
    joint = np.logaddexp(
        always + filtered(told, sometimes=False).log_lik,
        comes + filtered(told, sometimes=True).log_lik,
    )
    full = _groups(joint, member, beyond + outside(evidence))
    ids: dict[str, bool] = {}
    for one in evidence.told:
        ids[one.finding] = ids.get(one.finding, True) and one.tells_nothing_apart
    # What says the same of all, the healthy machine too, moves nothing but "not in this book".
    whole = float(log_sum(full))
    inside = full[-1] - whole < np.log(UNHEARD)
    heard = [finding for finding, silent in ids.items() if not (silent and inside)]
    joints = np.logaddexp(
        always + filtered_without(told, heard, sometimes=False),
        comes + filtered_without(told, heard, sometimes=True),
    )
    rests = {
        finding: _groups(joint, member, beyond + outside(without(evidence, finding)))
        for finding, joint in zip(heard, joints, strict=True)
    }
    return tuple(
        _left_out(finding, (full, whole), (rest, float(log_sum(rest))))
        if (rest := rests.get(finding)) is not None
        else _left_out(finding, (full, whole), (full, whole))
        for finding in ids
    )


def _left_out(finding: str, told: tuple[Floats, float], untold: tuple[Floats, float]) -> LeftOut:
    """What one finding does to groups, from their log joint (G + 2,) and its log sum with and without
    it."""
    (full, whole), (rest, others) = told, untold
    average = whole - others
    with np.errstate(invalid="ignore"):
        factor = np.exp(full[:-2] - rest[:-2] - average)
    shares = np.exp(rest - others)
    return LeftOut(
        finding=finding,
        factor=np.nan_to_num(factor, nan=1.0),
        chance=shares[:-2],
        outside=float(shares[-1]),
    )


def fit(says: Factor, weight: Floats, comes: Floats, mended: Floats | float = 0.0) -> float:
    """How well a finding fits the hypotheses that are left, in the world that suits it best: 1 is
    no better than chance, MISREAD the floor when none of them reads so.

    `weight` (N,) their chances, healthy first; `comes` (N,) the share of it that comes and goes and
    so may not have shown when the finding was made; `mended` (N,) the share mended by then.
    """
    present, gone = says.present.max(axis=1), says.gone.max(axis=1)
    either = np.maximum(present, gone)
    if says.jumps is not None:
        either = np.maximum(either, says.jumps.max(axis=1))
    best = (1.0 - comes) * present + comes * either
    best = (1.0 - mended) * best + mended * present[0]
    total = float(weight.sum())
    return float((weight * best).sum()) / total if total > 0.0 else 1.0


def _member(defects: Defects, groups: tuple[str, ...]) -> Ints:
    """(N,) number of each hypothesis's group; healthy and groups not listed come after."""
    number = {key: k for k, key in enumerate(groups)}
    of_atom = np.array([number.get(atom.group, len(groups)) for atom in defects.atoms])
    of_atom[0] = len(groups)
    return of_atom[defects.atom_of].astype(np.int64)


def _prior(defects: Defects, stories: Stories) -> tuple[Floats, Floats]:
    """Log prior of each hypothesis as always there and as coming and going."""
    atoms = len(defects.atoms)
    with np.errstate(divide="ignore"):
        weight = np.log(defects.weight)
    comes = np.concatenate([[-np.inf], stories.log_prior[atoms:-1]])
    always = stories.log_prior[defects.atom_of]
    return always + weight, comes[defects.atom_of] + weight


def _groups(joint: Floats, member: Ints, outside: float) -> Floats:
    """(G + 2,) log joint by group, from that of hypotheses (N,), then the rest, then "not in this book"."""
    count = int(member.max()) + 1
    top = np.full(count, -np.inf)
    np.maximum.at(top, member, joint)
    safe = np.where(np.isfinite(top), top, 0.0)
    summed = np.bincount(member, np.exp(joint - safe[member]), minlength=count)
    with np.errstate(divide="ignore"):
        log_sum = np.log(summed) + safe
    return np.append(log_sum, outside)
