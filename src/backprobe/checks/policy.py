"""Which check next, on chances and seconds alone.

Two ways to choose are kept: the check that saves most seconds one step ahead, and the check that
tells most per second until one suspect is left. Neither wins everywhere, so both are followed to
their ends and the better one speaks; the most promising first steps are then compared by
what the better way makes of each outcome.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from backprobe.checks.worth import Scores, Table, by_group, repair_orders, score, worth
from backprobe.defects.model import Floats, Ints

DEPTH = 7
NEGLIGIBLE = 2e-3
FORGOTTEN = 2e-4
"""Below this share of the chance a story is left out of what is followed further."""
CANDIDATES = 16
LOOK_AHEAD = 6
ALIKE = 0.003
"""Checks whose whole savings differ by less than this share are alike: the one that tells most is
done, for it spares the technician a step."""

Choice = Callable[[Table, Scores, float], int]
"""A way to choose: table, scores, total mass -> number of the check, -1 for "start repairing"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What to do next. `check` is its number in the table when `does` is "check", `group` the
    group to repair when it is "repair". `left_s`: expected seconds to the end of the job;
    `ranking` (C,): checks from best to worst; `promise_s` (C,): expected seconds saved by each."""

    does: Literal["check", "repair", "stop"]
    check: int
    group: int
    left_s: float
    ranking: Ints
    promise_s: Floats
    scores: Scores


def saves_most(table: Table, scores: Scores, total: float) -> int:
    """The check that saves most expected seconds, if any saves some."""
    if not table.seconds.size:
        return -1
    best = int(np.argmax(scores.saved_s))
    return best if scores.saved_s[best] > 1e-9 * total else -1


def tells_most(table: Table, scores: Scores, total: float) -> int:
    """The check that tells most per second, until one suspect is left."""
    if not table.seconds.size or scores.groups.max() >= table.sure * total:
        return -1
    rate = scores.bits / table.seconds
    best = int(np.argmax(rate))
    return best if scores.bits[best] > 1e-9 else -1


WAYS: tuple[Choice, Choice] = (saves_most, tells_most)


def expected_seconds(
    table: Table,
    mass: Floats,
    choose: Choice,
    *,
    depth: int = DEPTH,
    negligible: float = NEGLIGIBLE,
    forgotten: float = FORGOTTEN,
) -> float:
    """Expected seconds to the end of the job when every check is chosen by `choose`.

    No check is done twice. Below `depth` checks, and for outcomes of less than `negligible` of
    the mass, repairs start: an upper bound of following `choose` further.
    """
    floor = negligible * float(mass.sum())

    def follow(table: Table, mass: Floats, left: Ints, depth: int) -> float:
        total = float(mass.sum())
        if total <= 0.0:
            return 0.0
        if not depth:
            return starting_now(table, mass)
        table, mass = _pruned(table, mass, forgotten)
        here = table.only(left)
        scores = score(here, mass)
        best = choose(here, scores, total)
        if best < 0:
            return scores.now_s
        seconds = float(here.seconds[best]) * total
        rest = np.delete(left, best)
        for outcome, size in enumerate(scores.after[best].sum(axis=1)):
            if size > 0.0:
                later = here.after(best, outcome, mass)
                seconds += follow(table, later, rest, depth - 1 if size > floor else 0)
        return seconds

    return follow(table, mass, np.arange(table.seconds.size), depth)


def best_step(
    table: Table,
    mass: Floats,
    *,
    look_ahead: int = LOOK_AHEAD,
    candidates: int = CANDIDATES,
    depth: int = DEPTH,
) -> Step:
    """The next step from the masses (K,) of the stories.

    The `candidates` best checks of either way are followed; the `look_ahead` best of them are
    compared by what the better way makes of each of their outcomes.
    """
    scores = score(table, mass)
    some = _promising(table, scores, mass, candidates)
    promise = scores.saved_s.copy()
    left_s, first = scores.now_s, -1
    if some.size:
        narrow, light = _pruned(table, mass)
        small = narrow.only(some)
        now_s = starting_now(small, light)
        followed = np.array(
            [
                _following(small, light, number, depth)
                for number in range(min(look_ahead, some.size))
            ]
        )
        promise[some[: followed.size]] = now_s - followed
        base_s, way = min(
            ((expected_seconds(small, light, way, depth=depth), way) for way in WAYS),
            key=lambda pair: pair[0],
        )
        best_s = min(base_s, float(followed.min(initial=np.inf)))
        if best_s < now_s * (1.0 - 1e-9):
            alike = np.flatnonzero(followed <= best_s * (1.0 + ALIKE))
            if alike.size:
                chosen = int(alike[np.argmax(score(small, light).bits[alike])])
                first, left_s = int(some[chosen]), float(followed[chosen])
            else:
                chosen = way(small, score(small, light), float(light.sum()))
                first, left_s = int(some[chosen]), base_s
                promise[first] = now_s - base_s
    ranking = _ranking(promise, some[:look_ahead], first)
    group = -1 if first >= 0 else _first_repair(scores, table)
    return Step(
        does="check" if first >= 0 else "repair" if group >= 0 else "stop",
        check=first,
        group=group,
        left_s=left_s,
        ranking=ranking,
        promise_s=promise,
        scores=scores,
    )


def _following(table: Table, mass: Floats, check: int, depth: int) -> float:
    """Expected seconds when this check is done first and the better way follows each outcome."""
    rest = table.only(np.delete(np.arange(table.seconds.size), check))
    seconds = float(table.seconds[check]) * float(mass.sum())
    for outcome in range(table.outcome.shape[1]):
        later = table.after(check, outcome, mass)
        if float(later.sum()) > 0.0:
            seconds += min(expected_seconds(rest, later, way, depth=depth - 1) for way in WAYS)
    return seconds


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


def starting_now(table: Table, mass: Floats) -> float:
    """Expected seconds if repairs start at once."""
    groups, away = by_group(table, mass)
    return float(worth(table, groups, away))


def starting(table: Table, step: Step) -> Step:
    """The same step when no check is done any more: the first repair, or the end."""
    group = _first_repair(step.scores, table)
    return replace(
        step,
        does="repair" if group >= 0 else "stop",
        check=-1,
        group=group,
        left_s=step.scores.now_s,
    )


def _first_repair(scores: Scores, table: Table) -> int:
    """The repair to begin with, -1 when the job is better handed on."""
    order, costs = repair_orders(
        scores.groups, table.repair, table.escalate, scores.away, table.comeback, table.vain
    )
    return int(order[0]) if order.size and int(np.argmin(costs)) > 0 else -1
