"""The filter: does the defect show in this visit, is it gone, is it mended?

Forward recursion over stretches, exact for every hypothesis at once. A defect that is always
there stays until it is mended; one that comes and goes is drawn anew at every visit, with one
chance per condition that is integrated over. Of two faults each has a state of its own: what the
repair of one leaves is the other. "Rule wrong in the book" is one coin per rule for the whole job:
what showed at earlier code lists is remembered until the last of a few stretches with lists, where the
coin is summed out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np

from backprobe.defects.atoms import of_atoms
from backprobe.defects.model import Defects, Floats, Ints
from backprobe.findings.model import Condition
from backprobe.suspects.coin import Lists, coin
from backprobe.suspects.evidence import Evidence, Segment, without
from backprobe.suspects.factor import RHO, Factor, ListFactor
from backprobe.suspects.looks import ONLY_WHEN_STEADY, looked_at_both

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
BESIDE_PIN = 0.01
"""Chance per pin and visit that the one beside it in the plug was probed. Judgement: miscounting a
pin is the commonest way to a wrong place."""
LISTS = 4
"""Stretches with code lists whose states are remembered until the rules' coins are summed out. Later ones of a
defect that is always there know what the earlier ones told of the coin; of one that comes and
goes they toss their own."""

MENDED, GONE, PRESENT = 0, 1, 2
History = tuple[tuple[int, int], ...]
"""(stretch, _side() of the state in it) at code lists whose coin is still in the air."""
Weights = dict[tuple[int, ...], Floats]
"""(K, H, W) by the state of every part: one for a single, two for two faults."""
Sides = Mapping[int, tuple[Evidence, bool]]
"""By _side(): the evidence, and whether its `present` side counts."""


@dataclass(frozen=True, slots=True)
class Known:
    """What was worked out already and is asked for again when one finding is left out: what emission() and
    coin() came to."""

    emissions: dict[tuple[Segment, bool, Segment | None], Floats] = field(default_factory=dict)
    coins: dict[tuple[Lists, Lists], Floats] = field(default_factory=dict)

    def emission(self, segment: Segment, *, shows: bool, jumps: Segment | None) -> Floats:
        """emission(), worked out once."""
        key = segment, shows, jumps
        if key not in self.emissions:
            self.emissions[key] = emission(segment, shows=shows, jumps=jumps)
        return self.emissions[key]

    def coin(self, told: Lists, before: Lists) -> Floats:
        """coin(), worked out once."""
        key = told, before
        if key not in self.coins:
            self.coins[key] = coin(told, before)
        return self.coins[key]


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

    def without(self, finding: str) -> Two:
        """As if one finding had never been made."""
        return Two(
            *(without(one, finding) for one in (self.both, self.first, self.second, self.none))
        )


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


def forward(told: Laid, *, sometimes: bool) -> Filtered:
    """Filters hypotheses of one defect, healthy first, through all stretches of a job."""
    sides = {1: (told.whole, True), -1: (told.whole, False)}
    if told.none is not None:
        sides[0] = told.none, True
    return _run(sides, (told.whole,), told.count, 0 if sometimes else None, told.known)


def forward_two(two: Two, comes: Floats, known: Known, *, sometimes: bool) -> Filtered:
    """Filters hypotheses of two faults; `comes` (m, 2): how often each comes and goes. Sometimes: one
    of the two does, the other is always there. `known`: see Laid."""
    sides = {
        3: (two.both, True),
        2: (two.second, True),
        1: (two.first, True),
        0: (two.none, True),
        -1: (two.first, False),
        -2: (two.second, False),
        -3: (two.both, False),
    }
    parts, count = (two.first, two.second), len(comes)
    if not sometimes:
        return _run(sides, parts, count, None, known)
    told = [_run(sides, parts, count, which, known) for which in (0, 1)]
    odds = comes * (1.0 - comes[:, ::-1])
    share = odds / np.maximum(odds.sum(axis=1, keepdims=True), 1e-300)
    with np.errstate(divide="ignore"):
        log = np.log(share).T + np.array([one.log_lik for one in told])
    total = np.logaddexp(log[0], log[1])
    weight = np.exp(log - np.where(np.isfinite(total), total, 0.0))
    return Filtered(
        log_lik=total,
        present=weight[0] * told[0].present + weight[1] * told[1].present,
        mended=weight[0] * told[0].mended + weight[1] * told[1].mended,
        alone=weight[0][:, None] * told[0].alone + weight[1][:, None] * told[1].alone,
    )


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

    def without(self, finding: str) -> Laid:
        """As if one finding had never been made."""
        return replace(
            self,
            whole=without(self.whole, finding),
            none=self.none and without(self.none, finding),
            two=self.two and self.two.without(finding),
        )


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
    result = forward(told, sometimes=sometimes)
    if told.two is None or told.comes is None:
        return result
    two = forward_two(told.two, told.comes, told.known, sometimes=sometimes)
    return result.put(told.rows, two)


def comes_of(defects: Defects, first: Ints, second: Ints) -> Floats:
    """(m, 2) how often each of two faults comes and goes."""
    each = of_atoms(defects, getattr, "sometimes")[defects.atom_of]
    return np.stack([each[first], each[second]], axis=1)


def with_past(alone: Evidence, both: Evidence) -> Evidence:
    """The evidence of one of two faults; stored codes tell of the time both were there."""
    segments = []
    for segment, whole in zip(alone.segments, both.segments, strict=True):
        lists = [
            replace(
                one,
                rules={
                    code: replace(rule, past=other.rules[code].past)
                    for code, rule in one.rules.items()
                },
            )
            for one, other in zip(segment.lists, whole.lists, strict=True)
        ]
        segments.append(replace(segment, lists=tuple(lists)))
    return replace(alone, segments=tuple(segments))


def _run(
    sides: Sides, parts: Sequence[Evidence], count: int, comes: int | None, known: Known
) -> Filtered:
    """The recursion. `parts`: what each part was exposed to; `comes`: the one that comes and
    goes."""
    every = (1 << len(parts)) - 1
    whole = sides[every][0]
    rho, levels = _levels(parts[comes or 0], sometimes=comes is not None)
    lists = _lists(whole.segments)
    start = np.full((levels, count, whole.world.size), 1.0 / levels)
    states: dict[History, Weights] = {(): {(PRESENT,) * len(parts): start}}
    log_scale = 0.0
    for number, segment in enumerate(whole.segments):
        steady = _only_when(segment, rho, sometimes=comes is not None)
        jumps = None if comes is None else parts[comes].segments[number]
        told: dict[int, Floats] = {}
        for one in states.values():
            if comes is not None and segment.redraw:
                _redraw(one, comes, rho[segment.condition])
            for part, evidence in enumerate(parts):
                _change(one, part, evidence.segments[number])
            for state in one:
                side = _side(state)
                if side not in told:
                    evidence, shows = sides[side]
                    ratio = known.emission(
                        evidence.segments[number], shows=shows, jumps=jumps if side else None
                    )
                    told[side] = ratio if steady is None else ratio[None] * steady
                one[state] = one[state] * told[side]
        states = _tell_lists(states, number, segment, lists, sides, known, always=comes is None)
        log_scale += _normalise(states)
    total, shows_now, mended = np.zeros(count), np.zeros(count), np.zeros(count)
    alone = np.zeros((count, 2))
    for one in states.values():
        for state, part_of in one.items():
            weight = part_of.sum(axis=0) @ whole.world
            total += weight
            left = [k for k, each in enumerate(state) if each != MENDED]
            if not left:
                mended += weight
            elif len(left) < len(parts):
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


def _side(state: tuple[int, ...]) -> int:
    """The parts that show, as bits; when none does, those still to mend, as bits below zero."""
    shows = sum(1 << part for part, each in enumerate(state) if each == PRESENT)
    return shows or -sum(1 << part for part, each in enumerate(state) if each != MENDED)


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


def emission(segment: Segment, *, shows: bool, jumps: Segment | None) -> Floats:
    """(H, W or 1) ratio of a stretch's findings on one side: while the defect shows, or while it
    does not. Meter readings share the coin of a misplaced lead. `jumps`: the stretch of what comes
    and goes, whose jumping readings count on either side."""
    plain: Floats = np.ones((1, 1))
    leads: dict[str, list[tuple[Factor, Floats]]] = {}
    for number, factor in enumerate(segment.factors):
        told = factor.present if shows else factor.gone
        if jumps is not None and (jump := jumps.factors[number].jumps) is not None:
            told = jump
        if factor.lead:
            leads.setdefault(factor.lead, []).append((factor, told))
        else:
            plain = plain * told
    if leads:
        right: Floats = np.ones((1, 1))
        for readings in leads.values():
            right = right * _at_one_place(readings, shows=shows)
        plain = plain * ((1.0 - WRONG_PLACE) * right + WRONG_PLACE)
    return plain


def _at_one_place(readings: Sequence[tuple[Factor, Floats]], *, shows: bool) -> Floats:
    """(H, W or 1) ratio of all readings at one pin in a visit: it was that pin, or one beside it
    every time."""
    right: Floats = np.ones((1, 1))
    for _, told in readings:
        right = right * told
    pins = readings[0][0].slips
    if not pins or any(len(factor.slips) != len(pins) for factor, _ in readings):
        return right
    wrong: Floats = np.zeros((1, 1))
    for number in range(len(pins)):
        there: Floats = np.ones((1, 1))
        for factor, _ in readings:
            slip = factor.slips[number]
            there = there * (slip.present if shows else slip.gone)
        wrong = wrong + there / len(pins)
    mixed: Floats = (1.0 - BESIDE_PIN) * right + BESIDE_PIN * wrong
    return mixed


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


def _add(one: Weights, state: tuple[int, ...], weight: Floats) -> None:
    one[state] = one[state] + weight if state in one else weight


def _turned(state: tuple[int, ...], part: int, to: int) -> tuple[int, ...]:
    return (*state[:part], to, *state[part + 1 :])


def _redraw(one: Weights, part: int, rho: Floats) -> None:
    """What comes and goes shows or does not, whatever it did in the visit before."""
    drawn: Weights = {}
    for state in list(one):
        if state[part] != MENDED:
            _add(drawn, _turned(state, part, PRESENT), one.pop(state))
    for state, total in drawn.items():
        one[state] = total * rho
        one[_turned(state, part, GONE)] = total - one[state]


def _change(one: Weights, part: int, segment: Segment) -> None:
    """Repairs and touches of one part."""
    if segment.mended is not None and segment.mended.any():
        share = CURED_BY_REPAIR * segment.mended[:, None]
        for state in [state for state in one if state[part] != MENDED]:
            _add(one, _turned(state, part, MENDED), one[state] * share)
            one[state] = one[state] * (1.0 - share)
    if segment.disturbed is not None and segment.disturbed.any():
        for state in [state for state in one if state[part] == PRESENT]:
            moved = one[state] * (CURED_BY_TOUCH * segment.disturbed[:, None])
            _add(one, _turned(state, part, GONE), moved)
            one[state] = one[state] - moved


@dataclass(frozen=True, slots=True)
class _Told:
    """The code lists of one toss: (segment, place in it) in order; `before`: earlier ones."""

    lists: tuple[tuple[int, int], ...]
    before: tuple[tuple[int, int], ...]

    @property
    def last(self) -> int:
        return self.lists[-1][0]


def _lists(segments: Sequence[Segment]) -> tuple[_Told, ...]:
    places = [(n, k) for n, segment in enumerate(segments) for k in range(len(segment.lists))]
    with_lists = sorted({number for number, _ in places})
    found: list[_Told] = []
    for first in range(0, len(with_lists), LISTS):
        some = with_lists[first : first + LISTS]
        now = tuple(at for at in places if some[0] <= at[0] <= some[-1])
        found.append(_Told(now, tuple(at for at in places if at[0] < some[0])))
    return tuple(found)


def _tell_lists(
    states: dict[History, Weights],
    number: int,
    segment: Segment,
    lists: Sequence[_Told],
    sides: Sides,
    known: Known,
    *,
    always: bool,
) -> dict[History, Weights]:
    """Sums out the coins whose last list is in this stretch, remembers what showed for the rest. Earlier
    lists of what is `always` there were read while all of it showed."""
    if not segment.lists:
        return states
    due = [told for told in lists if told.last == number]
    open_still = {
        at for told in lists if told.last > number for at, _ in told.lists if at <= number
    }
    every = max(sides)
    merged: dict[History, Weights] = {}
    for history, one in states.items():
        for side in sorted({_side(state) for state in one}, reverse=True):
            seen = dict(history) | {number: side}
            ratio: Floats = np.ones((1, 1))
            for told in due:
                ratio = ratio * known.coin(
                    tuple(_seen_by(sides[seen[at]], at, n) for at, n in told.lists),
                    tuple(_seen_by(sides[every], at, n) for at, n in told.before if always),
                )
            key = tuple((at, z) for at, z in sorted(seen.items()) if at in open_still)
            into = merged.setdefault(key, {})
            for state, weight in one.items():
                if _side(state) == side:
                    _add(into, state, weight * ratio)
    return merged


def _seen_by(side: tuple[Evidence, bool], at: int, number: int) -> tuple[ListFactor, int]:
    evidence, shows = side
    return evidence.segments[at].lists[number], int(shows)


def _normalise(states: dict[History, Weights]) -> float:
    """Scales the largest weight to 1; returns the natural log of what was taken out."""
    top = max(float(part.max()) for one in states.values() for part in one.values())
    if not 0.0 < top < np.inf:
        return 0.0
    for one in states.values():
        for state in one:
            one[state] = one[state] / top
    return float(np.log(top))
