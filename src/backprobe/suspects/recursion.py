"""The recursion of the filter: one stretch after the other, exact for every hypothesis at once.

A weight stands for every state that the faults may be in (and for what showed at the code lists whose
coins are still in the air); redraws, repairs and touches move it, findings multiply it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product

import numpy as np

from backprobe.defects.model import Floats
from backprobe.findings.model import Condition
from backprobe.suspects.coin import Coins, Lists
from backprobe.suspects.emission import emission
from backprobe.suspects.evidence import Evidence, Segment
from backprobe.suspects.factor import RHO, ListFactor
from backprobe.suspects.looks import ONLY_WHEN_STEADY

CURED_BY_TOUCH = 0.2
"""Chance that moving a plug or part ends a defect there, for the time being. Judgement."""
CURED_BY_REPAIR = 0.97
"""Chance that the repair of the right place ends it for good. Judgement."""
LISTS = 4
"""Stretches with code lists whose states are remembered until the rules' coins are summed out. Later ones of a
defect that is always there know what the earlier ones told of the coin; of one that comes and
goes they toss their own."""

MENDED, GONE, PRESENT = 0, 1, 2
State = tuple[int, ...]
"""That of every part: one for a single, two for two faults."""
History = tuple[tuple[int, int], ...]
"""(stretch, side_of() the state in it) at code lists whose coin is still in the air."""
Weights = dict[State, Floats]
"""(K, H, W) by state."""
Sides = Mapping[int, tuple[Evidence, bool]]
"""By side_of(): the evidence, and whether its `present` side counts."""


@dataclass(frozen=True, slots=True)
class Known:
    """What was worked out already and is asked for again when one finding is left out: what emission() and
    coin() came to."""

    emissions: dict[tuple[Segment, bool, Segment | None], Floats] = field(default_factory=dict)
    coins: Coins = field(default_factory=Coins)

    def emission(self, segment: Segment, *, shows: bool, jumps: Segment | None) -> Floats:
        """The same, worked out once."""
        key = segment, shows, jumps
        if key not in self.emissions:
            self.emissions[key] = emission(segment, shows=shows, jumps=jumps)
        return self.emissions[key]


@dataclass(frozen=True, slots=True)
class Toss:
    """The code lists of one toss of the coins: (stretch, place in it) in order; `before`: earlier ones."""

    lists: tuple[tuple[int, int], ...]
    before: tuple[tuple[int, int], ...]

    @property
    def last(self) -> int:
        """The stretch in which the coins are summed out."""
        return self.lists[-1][0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """What `count` hypotheses go through. `parts`: what each part was exposed to; `comes`: the one that
    comes and goes, None when all are always there."""

    sides: Sides
    parts: tuple[Evidence, ...]
    count: int
    comes: int | None
    known: Known

    @property
    def whole(self) -> Evidence:
        """The evidence while every part shows."""
        return self.sides[(1 << len(self.parts)) - 1][0]

    @property
    def tosses(self) -> tuple[Toss, ...]:
        """The code lists, by the toss they share."""
        every = self.whole.segments
        places = [(n, k) for n, segment in enumerate(every) for k in range(len(segment.lists))]
        with_lists = sorted({number for number, _ in places})
        found: list[Toss] = []
        for first in range(0, len(with_lists), LISTS):
            some = with_lists[first : first + LISTS]
            now = tuple(at for at in places if some[0] <= at[0] <= some[-1])
            found.append(Toss(now, tuple(at for at in places if at[0] < some[0])))
        return tuple(found)

    def coming(self) -> tuple[dict[Condition, Floats], int]:
        """Per condition (K, H or 1, 1) chance of showing, over all K combinations of levels."""
        evidence = self.parts[self.comes or 0]
        used: dict[Condition, None] = {s.condition: None for s in evidence.segments}
        for segment in evidence.segments:
            for condition in segment.only_when:
                used |= {condition: None, "": None}
        if self.comes is None or not used:
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

    def start(self, levels: int, share: float) -> dict[History, Weights]:
        """All parts show, at each of so many levels as likely."""
        weight = np.full((levels, self.count, self.whole.world.size), share)
        return {(): {(PRESENT,) * len(self.parts): weight}}

    def jumps(self, number: int) -> Segment | None:
        """The stretch of what comes and goes."""
        return None if self.comes is None else self.parts[self.comes].segments[number]

    def seen_by(self, side: int, at: tuple[int, int]) -> tuple[ListFactor, int]:
        """A code list as it was read on a side, with the state it was read in."""
        evidence, shows = self.sides[side]
        return evidence.segments[at[0]].lists[at[1]], int(shows)

    def told(self, toss: Toss, seen: Mapping[int, int], without: str = "") -> Floats:
        """(H or 1, 1) what the lists of a toss say, by the side `seen` in each stretch; `without` those of
        one finding. Earlier lists of what is always there were read while all of it showed."""
        every = max(self.sides)
        earlier = toss.before if self.comes is None else ()
        lists: Lists = tuple(self.seen_by(seen[at[0]], at) for at in toss.lists)
        before: Lists = tuple(self.seen_by(every, at) for at in earlier)
        if without:
            lists = tuple(one for one in lists if one[0].finding != without)
        return self.known.coins.coin(lists, before)


@dataclass(slots=True)
class Step:
    """How one stretch changed the weights. `before`: those that its findings found; `told` by side (K, H, W),
    `steady` its share that is no finding's; `lists`: by history and side, the history it became and the
    ratio of the coins that fell; `scale`: what all was divided by."""

    before: dict[History, Weights]
    told: dict[int, Floats]
    steady: Floats | None
    lists: dict[tuple[History, int], tuple[History, Floats]]
    scale: float = 1.0


def steps(
    course: Course, rho: Mapping[Condition, Floats], states: dict[History, Weights]
) -> Iterator[tuple[Step, dict[History, Weights]]]:
    """Each stretch, and the weights after it; `states` those before the first."""
    tosses, comes = course.tosses, course.comes
    for number, segment in enumerate(course.whole.segments):
        steady = _only_when(segment, rho, sometimes=comes is not None)
        jumps = course.jumps(number)
        before: dict[History, Weights] = {}
        after: dict[History, Weights] = {}
        told: dict[int, Floats] = {}
        for history, one in states.items():
            if comes is not None and segment.redraw:
                _redraw(one, comes, rho[segment.condition])
            for part, evidence in enumerate(course.parts):
                _change(one, part, evidence.segments[number])
            before[history] = one
            after[history] = spoken = {}
            for state in one:
                side = side_of(state)
                if side not in told:
                    evidence, shows = course.sides[side]
                    ratio = course.known.emission(
                        evidence.segments[number], shows=shows, jumps=jumps if side else None
                    )
                    told[side] = ratio if steady is None else ratio[None] * steady
                spoken[state] = one[state] * told[side]
        step = Step(before, told, steady, {})
        if segment.lists:
            after = _tell_lists(course, after, number, tosses, step)
        step.scale = _normalise(after)
        states = {history: dict(one) for history, one in after.items()}
        yield step, after


def through(
    course: Course,
    rho: Mapping[Condition, Floats],
    states: dict[History, Weights],
    gone: list[Step] | None = None,
) -> tuple[dict[History, Weights], float]:
    """All stretches: the weights at the end and the natural log of what was taken out of them. `gone`: the
    stretches are added there, where they are to be gone back through."""
    scale = 0.0
    for step, after in steps(course, rho, states):
        states, scale = after, scale + float(np.log(step.scale))
        if gone is not None:
            gone.append(step)
    return states, scale


def side_of(state: State) -> int:
    """The parts that show, as bits; when none does, those still to mend, as bits below zero."""
    shows = sum(1 << part for part, each in enumerate(state) if each == PRESENT)
    return shows or -sum(1 << part for part, each in enumerate(state) if each != MENDED)


def turned(state: State, part: int, to: int) -> State:
    """The same with one part in another state."""
    return (*state[:part], to, *state[part + 1 :])


def share_mended(segment: Segment) -> Floats | None:
    """(H, 1) share of the weight whose part a stretch mends, None when it mends nothing."""
    if segment.mended is None or not segment.mended.any():
        return None
    share: Floats = np.where(segment.mended, CURED_BY_REPAIR, 0.0)
    return share[:, None]


def share_touched(segment: Segment) -> Floats | None:
    """(H, 1) share of the weight whose part stops showing because it was touched."""
    if segment.disturbed is None or not segment.disturbed.any():
        return None
    share: Floats = np.where(segment.disturbed, CURED_BY_TOUCH, 0.0)
    return share[:, None]


def _only_when(
    segment: Segment, rho: Mapping[Condition, Floats], *, sometimes: bool
) -> Floats | None:
    """(K, H or 1, 1) ratio of "only when ...": it shows then, and does not otherwise."""
    told: Floats | None = None
    for condition in segment.only_when:
        if sometimes and condition:
            one = rho[condition] * (1.0 - rho[""])
        else:
            one = np.full((1, 1, 1), ONLY_WHEN_STEADY)
        told = one if told is None else told * one
    return told


def _add(one: Weights, state: State, weight: Floats) -> None:
    one[state] = one[state] + weight if state in one else weight


def _redraw(one: Weights, part: int, rho: Floats) -> None:
    """What comes and goes shows or does not, whatever it did in the visit before."""
    drawn: Weights = {}
    for state in list(one):
        if state[part] != MENDED:
            _add(drawn, turned(state, part, PRESENT), one.pop(state))
    for state, total in drawn.items():
        one[state] = total * rho
        one[turned(state, part, GONE)] = total - one[state]


def _change(one: Weights, part: int, segment: Segment) -> None:
    """Repairs and touches of one part."""
    if (share := share_mended(segment)) is not None:
        for state in [state for state in one if state[part] != MENDED]:
            _add(one, turned(state, part, MENDED), one[state] * share)
            one[state] = one[state] * (1.0 - share)
    if (share := share_touched(segment)) is not None:
        for state in [state for state in one if state[part] == PRESENT]:
            moved = one[state] * share
            _add(one, turned(state, part, GONE), moved)
            one[state] = one[state] - moved


def _tell_lists(
    course: Course,
    states: dict[History, Weights],
    number: int,
    tosses: Sequence[Toss],
    step: Step,
) -> dict[History, Weights]:
    """Sums out the coins whose last list is in this stretch, remembers what showed for the rest."""
    due = [toss for toss in tosses if toss.last == number]
    open_still = {
        at for toss in tosses if toss.last > number for at, _ in toss.lists if at <= number
    }
    merged: dict[History, Weights] = {}
    for history, one in states.items():
        for side in sorted({side_of(state) for state in one}, reverse=True):
            seen = dict(history) | {number: side}
            ratio: Floats = np.ones((1, 1))
            for toss in due:
                ratio = ratio * course.told(toss, seen)
            key = tuple((at, z) for at, z in sorted(seen.items()) if at in open_still)
            step.lists[history, side] = key, ratio
            into = merged.setdefault(key, {})
            for state, weight in one.items():
                if side_of(state) == side:
                    _add(into, state, weight * ratio if due else weight)
    return merged


def _normalise(states: dict[History, Weights]) -> float:
    """Scales the largest weight to 1; returns what it was, 1 where there is none to scale by."""
    top = max(float(part.max()) for one in states.values() for part in one.values())
    if not 0.0 < top < np.inf:
        return 1.0
    for one in states.values():
        for weight in one.values():
            np.divide(weight, top, out=weight)  # made in this stretch, nobody else has it
    return top
