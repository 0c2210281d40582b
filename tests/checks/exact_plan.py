"""Exact planning for small problems with definite outcomes: the yardstick of the tests."""

from __future__ import annotations

from functools import cache
from itertools import permutations
from math import inf

import numpy as np


def solve_exact(seconds, shows, chance, repair=None, escalate=inf):
    """Least expected cost over all plans.

    `shows[c][k]` is the outcome of check c under story k (any hashable). With `repair` the job
    ends by mending story k for repair[k], or by `escalate`; without, when one story is left.
    Dynamic programming over the sets of stories still possible, stories one per group.
    """
    stories = len(chance)

    def mass(left):
        return sum(chance[k] for k in left)

    @cache
    def cost(left):
        if not left or (repair is None and len(left) == 1):
            return 0.0
        best = escalate * mass(left) if repair is not None else inf
        if repair is not None:
            for k in left:
                best = min(best, repair[k] * mass(left) + cost(left - {k}))
        for c, price in enumerate(seconds):
            parts = {}
            for k in left:
                parts.setdefault(shows[c][k], set()).add(k)
            if len(parts) > 1:
                best = min(
                    best, price * mass(left) + sum(cost(frozenset(part)) for part in parts.values())
                )
        return best

    return cost(frozenset(range(stories)))


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
