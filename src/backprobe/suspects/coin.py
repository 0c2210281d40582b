"""What several code lists say together: a rule is right or wrong for the whole job, and what leaves open
whether it holds is not drawn anew for every list, nor for every unit that asks for low supply."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import compiled, inner
from backprobe.defects.model import Flags, Floats, Ints
from backprobe.suspects.codes import RULE_WRONG
from backprobe.suspects.factor import ListFactor

Lists = tuple[tuple[ListFactor, int], ...]
"""Code lists, each with the state (1 = present) it was read in."""
Rule = tuple[str, str]
"""Unit and code."""
PLAIN = (np.nan, np.nan)
"""The ends of a ratio that leaves nothing open."""


class Said(NamedTuple):
    """What one list says of one rule. `ratio` (H or 1,); `ends`: the ratio where the rule holds for sure, and
    where it does not, PLAIN where nothing is in between; `before`: told by an earlier list."""

    ratio: Floats
    ends: tuple[float, float]
    before: bool


@dataclass(frozen=True, slots=True)
class Coins:
    """What coin() came to, unit by unit, for who asks again and again."""

    known: dict[Hashable, Floats] = field(default_factory=dict)

    def coin(self, told: Lists, before: Lists = ()) -> Floats:
        """The same; what is known already of a unit is not worked out anew."""
        supplies = dict.fromkeys(rule for lists, _ in told for rule in _low_supplies(lists))
        if supplies:
            lists_all = (*before, *told)
            supplies = dict.fromkeys(r for lists, _ in lists_all for r in _low_supplies(lists))
        shared = tuple(supplies) if len(supplies) > 1 else ()
        total: Floats = np.ones((1, 1))
        for unit in dict.fromkeys(lists.unit for lists, _ in told):
            some, earlier = (
                tuple(one for one in lists if one[0].unit == unit) for lists in (told, before)
            )
            own = some, earlier, bool(shared)
            if own not in self.known:
                self.known[own] = _of_unit(some, earlier, shared)
            total = total * self.known[own]
        if shared:
            both = told, before
            if both not in self.known:
                every = _of_supplies((*before, *told), shared)
                self.known[both] = every / _of_supplies(before, shared) if before else every
            total = total * self.known[both]
        return total


def coin(told: Lists, before: Lists = ()) -> Floats:
    """(H or 1, 1) ratio of the code lists, with the coin "rule wrong in the book" of every rule summed out;
    given what was told `before`.

    What leaves open whether a rule holds (a severity known to a cell, the contacts) is the same for all
    lists: it holds on those on which it is likelier first, and is not drawn anew.
    """
    return Coins().coin(told, before)


@lru_cache(maxsize=256)
def of_sound(lists: ListFactor) -> float:
    """What a code list says of a sound machine, the first; two rows of it tell what differs by hypothesis."""
    return float(coin(((lists.only(np.zeros(2, np.int64)), 1),))[0, 0])


@lru_cache(maxsize=256)
def _low_supplies(lists: ListFactor) -> tuple[Rule, ...]:
    """The rules of a list that ask for low supply."""
    return tuple((lists.unit, code) for code, rule in lists.rules.items() if rule.supply)


def _of_unit(told: Lists, before: Lists, shared: Sequence[Rule]) -> Floats:
    """(H or 1, 1) ratio of the lists of one unit, but for the rules that are `shared` with others."""
    every = _by_rule(told, before)
    rules = {(lists.unit, code) for lists, _ in told for code in lists.rules}
    return _doubted(
        {rule: said for rule, said in every.items() if rule in rules and rule not in shared}
    )


def _by_rule(told: Lists, before: Lists) -> dict[Rule, list[Said]]:
    """What all lists say, rule by rule, the earlier ones first."""
    found: dict[Rule, list[Said]] = {}
    for lists, earlier in ((before, True), (told, False)):
        for one, state in lists:
            for rule, said in _said_by(one, state, earlier):
                if rule in found:
                    found[rule].append(said)
                else:
                    found[rule] = [said]
    return found


@lru_cache(maxsize=512)
def _said_by(lists: ListFactor, state: int, before: bool = False) -> tuple[tuple[Rule, Said], ...]:
    """What one list says of its rules, of most of them nothing."""
    found: list[tuple[Rule, Said]] = []
    for code, one in lists.rules.items():
        rule, now = (lists.unit, code), (one.present if state else one.gone)[:, 0]
        if one.ends is not None or now.size > 1 or now[0] != 1.0:
            found.append((rule, Said(now, one.ends or PLAIN, before)))
        if one.past is not None and one.past_ends is not None:
            found.append((rule, Said(one.past[:, 0], one.past_ends, before)))
    return tuple(found)


def _doubted(every: Mapping[Rule, Sequence[Said]]) -> Floats:
    """(H or 1, 1) product of what is said of rules, each of which may be wrong in the book. Those of which
    the same is said whatever the hypothesis are reckoned once."""
    sorts: tuple[list[Sequence[Said]], list[Sequence[Said]]] = [], []
    for said in every.values():
        sorts[any(one.ratio.size > 1 for one in said)].append(said)
    total: Floats = np.ones((1, 1))
    for some in sorts:
        if some:
            total = total * _product(some)
    return total


def _product(every: Sequence[Sequence[Said]]) -> Floats:
    """(H or 1, 1) the same, H the most that any of them tells apart."""
    flat = [one for said in every for one in said]
    ratios = _stacked([one.ratio for one in flat])
    start = np.cumsum([0, *(len(said) for said in every)])
    product: Floats = np.ones((ratios.shape[1], 1))
    ends, before = np.array([one.ends for one in flat]), np.array([one.before for one in flat])
    doubted(ratios, ends, before, start, RULE_WRONG, product[:, 0])
    return product


def _stacked(ratios: Sequence[Floats]) -> Floats:
    """(n, H) some ratios (H or 1,), one below the other."""
    if len({ratio.size for ratio in ratios}) == 1:
        return np.concatenate(ratios).reshape(len(ratios), -1)
    found: Floats = np.empty((len(ratios), max(ratio.size for ratio in ratios)))
    for k, ratio in enumerate(ratios):
        found[k] = ratio
    return found


def _of_supplies(told: Lists, rules: Sequence[Rule]) -> Floats:
    """(H or 1, 1) ratio of rules of several units that ask for low supply: a battery that is a little low,
    a contact that is a little bad is so for all of them."""
    number = {rule: k for k, rule in enumerate(rules)}
    each = [
        (number[rule], said)
        for lists, state in told
        for rule, said in _said_by(lists, state)
        if rule in number and said.ends is not PLAIN
    ]
    each.sort(key=lambda one: one[0])
    if not each:
        return np.ones((1, 1))
    ratios = _stacked([one.ratio for _, one in each])
    product: Floats = np.empty((ratios.shape[1], 1))
    ends, of = np.array([one.ends for _, one in each]), np.array([number for number, _ in each])
    held_by_all(ratios, ends, of, RULE_WRONG, product[:, 0])
    return product


@compiled
def doubted(
    ratios: Floats, ends: Floats, before: Flags, start: Ints, wrong: float, product: Floats
) -> None:
    """Multiply `product` (H,) by what is said of rules, each of which may be `wrong`: `ratios` (n, H), of
    rule r from start[r] on, with their `ends` (n, 2), over what was told of it `before` (n,)."""
    many = len(ratios)
    chance, order = np.empty(many), np.empty(many, np.int64)
    places, left = np.empty(many, np.int64), np.empty(many, np.int64)
    for r in range(len(start) - 1):
        count = earlier = 0
        for k in range(start[r], start[r + 1]):
            places[count] = k
            count += 1
        sound = 1.0
        for h in range(len(product)):
            if h == 0 or not as_sound(ratios, places, count, h):
                told = held_first(ratios, ends, places, count, h, left, chance, order)
                sound = told if h == 0 else sound
            else:
                told = sound
            product[h] *= (1.0 - wrong) * told + wrong
        for k in range(start[r], start[r + 1]):
            if before[k]:
                places[earlier] = k
                earlier += 1
        for h in range(len(product) if earlier else 0):
            if h == 0 or not as_sound(ratios, places, earlier, h):
                told = held_first(ratios, ends, places, earlier, h, left, chance, order)
                sound = told if h == 0 else sound
            else:
                told = sound
            product[h] /= (1.0 - wrong) * told + wrong


@inner
def as_sound(ratios: Floats, places: Ints, count: int, h: int) -> bool:
    """Whether all lists at `places` say the same of a hypothesis as of the sound machine."""
    unlike = 0
    for n in range(count):
        unlike += ratios[places[n], h] != ratios[places[n], 0]
    return unlike == 0


@inner
def held_first(
    ratios: Floats,
    ends: Floats,
    places: Ints,
    count: int,
    h: int,
    left: Ints,
    chance: Floats,
    order: Ints,
) -> float:
    """Mean of the product of what the lists at `places` say where a rule holds (yes) or not (no), from the
    `ratios` that this comes to by the chance of holding; where it is likelier it holds first. The rest
    are to write on."""
    many = 0
    told = 1.0
    for n in range(count):
        k = places[n]
        if np.isnan(ends[k, 0]):
            told *= ratios[k, h]
        else:
            left[many] = k
            many += 1
    if many == 1:
        return told * float(ratios[left[0], h])
    if many == 0:
        return told
    likeliest_first(ratios, ends, left, many, h, chance, order)
    mean, above = 0.0, 1.0
    for first in range(many + 1):
        below = chance[order[first]] if first < many else 0.0
        both = above - below
        above = below
        if both == 0.0:
            continue
        for k in range(many):
            both *= ends[left[order[k]], 0 if k < first else 1]
        mean += both
    mean *= told
    return mean


@compiled
def held_by_all(ratios: Floats, ends: Floats, of: Ints, wrong: float, product: Floats) -> None:
    """Fill in the mean product (H,) for the lists `of` (n,) several rules, each of which may be `wrong`;
    rising."""
    many = len(ratios)
    chance, order, rank = np.empty(many), np.empty(many, np.int64), np.empty(many, np.int64)
    left = np.arange(many)
    for h in range(len(product)):
        likeliest_first(ratios, ends, left, many, h, chance, order)
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
def likeliest_first(
    ratios: Floats, ends: Floats, left: Ints, many: int, h: int, chance: Floats, order: Ints
) -> None:
    """The `chance` of holding that the ratios at `left` stand for between their ends, and the `order` in
    which they fall."""
    for n in range(many):
        k = left[n]
        yes, no = ends[k, 0], ends[k, 1]
        chance[n] = min(max((ratios[k, h] - no) / (yes - no), 0.0), 1.0)
        at = n
        while at and chance[order[at - 1]] < chance[n]:
            order[at] = order[at - 1]
            at -= 1
        order[at] = n
