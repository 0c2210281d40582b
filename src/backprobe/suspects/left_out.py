"""How likely all findings but one are, for each of them in turn, in one pass to the end and one back.

What all findings come to is a sum over the ways the states may have gone, in which each stretch has one
factor by side, and so have the code lists that share a toss. How much the sum changes with such a factor
is found for all of them on the way back (reverse accumulation: Griewank and Walther, Evaluating
Derivatives, chapter 3, from memory); the factor without one finding, times that, is the sum without it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np

from backprobe.defects.model import Floats
from backprobe.findings.model import Condition
from backprobe.suspects.emission import emission
from backprobe.suspects.evidence import Segment, without
from backprobe.suspects.recursion import (
    GONE,
    MENDED,
    PRESENT,
    Course,
    History,
    Step,
    Weights,
    share_mended,
    share_touched,
    side_of,
    through,
    turned,
)

Key = TypeVar("Key")

AT_ONCE = 2_000_000
"""Weights by state of all stretches that are kept for the way back; levels are gone through in as many turns
as that asks for."""


@dataclass(slots=True)
class Slopes:
    """How much the sum changes: with what stretch and side say (H, W), and with the coins that fall in a
    stretch, by history and side (H,)."""

    told: dict[tuple[int, int], Floats] = field(default_factory=dict)
    lists: dict[int, dict[tuple[History, int], Floats]] = field(default_factory=dict)


def left_out(course: Course, findings: Sequence[str]) -> Floats:
    """(F, H) ln likelihood of all findings without each of some, nothing found wrong yet counted."""
    rho, levels = course.coming()
    size = course.count * course.whole.world.size * len(course.whole.segments) * 4
    some = max(1, min(levels, AT_ONCE // max(size, 1)))
    simple = [finding for finding in findings if _is_simple(course, finding)]
    told: dict[str, Floats] = {}
    for first in range(0, levels, some):
        cut = {
            name: one[first : first + some] if one.shape[0] > 1 else one
            for name, one in rho.items()
        }
        here = _of_levels(course, cut, min(some, levels - first), 1.0 / levels, simple)
        told = {
            name: np.logaddexp(told[name], here[name]) if name in told else here[name]
            for name in simple
        }
    for finding in findings:
        if finding not in told:
            told[finding] = _again(course, finding)
    return np.array([told[finding] for finding in findings]).reshape(len(findings), course.count)


def _is_simple(course: Course, finding: str) -> bool:
    """Whether a finding has a say in one factor of the sum alone."""
    tosses = course.tosses
    places = 0
    for segment in course.whole.segments:
        places += any(factor.finding == finding for factor in segment.factors)
        places += any(one.finding == finding for one in segment.lists) * max(1, len(tosses))
    return places == 1


def _again(course: Course, finding: str) -> Floats:
    """(H,) the same for one finding, by going through everything again."""
    rest = replace(
        course,
        sides={
            side: (without(evidence, finding), shows)
            for side, (evidence, shows) in course.sides.items()
        },
        parts=tuple(without(part, finding) for part in course.parts),
    )
    rho, levels = rest.coming()
    states, scale = through(rest, rho, rest.start(levels, 1.0 / levels))
    total: Floats = np.zeros(course.count)
    for one in states.values():
        for weight in one.values():
            total += weight.sum(axis=0) @ course.whole.world
    with np.errstate(divide="ignore"):
        return np.log(total) + scale


def _of_levels(
    course: Course,
    rho: Mapping[Condition, Floats],
    levels: int,
    share: float,
    findings: Sequence[str],
) -> dict[str, Floats]:
    """(H,) the same over some levels, by finding."""
    gone: list[Step] = []
    states, scale = through(course, rho, course.start(levels, share), gone)
    slopes = _slopes(course, rho, gone, states)
    with np.errstate(divide="ignore"):
        return {name: np.log(_total(course, gone, slopes, name)) + scale for name in findings}


def _total(course: Course, gone: Sequence[Step], slopes: Slopes, finding: str) -> Floats:
    """(H,) the sum without one finding."""
    whole = course.whole.segments
    at = next(
        number for number, segment in enumerate(whole) if segment.without(finding) is not segment
    )
    total: Floats = np.zeros(course.count)
    if any(one.finding == finding for one in whole[at].lists):
        (toss,) = course.tosses
        for (history, side), slope in slopes.lists[toss.last].items():
            seen = dict(history) | {toss.last: side}
            total += slope * course.told(toss, seen, without=finding)[:, 0]
        return total
    jumps = course.jumps(at)
    for side in gone[at].told:
        evidence, shows = course.sides[side]
        ratio = emission(
            evidence.segments[at].without(finding),
            shows=shows,
            jumps=jumps.without(finding) if jumps is not None and side else None,
        )
        total += (slopes.told[at, side] * ratio).sum(axis=1)
    return total


def _slopes(
    course: Course,
    rho: Mapping[Condition, Floats],
    gone: Sequence[Step],
    states: dict[History, Weights],
) -> Slopes:
    """The way back: `ahead` is what a weight comes to by the end, over itself."""
    found = Slopes()
    world = course.whole.world[None, None, :]
    ahead: dict[History, Weights] = {
        history: dict.fromkeys(one, world) for history, one in states.items()
    }
    for number in reversed(range(len(gone))):
        step, segment = gone[number], course.whole.segments[number]
        after, ahead = ahead, {}
        for history, one in step.before.items():
            ahead[history] = {}
            for state, weight in one.items():
                side = side_of(state)
                key, coins = step.lists.get((history, side), (history, None))
                come = after[key][state] / step.scale
                if coins is not None:
                    fell = (weight * step.told[side] * come).sum(axis=(0, 2))
                    _add(found.lists.setdefault(number, {}), (history, side), fell)
                    come = come * coins
                steady = weight if step.steady is None else weight * step.steady
                _add(found.told, (number, side), (steady * come).sum(axis=0))
                ahead[history][state] = come * step.told[side]
            for part in reversed(range(len(course.parts))):
                _change_back(ahead[history], part, course.parts[part].segments[number])
            if course.comes is not None and segment.redraw:
                _redraw_back(ahead[history], course.comes, rho[segment.condition])
    return found


def _add(slopes: dict[Key, Floats], key: Key, more: Floats) -> None:
    slopes[key] = slopes[key] + more if key in slopes else more


def _change_back(ahead: Weights, part: int, segment: Segment) -> None:
    """Touches and repairs of one part."""
    if (share := share_touched(segment)) is not None:
        for state in [state for state in ahead if state[part] == PRESENT]:
            moved = ahead[turned(state, part, GONE)]
            ahead[state] = ahead[state] * (1.0 - share) + moved * share
    if (share := share_mended(segment)) is not None:
        for state in [state for state in ahead if state[part] != MENDED]:
            done = ahead[turned(state, part, MENDED)]
            ahead[state] = ahead[state] * (1.0 - share) + done * share


def _redraw_back(ahead: Weights, part: int, rho: Floats) -> None:
    """What comes and goes shows or does not, whatever it did before."""
    for state in [state for state in ahead if state[part] == PRESENT]:
        other = turned(state, part, GONE)
        ahead[state] = ahead[other] = ahead[state] * rho + ahead[other] * (1.0 - rho)
