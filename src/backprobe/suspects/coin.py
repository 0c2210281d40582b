"""What several code lists say together: a rule is right or wrong for the whole job, and what leaves open
whether it holds is not drawn anew for every list, nor for every unit that asks for low supply."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from backprobe.circuit.compiled import compiled, inner
from backprobe.defects.model import Floats, Ints
from backprobe.suspects.codes import RULE_WRONG
from backprobe.suspects.factor import ListFactor

Lists = tuple[tuple[ListFactor, int], ...]
"""Code lists, each with the state (1 = present) it was read in."""
Rule = tuple[str, str]
"""Unit and code."""


@lru_cache(maxsize=256)
def coin(told: Lists, before: Lists = ()) -> Floats:
    """(H, W or 1) ratio of the code lists, with the coin "rule wrong in the book" of every rule summed out;
    given what was told `before`."""
    rules, supplies = _rules(told), [rule for rule, supply in _rules(told).items() if supply]
    if supplies:
        supplies = [rule for rule, supply in _rules((*before, *told)).items() if supply]
    if len(supplies) < 2:
        supplies = []
    total: Floats = np.ones((1, 1))
    for rule in rules:
        if rule not in supplies:
            total = total * _doubted(told, before, rule)
    if supplies:
        total = total * _of_supplies((*before, *told), supplies)
        total = total / _of_supplies(before, supplies) if before else total
    return total


def _rules(told: Lists) -> dict[Rule, bool]:
    """The rules of some lists, and whether they ask for low supply."""
    return {
        (lists.unit, code): rule.supply for lists, _ in told for code, rule in lists.rules.items()
    }


def _doubted(told: Lists, before: Lists, rule: Rule) -> Floats:
    """(H, W or 1) ratio of one rule that may be wrong in the book."""
    whole = (1.0 - RULE_WRONG) * _of_rule((*before, *told), rule) + RULE_WRONG
    if not before:
        return whole
    result: Floats = whole / ((1.0 - RULE_WRONG) * _of_rule(before, rule) + RULE_WRONG)
    return result


def _of_supplies(told: Lists, rules: Sequence[Rule]) -> Floats:
    """(H or 1, 1) ratio of rules of several units that ask for low supply: a battery that is a little low,
    a contact that is a little bad is so for all of them."""
    each = [(number, *one) for number, rule in enumerate(rules) for one in _said(told, rule)]
    if not each:
        return np.ones((1, 1))
    ratios: Floats = np.empty((len(each), max(ratio.shape[0] for _, ratio, _ in each)))
    for k, (_, ratio, _) in enumerate(each):
        ratios[k] = ratio[:, 0]
    product: Floats = np.empty((ratios.shape[1], 1))
    ends, of = np.array([ends for _, _, ends in each]), np.array([number for number, _, _ in each])
    held_by_all(ratios, ends, of, RULE_WRONG, product[:, 0])
    return product


def _said(told: Lists, rule: Rule) -> list[tuple[Floats, tuple[float, float]]]:
    """What lists say of a rule where it is open whether it holds: ratios (H or 1, 1) and their ends."""
    unit, code = rule
    said: list[tuple[Floats, tuple[float, float]]] = []
    for lists, state in told:
        one = lists.rules.get(code) if lists.unit == unit else None
        if one is None:
            continue
        seen = one.present if state else one.gone
        for ratio, ends in ((seen, one.ends), (one.past, one.past_ends)):
            if ratio is not None and ends is not None:
                said.append((ratio, ends))
    return said


def _of_rule(told: Lists, rule: Rule) -> Floats:
    """(H, W or 1) ratio of what some lists say of one rule, if it is right.

    What leaves open whether it holds (a severity known to a cell, the contacts) is the same for all of
    them: it holds on those lists on which it is likelier first, and is not drawn anew.
    """
    unit, code = rule
    plain: Floats = np.ones((1, 1))
    for lists, state in told:
        one = lists.rules.get(code) if lists.unit == unit else None
        if one is not None and one.ends is None:
            plain = plain * (one.present if state else one.gone)
    said = _said(told, rule)
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
def held_by_all(ratios: Floats, ends: Floats, of: Ints, wrong: float, product: Floats) -> None:
    """The same for the lists `of` (n,) several rules, each of which may be `wrong`; rising."""
    many = len(ratios)
    chance, order, rank = np.empty(many), np.empty(many, np.int64), np.empty(many, np.int64)
    for h in range(len(product)):
        likeliest_first(ratios[:, h], ends, chance, order)
        for k in range(many):
            rank[order[k]] = k
        product[h], above = 0.0, 1.0
        for first in range(many + 1):
            below = chance[order[first]] if first < many else 0.0
            both = above - below
            above = below
            if both == 0.0:
                continue
            told = 1.0
            for k in range(many):
                told *= ends[k, 0 if rank[k] < first else 1]
                if k == many - 1 or of[k + 1] != of[k]:
                    both *= (1.0 - wrong) * told + wrong
                    told = 1.0
            product[h] += both


@inner
def likeliest_first(ratios: Floats, ends: Floats, chance: Floats, order: Ints) -> None:
    """The `chance` (n,) of holding that ratios (n,) between their ends stand for, and the `order` (n,) in
    which they fall."""
    for k in range(len(ratios)):
        yes, no = ends[k, 0], ends[k, 1]
        chance[k] = min(max((ratios[k] - no) / (yes - no), 0.0), 1.0)
        at = k
        while at and chance[order[at - 1]] < chance[k]:
            order[at] = order[at - 1]
            at -= 1
        order[at] = k


@compiled
def held_first(ratios: Floats, ends: Floats, product: Floats) -> None:
    """Fill in the mean product (H,) of ratios (n, H) between their `ends` (n, 2), yes and no."""
    many = len(ratios)
    chance, order = np.empty(many), np.empty(many, np.int64)
    for h in range(len(product)):
        likeliest_first(ratios[:, h], ends, chance, order)
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
