"""Exact planning for small problems with definite outcomes: the yardstick of the planner.

Nothing here is shared with the engine but the table a problem is handed over in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import permutations
from math import inf

import numpy as np

from backprobe.checks.policy import best_step
from backprobe.checks.table import Table


@dataclass(frozen=True, kw_only=True)
class Problem:
    """`shows[c][k]`: outcome of check c under story k (any hashable). With `repair` the job ends by
    mending story k for repair[k], which costs vain[k] more when it was another, or by `escalate`;
    without, when one story is left."""

    seconds: Sequence[float]
    shows: Sequence[Sequence[object]]
    chance: Sequence[float]
    repair: Sequence[float] | None = None
    vain: Sequence[float] | None = None
    escalate: float = inf

    def of(self, stories: Sequence[int]) -> Problem:
        """Some of the stories, their chances as they are."""
        return Problem(
            seconds=self.seconds,
            shows=[[row[k] for k in stories] for row in self.shows],
            chance=[self.chance[k] for k in stories],
            repair=None if self.repair is None else [self.repair[k] for k in stories],
            vain=None if self.vain is None else [self.vain[k] for k in stories],
            escalate=self.escalate,
        )

    def table(self, sure: float = 1.0 - 1e-12) -> Table:
        """The same for the planner, one group per story."""
        stories = len(self.chance)
        return Table(
            seconds=np.array(self.seconds, float),
            outcome=definite(self.shows, stories),
            group=np.arange(stories),
            repair=np.zeros(stories) if self.repair is None else np.array(self.repair, float),
            vain=0.0 if self.vain is None else np.array(self.vain, float),
            escalate=self.escalate,
            sure=sure,
        )


def solve_exact(seconds, shows, chance, repair=None, escalate=inf, vain=None):
    """Least expected cost over all plans: dynamic programming over the sets of stories still
    possible, one bit each."""
    stories = range(len(chance))
    vain = vain or [0.0] * len(chance)
    parts = [
        (price, [sum(1 << k for k in stories if row[k] == word) for word in dict.fromkeys(row)])
        for price, row in zip(seconds, shows, strict=True)
    ]

    @cache
    def cost(left):
        those = [k for k in stories if left >> k & 1]
        if not those or (repair is None and len(those) == 1):
            return 0.0
        mass = sum(chance[k] for k in those)
        best = escalate * mass if repair is not None else inf
        if repair is not None:
            for k in those:
                rest = left & ~(1 << k)
                best = min(best, repair[k] * mass + vain[k] * (mass - chance[k]) + cost(rest))
        for price, masks in parts:
            if price * mass >= best or any(left & mask == left for mask in masks):
                continue
            best = min(best, price * mass + sum(cost(left & mask) for mask in masks if left & mask))
        return best

    return cost((1 << len(chance)) - 1)


def exact(problem: Problem) -> float:
    """solve_exact() of a problem."""
    p = problem
    return solve_exact(p.seconds, p.shows, p.chance, p.repair, p.escalate, p.vain)


def at_least(problem: Problem, block: int = 10) -> float:
    """A lower bound of the optimum for many suspects.

    Whatever the best plan for all is, it is a plan for some of them too, and on those it cannot
    beat their own optimum. Its cost is a sum over the suspects, so the optima of blocks of suspects
    add up to at most its cost. Own argument; the likeliest suspects share a block.
    """
    order = sorted(range(len(problem.chance)), key=lambda k: -problem.chance[k])
    return sum(
        exact(problem.of(order[start : start + block])) for start in range(0, len(order), block)
    )


def obeyed(problem: Problem, **how: int) -> float:
    """Expected cost of obeying the planner's proposal until the job ends."""
    table = problem.table()
    chance = np.array(problem.chance, float)

    @cache
    def cost(left):
        mass = np.where([left >> k & 1 for k in range(chance.size)], chance, 0.0)
        total = float(mass.sum())
        if total <= 1e-15:
            return 0.0
        step = best_step(table, mass, **how)
        if step.does == "stop":
            return problem.escalate * total
        if step.does == "repair":
            k = step.group
            vain = problem.vain[k] if problem.vain is not None else 0.0
            wrong = vain * (total - mass[k])
            return problem.repair[k] * total + wrong + cost(left & ~(1 << k))
        masks = (
            sum(1 << int(k) for k in np.flatnonzero(row * mass))
            for row in table.outcome[step.check]
        )
        return problem.seconds[step.check] * total + sum(cost(mask) for mask in masks if mask)

    return cost((1 << chance.size) - 1)


def drawn(rng: np.random.Generator, stories: int) -> Problem:
    """A job of our own invention: checks that split at random, checks that cut a line, looks at one
    place; prices over a factor of twenty; every second one with a cost of repairs in vain."""
    checks = int(rng.integers(stories, 2 * stories + 1))
    shows = []
    for _ in range(checks):
        sort = rng.integers(4)
        if sort == 0:
            cut, other = int(rng.integers(1, stories)), int(rng.integers(stories))
            row = [int((k >= cut) != (k == other)) for k in range(stories)]
        elif sort == 1:
            place = int(rng.integers(stories))
            row = [int(k == place) for k in range(stories)]
        else:
            row = [int(x) for x in rng.integers(0, rng.integers(2, 5), stories)]
        shows.append(row)
    vain = np.exp(rng.uniform(np.log(5), np.log(60), stories)) if rng.random() < 0.5 else None
    return Problem(
        seconds=np.exp(rng.uniform(np.log(1), np.log(20), checks)).tolist(),
        shows=shows,
        chance=rng.dirichlet(np.full(stories, 0.8)).tolist(),
        repair=np.exp(rng.uniform(np.log(10), np.log(120), stories)).tolist(),
        vain=None if vain is None else vain.tolist(),
        escalate=180.0,
    )


def order_cost(chance, look, mend, order, *, last_by_elimination=False):
    """Observe-then-repair one after the other: look[k] is paid for every story reached."""
    left, total = 1.0, 0.0
    for place, k in enumerate(order):
        known = last_by_elimination and place == len(order) - 1
        total += (0.0 if known else left * look[k]) + chance[k] * mend[k]
        left -= chance[k]
    return total


def best_order(chance, look, mend, *, last_by_elimination=False):
    """Cheapest of all orders, and its cost."""
    costs = {
        order: order_cost(chance, look, mend, order, last_by_elimination=last_by_elimination)
        for order in permutations(range(len(chance)))
    }
    order = min(costs, key=costs.__getitem__)
    return order, costs[order]


def definite(shows, stories):
    """Outcome array (C, O, K) of definite checks."""
    words = [sorted(set(row)) for row in shows]
    outcome = np.zeros((len(shows), max(map(len, words), default=0), stories))
    for c, row in enumerate(shows):
        for k, word in enumerate(row):
            outcome[c, words[c].index(word), k] = 1.0
    return outcome
