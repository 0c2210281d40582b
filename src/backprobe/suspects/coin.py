"""What several code lists of one unit say together: a rule is right or wrong for the whole job, and what
leaves open whether it holds is not drawn anew for every list."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

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
    held: list[tuple[Floats, float, float]] = []
    for lists, state in told:
        rule = lists.rules.get(code)
        if rule is None:
            continue
        seen = rule.present if state else rule.gone
        for ratio, ends in ((seen, rule.ends), (rule.past, rule.past_ends)):
            if ratio is None:
                continue
            if ends is None:
                plain = plain * ratio
                continue
            yes, no = ends
            chance = ((ratio - no) / (yes - no)).clip(0.0, 1.0)
            for place, (other, its_yes, its_no) in enumerate(held):
                if other.shape == chance.shape and np.allclose(other, chance, atol=1e-9):
                    held[place] = other, its_yes * yes, its_no * no
                    break
            else:
                held.append((chance, yes, no))
    return plain * _together(held) if held else plain


def _together(held: Sequence[tuple[Floats, float, float]]) -> Floats:
    """(H, 1) mean of the product of what is said where a rule holds (yes) or not (no), each with its
    chance (H or 1, 1) of holding, the likelier ones first."""
    if len(held) == 1:
        chance, yes, no = held[0]
        return chance * yes + (1.0 - chance) * no
    chances = np.stack(np.broadcast_arrays(*(chance for chance, _, _ in held)))
    order = np.argsort(-chances, axis=0, kind="stable")
    chances = np.take_along_axis(chances, order, axis=0)
    holds, holds_not = (np.array([one[k] for one in held])[order] for k in (1, 2))
    total: Floats = np.zeros(chances.shape[1:])
    share = -np.diff(chances, axis=0, prepend=1.0, append=0.0)
    for k in range(len(held) + 1):
        total += share[k] * holds[:k].prod(axis=0) * holds_not[k:].prod(axis=0)
    return total
