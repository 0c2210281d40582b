"""What a check is worth: arithmetic on chances and seconds alone.

Shapes: C checks, O outcomes, K stories, G groups (things to repair). A mass is a chance that
need not sum to 1, so "this outcome and that story" needs no division. The last column of
grouped masses (G + 1) is the tail: stories no repair here would mend.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from math import inf

import numpy as np

from backprobe.defects.model import Flags, Floats, Ints

SURE = 0.9
"""Chance above which one suspect counts as the only one left. Judgement."""


@dataclass(frozen=True, kw_only=True)
class Table:
    """What could be done and what it would show.

    `seconds` (C,); `outcome` (C, O, K) chance of each outcome under each story, all zero where a
    check has fewer outcomes; `group` (K,) which repair ends the story, G for none; `repair` (G,)
    seconds of each repair with its proof; `escalate` seconds of handing the job on, which ends
    every story; `sure`: chance at which one group counts as found.

    `vain` (G,): seconds that a wrong repair costs beside its time: the part, the customer's trust.
    `gone` (K,): share of each story in which the fault is not showing now. A repair then proves
    nothing: when it was the wrong one the machine comes back, which costs `comeback` seconds more.
    `turns` (C, O): outcomes that bring the fault back; `showing` (K,): the story each one turns
    into then. Left out, everything shows.
    """

    seconds: Floats
    outcome: Floats
    group: Ints
    repair: Floats
    escalate: float = inf
    sure: float = SURE
    vain: Floats | float = 0.0
    gone: Floats | None = None
    comeback: float = 0.0
    turns: Flags | None = None
    showing: Ints | None = None

    @cached_property
    def sorting(self) -> Floats:
        """(K, 2 G + 2) that sums stories by group, all of them and those not showing."""
        which = np.zeros((self.group.size, self.repair.size + 1))
        which[np.arange(self.group.size), self.group] = 1.0
        gone = np.zeros(self.group.size) if self.gone is None else self.gone
        return np.hstack([which, which * gone[:, None]])

    def of(self, stories: Ints) -> Table:
        """The same table for some of its stories; the others are left out."""
        new = np.full(self.group.size, -1)
        new[stories] = np.arange(stories.size)
        return replace(
            self,
            outcome=self.outcome[:, :, stories],
            group=self.group[stories],
            gone=None if self.gone is None else self.gone[stories],
            showing=None if self.showing is None else new[self.showing[stories]],
        )

    def only(self, checks: Ints) -> Table:
        """The same table with some of its checks."""
        some = replace(
            self,
            seconds=self.seconds[checks],
            outcome=self.outcome[checks],
            turns=None if self.turns is None else self.turns[checks],
        )
        some.__dict__["sorting"] = self.sorting  # the same stories: no need to sort them again
        return some

    def after(self, check: int, outcome: int, mass: Floats) -> Floats:
        """Masses (K,) once a check has shown an outcome."""
        left: Floats = mass * self.outcome[check, outcome]
        if self.turns is None or self.showing is None or not self.turns[check, outcome]:
            return left
        turned: Floats = np.zeros_like(left)
        np.add.at(turned, self.showing, left)
        return turned


@dataclass(frozen=True, slots=True, kw_only=True)
class Scores:
    """What one step ahead shows. `groups` (G+1,) masses now, `away` (G+1,) those not showing;
    `after` (C, O, G+1) masses by outcome; `now_s`: expected seconds if repairs start at once; `saved_s` (C,): expected seconds
    saved by doing the check first, its own time taken off; `bits` (C,): information about which
    group it is, per unit of mass."""

    groups: Floats
    away: Floats
    after: Floats
    now_s: float
    saved_s: Floats
    bits: Floats


def by_group(table: Table, mass: Floats) -> tuple[Floats, Floats]:
    """Masses (..., K) summed by group (..., G+1): all of them, and those not showing."""
    both: Floats = mass @ table.sorting
    groups = table.repair.size + 1
    return both[..., :groups], both[..., groups:]


def repair_seconds(
    groups: Floats,
    repair: Floats,
    escalate: float = inf,
    away: Floats | None = None,
    comeback: float = 0.0,
    vain: Floats | float = 0.0,
) -> Floats:
    """Expected seconds of repairing in the best order, without another check.

    `groups` (..., G+1) masses, `repair` (G,) seconds. Falling mass per second is the best order
    for repairs that end the job when they hit (the ratio rule, Kalagnanam and Henrion 1990);
    the job is handed on as soon as that is cheaper than the next repair. Exact for repairs with
    definite proofs. `away` (..., G+1): the part of the masses for which a wrong repair passes its
    proof and costs `comeback` more; `vain`: what every wrong repair costs more.
    """
    _, costs = repair_orders(groups, repair, escalate, away, comeback, vain)
    result: Floats = costs.min(axis=-1)
    return result


def repair_orders(
    groups: Floats,
    repair: Floats,
    escalate: float = inf,
    away: Floats | None = None,
    comeback: float = 0.0,
    vain: Floats | float = 0.0,
) -> tuple[Ints, Floats]:
    """Order (..., G) of the repairs and cost (..., G+1) of handing on after the first 0 ... G."""
    masses = groups[..., :-1]
    total = groups.sum(axis=-1, keepdims=True)
    lost = repair + vain
    hidden = away is not None and bool(away.any())
    unseen = away if away is not None and hidden else None
    all_unseen = unseen.sum(axis=-1, keepdims=True) if unseen is not None else 0.0
    price = lost
    if unseen is not None:
        share = np.divide(all_unseen, total, out=np.zeros_like(total), where=total > 0.0)
        price = lost + comeback * share
    order = (-masses / np.maximum(price, 1e-9)).argsort(axis=-1, kind="stable")
    rows = np.ogrid[tuple(slice(n) for n in masses.shape[:-1])] if masses.ndim > 1 else ()
    at = (*(row[..., None] for row in rows), order)
    sorted_mass = masses[at]
    wrong = total - sorted_mass.cumsum(axis=-1)
    # A repair that hits costs its seconds, one in vain what is lost with it as well.
    each = repair[order] * sorted_mass + lost[order] * wrong
    if unseen is not None:
        each += comeback * (all_unseen - unseen[..., :-1][at].cumsum(axis=-1))
    spent = np.zeros(groups.shape)
    np.cumsum(each, axis=-1, out=spent[..., 1:])
    left = np.concatenate([total, wrong], axis=-1)
    left[left <= 1e-9 * total] = 0.0
    handed_on = np.zeros_like(left)
    np.multiply(left, escalate, out=handed_on, where=left > 0)
    return order, spent + handed_on


def spread_bits(groups: Floats) -> Floats:
    """Entropy (...,) in bits of masses (..., G+1), times their total."""
    total = groups.sum(axis=-1)
    inside = _plog(groups).sum(axis=-1)
    result: Floats = _plog(total) - inside
    return result


def worth(table: Table, groups: Floats, away: Floats) -> Floats:
    """repair_seconds() with the costs of a table."""
    return repair_seconds(groups, table.repair, table.escalate, away, table.comeback, table.vain)


def score(table: Table, mass: Floats) -> Scores:
    """Every check of a table one step ahead, from the masses (K,) of the stories."""
    groups, away = by_group(table, mass)
    total = float(mass.sum())
    checks, outcomes, stories = table.outcome.shape
    shape = (checks, outcomes, groups.size)
    after, after_away = by_group(table, table.outcome.reshape(-1, stories) * mass)
    after, after_away = after.reshape(shape), after_away.reshape(shape)
    if table.turns is not None:
        after_away = np.where(table.turns[:, :, None], 0.0, after_away)
    now_s = float(worth(table, groups, away))
    later_s = worth(table, after, after_away).sum(axis=1)
    bits = float(spread_bits(groups)) - spread_bits(after).sum(axis=1)
    return Scores(
        groups=groups,
        away=away,
        after=after,
        now_s=now_s,
        saved_s=now_s - later_s - table.seconds * total,
        bits=bits.clip(0.0) / max(total, 1e-300),
    )


def _plog(x: Floats) -> Floats:
    result: Floats = x * np.log2(np.where(x > 0, x, 1.0))
    return result
