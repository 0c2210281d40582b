"""The filter: does the defect show in this visit, is it gone, is it mended?

A defect that is always there stays until it is mended; one that comes and goes is drawn anew at every
visit, with one chance per condition that is integrated over. Of two faults each has a state of its own:
what the repair of one leaves is the other. "Rule wrong in the book" is one coin per rule for the whole job:
what showed at earlier code lists is remembered until the last of a few stretches with lists, where the
coin is summed out (`recursion.py`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from backprobe.defects.atoms import of_atoms
from backprobe.defects.model import Defects, Floats, Ints
from backprobe.suspects.evidence import Evidence, without
from backprobe.suspects.factor import RuleFactor
from backprobe.suspects.left_out import left_out
from backprobe.suspects.looks import looked_at_both
from backprobe.suspects.recursion import MENDED, PRESENT, Course, Known, through

BESIDE = 0.01
"""Factor on a defect that has nothing to do with anything found wrong: the machine came because
of what was found, so this defect would have to be there besides. Judgement: a machine that comes
in for one thing has another, hidden one in one case of a hundred."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Filtered:
    """`log_lik` (H,) natural log of the ratio of all findings; `present` (H,) chance that the
    defect shows at the end; `mended` (H,) chance that its repair took hold; `alone` (H, 2): of two
    faults, chance that only the first, only the second is left; zero for singles."""

    log_lik: Floats
    present: Floats
    mended: Floats
    alone: Floats

    def put(self, rows: Ints, other: Filtered) -> Filtered:
        """The same with some rows taken from another."""
        fresh = {
            name: getattr(self, name).copy() for name in ("log_lik", "present", "mended", "alone")
        }
        for name, values in fresh.items():
            values[rows] = getattr(other, name)
        return Filtered(**fresh)

    def then(self, other: Filtered) -> Filtered:
        """These hypotheses and then the others."""
        return Filtered(
            log_lik=np.concatenate([self.log_lik, other.log_lik]),
            present=np.concatenate([self.present, other.present]),
            mended=np.concatenate([self.mended, other.mended]),
            alone=np.concatenate([self.alone, other.alone]),
        )


@dataclass(frozen=True, slots=True)
class Two:
    """The evidence of two faults, row by row: of both, of either alone, of a sound machine."""

    both: Evidence
    first: Evidence
    second: Evidence
    none: Evidence


def two_of(singles: Evidence, both: Evidence, first: Ints, second: Ints) -> Two:
    """The evidence of two faults, of which the singles `first`, `second` (m,) are the halves."""
    one, other = (with_past(singles.only(part), both) for part in (first, second))
    return Two(_seen(both, one, other), one, other, sound(singles, both))


def _seen(both: Evidence, one: Evidence, other: Evidence) -> Evidence:
    """The evidence of two faults, each of which shows to the eye where it sits itself."""
    segments = []
    for segment, *apart in zip(both.segments, one.segments, other.segments, strict=True):
        factors = zip(segment.factors, *(each.factors for each in apart), strict=True)
        seen = tuple(looked_at_both(*each) for each in factors)
        segments.append(replace(segment, factors=seen))
    return replace(both, segments=tuple(segments))


def sound(singles: Evidence, whole: Evidence) -> Evidence:
    """The evidence of a machine on which all is mended: that of a healthy one, with the past of
    `whole`. Whoever mends a fault fits new fuses where it blew them (common practice, no source)."""
    return with_past(singles.only(np.zeros(1, np.int64)), whole)


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """Evidence laid out for filtering `count` hypotheses. `none`: that of a sound machine, where something
    was mended; `rows` (m,) the hypotheses of two faults, `two` what they say, `comes` (m, 2) how often
    each comes and goes. `known`: what stretches say, remembered from one run to the next."""

    whole: Evidence
    count: int
    none: Evidence | None
    rows: Ints
    two: Two | None = None
    comes: Floats | None = None
    known: Known = field(default_factory=Known, repr=False)


def laid(evidence: Evidence, defects: Defects) -> Laid:
    """The evidence of all hypotheses of some defects, those of two faults among them."""
    rows, count = defects.twofold, defects.atom_of.size
    mended = any(segment.mended is not None for segment in evidence.segments)
    none = sound(evidence, evidence) if mended else None
    if not rows.size or defects.halves is None:
        return Laid(whole=evidence, count=count, none=none, rows=rows)
    first, second = defects.halves[rows].T
    return Laid(
        whole=evidence,
        count=count,
        none=none,
        rows=rows,
        two=two_of(evidence, evidence.only(rows), first, second),
        comes=comes_of(defects, first, second),
    )


def filtered(told: Laid, *, sometimes: bool) -> Filtered:
    """Filters all hypotheses, those of two faults among them."""
    result = _run(_of_one(told, sometimes=sometimes))
    if told.two is None or told.comes is None:
        return result
    two = forward_two(told.two, told.comes, told.known, sometimes=sometimes)
    return result.put(told.rows, two)


def filtered_without(told: Laid, findings: Sequence[str], *, sometimes: bool) -> Floats:
    """(F, H) the `log_lik` of filtered() as if each of some findings had never been made."""
    result = _left_out(_of_one(told, sometimes=sometimes), findings)
    if told.two is not None and told.comes is not None:
        courses = _of_two(told.two, len(told.comes), told.known, sometimes=sometimes)
        each = [_left_out(course, findings) for course in courses]
        result[:, told.rows] = _either(np.array(each), told.comes)[0] if sometimes else each[0]
    return result


def forward_two(two: Two, comes: Floats, known: Known, *, sometimes: bool) -> Filtered:
    """Filters hypotheses of two faults; `comes` (m, 2): how often each comes and goes. Sometimes: one
    of the two does, the other is always there. `known`: see Laid."""
    told = [_run(course) for course in _of_two(two, len(comes), known, sometimes=sometimes)]
    if not sometimes:
        return told[0]
    total, weight = _either(np.array([one.log_lik for one in told]), comes)
    return Filtered(
        log_lik=total,
        present=weight[0] * told[0].present + weight[1] * told[1].present,
        mended=weight[0] * told[0].mended + weight[1] * told[1].mended,
        alone=weight[0][:, None] * told[0].alone + weight[1][:, None] * told[1].alone,
    )


def _of_one(told: Laid, *, sometimes: bool) -> Course:
    """The course of one defect, through all stretches of a job."""
    sides = {1: (told.whole, True), -1: (told.whole, False)}
    if told.none is not None:
        sides[0] = told.none, True
    comes = 0 if sometimes else None
    return Course(sides=sides, parts=(told.whole,), count=told.count, comes=comes, known=told.known)


def _of_two(two: Two, count: int, known: Known, *, sometimes: bool) -> list[Course]:
    """That of two faults; of those of which one comes and goes, once for either."""
    sides = {
        3: (two.both, True),
        2: (two.second, True),
        1: (two.first, True),
        0: (two.none, True),
        -1: (two.first, False),
        -2: (two.second, False),
        -3: (two.both, False),
    }
    parts = (two.first, two.second)
    return [
        Course(sides=sides, parts=parts, count=count, comes=which, known=known)
        for which in ((0, 1) if sometimes else (None,))
    ]


def _either(log_lik: Floats, comes: Floats) -> tuple[Floats, Floats]:
    """(..., m) ln likelihood of two faults, the first or the second of which comes and goes, from that of
    either (2, ..., m), and their shares (2, ..., m)."""
    odds = comes * (1.0 - comes[:, ::-1])
    share = (odds / np.maximum(odds.sum(axis=1, keepdims=True), 1e-300)).T
    with np.errstate(divide="ignore"):
        log = np.log(share).reshape(2, *(1,) * (log_lik.ndim - 2), -1) + log_lik
    total = np.logaddexp(log[0], log[1])
    return total, np.exp(log - np.where(np.isfinite(total), total, 0.0))


def comes_of(defects: Defects, first: Ints, second: Ints) -> Floats:
    """(m, 2) how often each of two faults comes and goes."""
    each = of_atoms(defects, getattr, "sometimes")[defects.atom_of]
    return np.stack([each[first], each[second]], axis=1)


def with_past(alone: Evidence, both: Evidence) -> Evidence:
    """The evidence of one of two faults; stored codes tell of the time both were there."""
    segments = []
    for segment, whole in zip(alone.segments, both.segments, strict=True):
        lists = [
            replace(one, rules=_past_of(one.rules, other.rules))
            for one, other in zip(segment.lists, whole.lists, strict=True)
        ]
        segments.append(replace(segment, lists=tuple(lists)))
    return replace(alone, segments=tuple(segments))


def _past_of(now: dict[str, RuleFactor], whole: dict[str, RuleFactor]) -> dict[str, RuleFactor]:
    """Rules with the stored codes of others; most lists have none."""
    return {
        code: rule if (past := whole[code].past) is rule.past else replace(rule, past=past)
        for code, rule in now.items()
    }


def _run(course: Course) -> Filtered:
    """The recursion to its end."""
    rho, levels = course.coming()
    whole, count = course.whole, course.count
    states, log_scale = through(course, rho, course.start(levels, 1.0 / levels))
    total, shows_now, mended = np.zeros(count), np.zeros(count), np.zeros(count)
    alone = np.zeros((count, 2))
    for one in states.values():
        for state, part_of in one.items():
            weight = part_of.sum(axis=0) @ whole.world
            total += weight
            left = [k for k, each in enumerate(state) if each != MENDED]
            if not left:
                mended += weight
            elif len(left) < len(course.parts):
                alone[:, left[0]] += weight
            if PRESENT in state:
                shows_now += weight
    safe = np.where(total > 0.0, total, 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return Filtered(
            log_lik=np.log(total) + log_scale + np.log(_concerned(whole, count)),
            present=shows_now / safe,
            mended=mended / safe,
            alone=alone / safe[:, None],
        )


def _left_out(course: Course, findings: Sequence[str]) -> Floats:
    """(F, H) the `log_lik` of _run() without each of some findings."""
    concerned = [_concerned(without(course.whole, finding), course.count) for finding in findings]
    told: Floats = left_out(course, findings) + np.log(concerned).reshape(-1, course.count)
    return told


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
