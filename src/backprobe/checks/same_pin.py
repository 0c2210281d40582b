"""A pin that was read already in this visit: what that says of whether it was that pin.

Who counted one pin too far does so again, so reading a pin once more in another state does not clear
it of that. The filter weighs it so (suspects/emission.py); what is forecast here agrees.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np

from backprobe.book.situations import Situation
from backprobe.checks.model import Check
from backprobe.defects.model import Floats
from backprobe.findings.model import JobState, Reading
from backprobe.suspects.emission import BESIDE_PIN, WRONG_PLACE
from backprobe.suspects.factor import Factor
from backprobe.suspects.readings import reading_factor
from backprobe.suspects.view import View

Lead = tuple[str, str]
"""Where the red and the black lead go."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Coin:
    """Chances (2 L,), given that the defect shows and then that it does not: `wrong` (n, 2 L) that each
    of the pins `beside` was read instead, `astray` that the leads were on another place altogether."""

    beside: tuple[str, ...]
    wrong: Floats
    astray: Floats


def lead_of(check: Check) -> Lead:
    """The lead of a check that reads something."""
    probe = check.probe
    return ("", "") if probe is None else (probe.p, probe.n)


def read_again(job: JobState, checks: Sequence[Check]) -> dict[Lead, tuple[Reading, ...]]:
    """The steady readings of this visit where some checks would read again, by lead."""
    wanted = {lead_of(check) for check in checks}
    found: dict[Lead, tuple[Reading, ...]] = {}
    for one in job.findings:
        if isinstance(one, Reading) and one.trusted and one.visit == job.visit and one.to is None:
            lead = (one.p, one.n)
            if one.instrument != "beeper" and lead in wanted:
                found[lead] = (*found.get(lead, ()), one)
    return found


def coin_of(view: View, readings: Sequence[Reading], past: Situation) -> Coin | None:
    """What all readings with one lead leave of the coin. None while the view is asking, or where it
    knows no such place. `past`: a situation that comes after the same."""
    told = [
        reading_factor(view, one, replace(one.situation, after=past.after, showing=past.showing))
        for one in readings
    ]
    known = [factor for factor in told if factor is not None]
    if view.asking or not known:
        return None
    beside = tuple(slip.place for slip in known[0].slips)
    if any(tuple(slip.place for slip in factor.slips) != beside for factor in known):
        beside = ()
    sides = [_joint(view, known, beside, gone=gone) for gone in (False, True)]
    joint = np.concatenate(sides, axis=1)
    joint /= joint.sum(axis=0)
    return Coin(beside=beside, wrong=joint[1:-1], astray=joint[-1])


def _joint(view: View, told: Sequence[Factor], beside: Sequence[str], *, gone: bool) -> Floats:
    """(n + 2, L) that pin and these readings, each one beside it and they, another place and they."""
    right = _product(view, [factor.gone if gone else factor.present for factor in told])
    there = [
        _product(view, [f.slips[k].gone if gone else f.slips[k].present for f in told])
        for k in range(len(beside))
    ]
    slipped = BESIDE_PIN if beside else 0.0
    share = (1.0 - WRONG_PLACE) * slipped / max(len(beside), 1)
    astray = np.full(view.count, WRONG_PLACE)
    plain = (1.0 - WRONG_PLACE) * (1.0 - slipped) * right
    return np.stack([plain, *(share * one for one in there), astray])


def _product(view: View, ratios: Sequence[Floats]) -> Floats:
    """(L,) mean over the worlds of the product of ratios (L or 1, W or 1)."""
    every: Floats = reduce(np.multiply, ratios)
    weight = view.worlds.weight
    mean = every @ weight if every.shape[1] == weight.size else every.mean(axis=1)
    return np.broadcast_to(mean, (view.count,))
