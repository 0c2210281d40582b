"""The two-state filter: does the defect show in this visit, or is it gone?

Forward recursion over stretches, exact for every hypothesis at once. A defect that is always
there stays until it is mended; one that comes and goes is drawn anew at every visit, with one
chance per condition that is integrated over. "Rule wrong in the book" is one coin per rule for
the whole job: the states at earlier code lists of the same unit are remembered until its last
list, where the coin is summed out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from backprobe.defects.model import Floats
from backprobe.findings.model import Condition
from backprobe.suspects.codes import RULE_WRONG
from backprobe.suspects.evidence import Evidence, Segment
from backprobe.suspects.factor import RHO, ListFactor
from backprobe.suspects.looks import ONLY_WHEN_STEADY

CURED_BY_TOUCH = 0.2
"""Chance that moving a plug or part ends a defect there, for the time being. Judgement."""
CURED_BY_REPAIR = 0.97
"""Chance that the repair of the right place ends it for good. Judgement."""
BESIDE = 0.01
"""Factor on a defect that has nothing to do with anything found wrong: the machine came because
of what was found, so this defect would have to be there besides. Judgement: a machine that comes
in for one thing has another, hidden one in one case of a hundred."""
WRONG_PLACE = 0.01
"""Chance per visit that its leads were on the wrong place. Judgement."""
LISTS = 4
"""Code lists of one unit that share a rule's coin; later ones toss their own."""

History = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Filtered:
    """`log_lik` (H,) natural log of the ratio of all findings; `present` (H,) chance that the
    defect shows at the end; `mended` (H,) chance that its repair took hold."""

    log_lik: Floats
    present: Floats
    mended: Floats


@dataclass(slots=True)
class _States:
    """Weights (K, H, W) of mended, gone, present; None = zero."""

    mended: Floats | None
    gone: Floats | None
    present: Floats | None

    def each(self) -> list[Floats]:
        return [part for part in (self.mended, self.gone, self.present) if part is not None]

    def add(self, other: _States) -> None:
        self.mended = _plus(self.mended, other.mended)
        self.gone = _plus(self.gone, other.gone)
        self.present = _plus(self.present, other.present)


def forward(evidence: Evidence, count: int, *, sometimes: bool) -> Filtered:
    """Filters `count` hypotheses through all stretches of a job."""
    rho, levels = _levels(evidence, sometimes=sometimes)
    lists = _lists(evidence.segments)
    start = np.full((levels, count, evidence.world.size), 1.0 / levels)
    states: dict[History, _States] = {(): _States(None, None, start)}
    log_scale = 0.0
    for number, segment in enumerate(evidence.segments):
        present, gone = emission(segment, sometimes=sometimes)
        steady = _only_when(segment, rho, sometimes=sometimes)
        for one in states.values():
            if sometimes and segment.redraw:
                _redraw(one, rho[segment.condition])
            _change(one, segment)
            _emit(one, _times(present, steady), _times(gone, steady))
        states = _tell_lists(states, number, segment, lists)
        log_scale += _normalise(states)
    total, shows, mended = np.zeros(count), np.zeros(count), np.zeros(count)
    for one in states.values():
        for part in one.each():
            total += part.sum(axis=0) @ evidence.world
        if one.present is not None:
            shows += one.present.sum(axis=0) @ evidence.world
        if one.mended is not None:
            mended += one.mended.sum(axis=0) @ evidence.world
    with np.errstate(divide="ignore", invalid="ignore"):
        return Filtered(
            log_lik=np.log(total) + log_scale + np.log(_concerned(evidence, count)),
            present=np.where(total > 0.0, shows / total, 0.0),
            mended=np.where(total > 0.0, mended / total, 0.0),
        )


def _concerned(evidence: Evidence, count: int) -> Floats:
    """(H,) 1 for what makes at least one thing so that was found wrong, BESIDE for what makes
    none of them. 1 for all while nothing was found wrong, and for the healthy machine, whose
    prior is that of a complaint without a defect."""
    misses: Floats = np.ones(count)
    causes = [told.causes for told in evidence.told if told.causes is not None]
    for one in causes:
        misses = misses * (1.0 - one)
    factor: Floats = 1.0 - (1.0 - BESIDE) * misses if causes else np.ones(count)
    factor[0] = 1.0
    return factor


def emission(segment: Segment, *, sometimes: bool) -> tuple[Floats, Floats]:
    """(H, W or 1) ratio of a stretch's findings while the defect shows, and while it is gone.
    Meter readings share the coin of a misplaced lead."""
    sides: list[Floats] = []
    for gone in (False, True):
        plain: Floats = np.ones((1, 1))
        leads: Floats = np.ones((1, 1))
        any_lead = False
        for factor in segment.factors:
            told = factor.gone if gone else factor.present
            if sometimes and factor.jumps is not None:
                told = factor.jumps
            if factor.lead:
                any_lead = True
                leads = leads * told
            else:
                plain = plain * told
        if any_lead:
            plain = plain * ((1.0 - WRONG_PLACE) * leads + WRONG_PLACE)
        sides.append(plain)
    return sides[0], sides[1]


def coin(told: Sequence[tuple[ListFactor, int]]) -> Floats:
    """(H, W or 1) ratio of the code lists of one unit, each with the state (1 = present) it was
    read in, with the coin "rule wrong in the book" of every rule summed out."""
    codes = dict.fromkeys(code for lists, _ in told for code in lists.rules)
    total: Floats = np.ones((1, 1))
    for code in codes:
        ratio: Floats = np.ones((1, 1))
        for lists, state in told:
            rule = lists.rules.get(code)
            if rule is not None:
                ratio = ratio * (rule.present if state else rule.gone)
                if rule.past is not None:
                    ratio = ratio * rule.past
        total = total * ((1.0 - RULE_WRONG) * ratio + RULE_WRONG)
    return total


def _levels(evidence: Evidence, *, sometimes: bool) -> tuple[dict[Condition, Floats], int]:
    """Per condition (K, H or 1, 1) chance of showing, over all combinations of levels."""
    used: dict[Condition, None] = {s.condition: None for s in evidence.segments}
    for segment in evidence.segments:
        for condition in segment.only_when:
            used |= {condition: None, "": None}
    if not sometimes or not used:
        return {condition: np.ones((1, 1, 1)) for condition in used}, 1
    combos = np.array(list(product(RHO, repeat=len(used))))
    rho: dict[Condition, Floats] = {}
    for number, condition in enumerate(sorted(used)):
        odds = (combos[:, number] / (1.0 - combos[:, number]))[:, None, None]
        factor = evidence.odds.get(condition)
        if factor is not None:
            odds = odds * factor[None, :, None]
        rho[condition] = odds / (1.0 + odds)
    return rho, len(combos)


def _only_when(segment: Segment, rho: dict[Condition, Floats], *, sometimes: bool) -> Floats | None:
    """(K, H or 1, 1) ratio of "only when ...": it shows then, and does not otherwise."""
    told: Floats | None = None
    for condition in segment.only_when:
        if sometimes and condition:
            one = rho[condition] * (1.0 - rho[""])
        else:
            one = np.full((1, 1, 1), ONLY_WHEN_STEADY)
        told = one if told is None else told * one
    return told


def _times(ratio: Floats, steady: Floats | None) -> Floats:
    return ratio if steady is None else ratio[None] * steady


def _plus(a: Floats | None, b: Floats | None) -> Floats | None:
    if a is None or b is None:
        return b if a is None else a
    return a + b


def _redraw(one: _States, rho: Floats) -> None:
    total = _plus(one.gone, one.present)
    if total is not None:
        one.present = total * rho
        one.gone = total - one.present


def _change(one: _States, segment: Segment) -> None:
    if segment.mended is not None and segment.mended.any():
        share = CURED_BY_REPAIR * segment.mended[:, None]
        for name in ("gone", "present"):
            part: Floats | None = getattr(one, name)
            if part is not None:
                one.mended = _plus(one.mended, part * share)
                setattr(one, name, part * (1.0 - share))
    if segment.disturbed is not None and segment.disturbed.any() and one.present is not None:
        moved = one.present * (CURED_BY_TOUCH * segment.disturbed[:, None])
        one.gone = _plus(one.gone, moved)
        one.present = one.present - moved


def _emit(one: _States, present: Floats, gone: Floats) -> None:
    if one.present is not None:
        one.present = one.present * present
    if one.gone is not None:
        one.gone = one.gone * gone
    if one.mended is not None:
        one.mended = one.mended * gone


@dataclass(frozen=True, slots=True)
class _Told:
    """The code lists of one coin: (segment, list) in order."""

    lists: tuple[tuple[int, ListFactor], ...]

    @property
    def last(self) -> int:
        return self.lists[-1][0]


def _lists(segments: Sequence[Segment]) -> tuple[_Told, ...]:
    by_unit: dict[str, list[tuple[int, ListFactor]]] = {}
    for number, segment in enumerate(segments):
        for told in segment.lists:
            by_unit.setdefault(told.unit, []).append((number, told))
    return tuple(
        _Told(tuple(lists[first : first + LISTS]))
        for lists in by_unit.values()
        for first in range(0, len(lists), LISTS)
    )


def _tell_lists(
    states: dict[History, _States], number: int, segment: Segment, lists: Sequence[_Told]
) -> dict[History, _States]:
    """Sums out the coins whose last list is in this stretch, remembers the state for the rest."""
    if not segment.lists:
        return states
    due = [told for told in lists if told.last == number]
    open_still = {
        at for told in lists if told.last > number for at, _ in told.lists if at <= number
    }
    merged: dict[History, _States] = {}
    for history, one in states.items():
        for state in (0, 1):
            known = dict(history) | {number: state}
            ratio: Floats = np.ones((1, 1))
            for told in due:
                ratio = ratio * coin([(which, known[at]) for at, which in told.lists])
            part = (
                _States(None, None, one.present) if state else _States(one.mended, one.gone, None)
            )
            _emit(part, ratio, ratio)
            key = tuple((at, z) for at, z in sorted(known.items()) if at in open_still)
            if key in merged:
                merged[key].add(part)
            else:
                merged[key] = part
    return {key: one for key, one in merged.items() if one.each()} or states


def _normalise(states: dict[History, _States]) -> float:
    """Scales the largest weight to 1; returns the natural log of what was taken out."""
    top = max(float(part.max()) for one in states.values() for part in one.each())
    if not 0.0 < top < np.inf:
        return 0.0
    for one in states.values():
        for name in ("mended", "gone", "present"):
            part: Floats | None = getattr(one, name)
            if part is not None:
                setattr(one, name, part / top)
    return float(np.log(top))
