"""Which check next, on chances and seconds alone.

Two ways to choose are kept: the check that saves most seconds one step ahead, and the check that
tells most per second until one suspect is left. Neither wins everywhere, so both are followed to
their ends and the better one speaks; the most promising first steps are then compared by
what the better way makes of each outcome.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from backprobe.checks.worth import Scores, Table, by_group, repair_orders, score, worth
from backprobe.defects.model import Floats, Ints

DEPTH = 8
NEGLIGIBLE = 2e-3
CANDIDATES = 16
LOOK_AHEAD = 6

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


def expected_seconds(
    table: Table,
    mass: Floats,
    choose: Choice,
    *,
    depth: int = DEPTH,
    negligible: float = NEGLIGIBLE,
) -> float:
    """Expected seconds to the end of the job when every check is chosen by `choose`.

    No check is done twice. Below `depth` checks, and for outcomes of less than `negligible` of
    the mass, repairs start: an upper bound of following `choose` further.
    """
    floor = negligible * float(mass.sum())

    def follow(mass: Floats, left: Ints, depth: int) -> float:
        total = float(mass.sum())
        if total <= 0.0:
            return 0.0
        here = table.only(left)
        if not depth:
            return starting_now(table, mass)
        scores = score(here, mass)
        best = choose(here, scores, total)
        if best < 0:
            return scores.now_s
        seconds = float(here.seconds[best]) * total
        rest = np.delete(left, best)
        for outcome, size in enumerate(scores.after[best].sum(axis=1)):
            if size > 0.0:
                later = here.after(best, outcome, mass)
                seconds += follow(later, rest, depth - 1 if size > floor else 0)
        return seconds

    return follow(mass, np.arange(table.seconds.size), depth)


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
    total = float(mass.sum())
    checks = table.seconds.size
    some = _promising(table, scores, candidates)
    small = table.only(some)

    def follow(mass: Floats, small: Table, depth: int) -> float:
        return min(
            expected_seconds(small, mass, saves_most, depth=depth),
            expected_seconds(small, mass, tells_most, depth=depth),
        )

    left_s = scores.now_s
    promise = scores.saved_s.copy()
    first = -1
    if some.size:
        ways = [
            (expected_seconds(small, mass, way, depth=depth), way)
            for way in (saves_most, tells_most)
        ]
        base_s, way = min(ways, key=lambda pair: pair[0])
        chosen = way(small, score(small, mass), total)
        if chosen >= 0 and base_s < scores.now_s - 1e-9 * total:
            first, left_s = int(some[chosen]), base_s
    for number in some[:look_ahead]:
        rest = table.only(some[some != number])
        seconds = float(table.seconds[number]) * total
        for outcome, size in enumerate(scores.after[number].sum(axis=1)):
            if size > 0.0:
                seconds += follow(table.after(int(number), outcome, mass), rest, depth - 1)
        promise[number] = scores.now_s - seconds
        if seconds < left_s - 1e-9 * max(left_s, 1.0):
            first, left_s = int(number), seconds
    if first >= 0:
        promise[first] = max(promise[first], scores.now_s - left_s)
    ranking = np.argsort(-promise, kind="stable") if checks else np.zeros(0, np.int64)
    if first >= 0:
        ranking = np.concatenate([[first], ranking[ranking != first]])
        return Step(
            does="check",
            check=first,
            group=-1,
            left_s=left_s,
            ranking=ranking,
            promise_s=promise,
            scores=scores,
        )
    group = _first_repair(scores, table)
    return Step(
        does="repair" if group >= 0 else "stop",
        check=-1,
        group=group,
        left_s=left_s,
        ranking=ranking,
        promise_s=promise,
        scores=scores,
    )


def _promising(table: Table, scores: Scores, count: int) -> Ints:
    """The best checks by either measure, taken in turns, none that tells nothing."""
    if not table.seconds.size:
        return np.zeros(0, np.int64)
    by_saving = np.argsort(-scores.saved_s, kind="stable")
    by_telling = np.argsort(-scores.bits / table.seconds, kind="stable")
    turns = np.stack([by_saving, by_telling], axis=1).ravel()
    telling = turns[scores.bits[turns] > 1e-9]
    _, place = np.unique(telling, return_index=True)
    result: Ints = telling[np.sort(place)][:count]
    return result


def starting_now(table: Table, mass: Floats) -> float:
    """Expected seconds if repairs start at once."""
    away = np.zeros_like(mass) if table.gone is None else mass * table.gone
    return float(worth(table, by_group(table, mass), by_group(table, away)))


def _first_repair(scores: Scores, table: Table) -> int:
    """The repair to begin with, -1 when the job is better handed on."""
    order, costs = repair_orders(
        scores.groups, table.repair, table.escalate, scores.away, table.comeback
    )
    return int(order[0]) if order.size and int(np.argmin(costs)) > 0 else -1
