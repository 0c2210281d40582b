"""Which check next, on chances and seconds alone.

Two ways to choose are kept (course.py): the check that saves most seconds one step ahead, and the
check that tells most per second until one suspect is left. Neither wins everywhere, so each of
the most promising first steps is judged by what the better way makes of each of its outcomes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from backprobe.checks.course import Ends, Way, at_once, first_steps, follow
from backprobe.checks.table import Table
from backprobe.checks.worth import Scores, repairs, score
from backprobe.defects.model import Floats, Ints

DEPTH = 5
"""Checks followed beyond the first. Two more change a promise by less than a thousandth (measured)."""
NEGLIGIBLE = 2e-3
FORGOTTEN = 2e-4
"""Below this share of the chance a story is left out of what is followed further."""
CANDIDATES = 32
"""Checks to go on with. From 16 to 32 a plan gets 2 % shorter on the demo machine, 10 % at best."""
LOOK_AHEAD = 6
ALIKE = 0.003
"""Checks whose whole savings differ by less than this share are alike: the one that tells most is
done, for it spares the technician a step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What to do next. `check` is its number in the table when `does` is "check", `group` the
    group to repair when it is "repair". `left_s`: expected seconds to the end of the job, with
    what repairs in vain cost beside their time; `ends`: where following it starts repairs;
    `ranking` (C,): checks from best to worst; `promise_s` (C,): expected seconds saved by each."""

    does: Literal["check", "repair", "stop"]
    check: int
    group: int
    left_s: float
    ends: Ends
    ranking: Ints
    promise_s: Floats
    scores: Scores


def expected_seconds(
    table: Table, mass: Floats, way: Way, *, depth: int = DEPTH, negligible: float = NEGLIGIBLE
) -> float:
    """Expected seconds to the end of the job when every check is chosen in one way, for at most
    `depth` checks and outcomes of at least `negligible` of the mass."""
    floor = np.array([negligible * float(mass.sum())])
    return float(follow(table, mass[None], way, depth=depth, negligible=floor).seconds(1)[0])


def best_step(
    table: Table,
    mass: Floats,
    *,
    look_ahead: int = LOOK_AHEAD,
    candidates: int = CANDIDATES,
    depth: int = DEPTH,
) -> Step:
    """The next step from the masses (K,) of the stories.

    The `look_ahead` best checks by either measure are compared by what the better way makes of
    each of their outcomes, with the `candidates` best to go on with.
    """
    scores = score(table, mass)
    some = _promising(table, scores, mass, candidates)
    looked_at = some[:look_ahead]
    promise, chosen = scores.saved_s.copy(), -1
    left_s, ends = scores.now_s, at_once(table, mass)
    if looked_at.size:
        narrow, light = _pruned(table, mass)
        small = narrow.only(some)
        now_s = float(at_once(small, light).seconds(1)[0])
        seconds, its_ends = first_steps(
            small, light, looked_at.size, depth=depth, negligible=NEGLIGIBLE
        )
        promise[looked_at] = now_s - seconds
        best_s = float(seconds.min())
        if best_s < now_s * (1.0 - 1e-9):
            alike = np.flatnonzero(seconds <= best_s * (1.0 + ALIKE))
            best = int(alike[np.argmax(score(small, light).bits[alike])])
            chosen, left_s, ends = int(looked_at[best]), float(seconds[best]), its_ends[best]
    group = -1 if chosen >= 0 else _first_repair(scores, table)
    return Step(
        does="check" if chosen >= 0 else "repair" if group >= 0 else "stop",
        check=chosen,
        group=group,
        left_s=left_s,
        ends=ends,
        ranking=_ranking(promise, looked_at, chosen),
        promise_s=promise,
        scores=scores,
    )


def _ranking(promise: Floats, followed: Ints, first: int) -> Ints:
    """Checks from best to worst. Those looked at further come first: theirs is the whole
    saving, that of the others only the first step's."""
    followed = followed[np.argsort(-promise[followed], kind="stable")]
    others = np.argsort(-promise, kind="stable")
    ranked = np.concatenate([[first] if first >= 0 else [], followed, others]).astype(np.int64)
    _, place = np.unique(ranked, return_index=True)
    result: Ints = ranked[np.sort(place)]
    return result


def _promising(table: Table, scores: Scores, mass: Floats, count: int) -> Ints:
    """The best checks by either measure, taken in turns, none that neither tells nor saves
    anything. While a fault is away, those that tell once it shows have their turn too."""
    if not table.seconds.size:
        return np.zeros(0, np.int64)
    rankings = [_best(scores.saved_s, scores), _best(scores.bits / table.seconds, scores)]
    if table.turns is not None and table.showing is not None and scores.away.any():
        shows = np.zeros_like(mass)
        np.add.at(shows, table.showing, mass)
        then = score(table, shows)
        rankings.append(_best(then.bits / table.seconds, then))
    turns = [ranking[k] for k in range(count) for ranking in rankings if k < ranking.size]
    result: Ints = np.array(list(dict.fromkeys(turns))[:count], np.int64)
    return result


def _best(measure: Floats, scores: Scores) -> Ints:
    order = np.argsort(-measure, kind="stable")
    result: Ints = order[(scores.bits[order] > 1e-9) | (scores.saved_s[order] > 0.0)]
    return result


def _pruned(table: Table, mass: Floats, share: float = FORGOTTEN) -> tuple[Table, Floats]:
    """Without the stories that no longer matter; their mass goes to those that do."""
    total = float(mass.sum())
    keep = mass > share * total
    if keep.mean() > 0.7:
        return table, mass
    if table.showing is not None:
        keep[table.showing[keep]] = True
    stories = np.flatnonzero(keep)
    left = mass[stories]
    return table.of(stories), left * (total / left.sum())


def starting(table: Table, mass: Floats, step: Step) -> Step:
    """The same step when no check is done any more: the first repair, or the end."""
    group = _first_repair(step.scores, table)
    return replace(
        step,
        does="repair" if group >= 0 else "stop",
        check=-1,
        group=group,
        left_s=step.scores.now_s,
        ends=at_once(table, mass),
    )


def _first_repair(scores: Scores, table: Table) -> int:
    """The repair to begin with, -1 when the job is better handed on."""
    found = repairs(
        scores.groups,
        table.repair,
        table.escalate,
        scores.away,
        table.comeback,
        table.vain,
        table.others,
    )
    return int(found.order[0]) if found.order.size and int(np.argmin(found.cost)) > 0 else -1
