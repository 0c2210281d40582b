"""What several code lists of one unit say together: a rule is right or wrong for the whole job, and what
leaves open whether it holds is not drawn anew for every list."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from backprobe.circuit.compiled import compiled
from backprobe.defects.model import Floats
from backprobe.suspects.codes import RULE_WRONG
from backprobe.suspects.factor import ListFactor

Lists = tuple[tuple[ListFactor, int], ...]
"""Code lists of one unit, each with the state (1 = present) it was read in."""


@lru_cache(maxsize=256)
def coin(told: Lists, before: Lists = ()) -> Floats:
    """(H, W or 1) ratio of the code lists of one unit, with the coin "rule wrong in the book" of every
    rule summed out; given what was told `before`."""
    codes = dict.fromkeys(code for lists, _ in told for code in lists.rules)
    total: Floats = np.ones((1, 1))
    for code in codes:
        whole = (1.0 - RULE_WRONG) * _of_rule((*before, *told), code) + RULE_WRONG
        if before:
            whole = whole / ((1.0 - RULE_WRONG) * _of_rule(before, code) + RULE_WRONG)
        total = total * whole
    return total


def _of_rule(told: Lists, code: str) -> Floats:
    """(H, W or 1) ratio of what some lists say of one rule, if it is right.

    What leaves open whether it holds (a severity known to a cell, the contacts) is the same for all of
    them: it holds on those lists on which it is likelier first, and is not drawn anew.
    """
    plain: Floats = np.ones((1, 1))
    said: list[tuple[Floats, tuple[float, float]]] = []
    for lists, state in told:
        rule = lists.rules.get(code)
        if rule is None:
            continue
        seen = rule.present if state else rule.gone
        for ratio, ends in ((seen, rule.ends), (rule.past, rule.past_ends)):
            if ratio is not None and ends is not None:
                said.append((ratio, ends))
            elif ratio is not None:
                plain = plain * ratio
    return plain * _together(said) if said else plain


def _together(said: Sequence[tuple[Floats, tuple[float, float]]]) -> Floats:
    """(H or 1, 1) mean of the product of what is said where a rule holds (yes) or not (no), from the
    ratios (H or 1, 1) that this comes to by the chance of holding; where it is likelier it holds first."""
    if len(said) == 1:
        return said[0][0]
    ratios: Floats = np.empty((len(said), max(ratio.shape[0] for ratio, _ in said)))
    for k, (ratio, _) in enumerate(said):
        ratios[k] = ratio[:, 0]
    product: Floats = np.empty((ratios.shape[1], 1))
    held_first(ratios, np.array([ends for _, ends in said]), product[:, 0])
    return product


@compiled
def held_first(ratios: Floats, ends: Floats, product: Floats) -> None:
    """Fill in the mean product (H,) of ratios (n, H) between their `ends` (n, 2), yes and no."""
    many = len(ratios)
    chance, order = np.empty(many), np.empty(many, np.int64)
    for h in range(len(product)):
        for k in range(many):
            yes, no = ends[k, 0], ends[k, 1]
            chance[k] = min(max((ratios[k, h] - no) / (yes - no), 0.0), 1.0)
            at = k
            while at and chance[order[at - 1]] < chance[k]:
                order[at] = order[at - 1]
                at -= 1
            order[at] = k
        product[h], above = 0.0, 1.0
        for first in range(many + 1):
            below = chance[order[first]] if first < many else 0.0
            both = above - below
            above = below
            if both == 0.0:
                continue
            for k in range(many):
                both *= ends[order[k], 0 if k < first else 1]
            product[h] += both
