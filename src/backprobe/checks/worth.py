"""What a check is worth: arithmetic on chances and seconds alone.

Shapes: C checks, O outcomes, K stories, G groups (things to repair). A mass is a chance that
need not sum to 1, so "this outcome and that story" needs no division. The last column of
grouped masses (G + 1) is the tail: stories no repair here would mend.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np

from backprobe.defects.model import Floats, Ints

SURE = 0.9
"""Chance above which one suspect counts as the only one left. Judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """What could be done and what it would show.

    `seconds` (C,); `outcome` (C, O, K) chance of each outcome under each story, all zero where a
    check has fewer outcomes; `group` (K,) which repair ends the story, G for none; `repair` (G,)
    seconds of each repair with its proof; `escalate` seconds of handing the job on, which ends
    every story; `sure`: chance at which one group counts as found.
    """

    seconds: Floats
    outcome: Floats
    group: Ints
    repair: Floats
    escalate: float = inf
    sure: float = SURE

    def only(self, checks: Ints) -> Table:
        """The same table with some of its checks."""
        return Table(
            seconds=self.seconds[checks],
            outcome=self.outcome[checks],
            group=self.group,
            repair=self.repair,
            escalate=self.escalate,
            sure=self.sure,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Scores:
    """What one step ahead shows. `groups` (G+1,) masses now; `after` (C, O, G+1) masses by
    outcome; `now_s`: expected seconds if repairs start at once; `saved_s` (C,): expected seconds
    saved by doing the check first, its own time taken off; `bits` (C,): information about which
    group it is, per unit of mass."""

    groups: Floats
    after: Floats
    now_s: float
    saved_s: Floats
    bits: Floats


def by_group(table: Table, mass: Floats) -> Floats:
    """Masses (..., K) summed by group (..., G+1)."""
    which = np.zeros((table.group.size, table.repair.size + 1))
    which[np.arange(table.group.size), table.group] = 1.0
    result: Floats = mass @ which
    return result


def repair_seconds(groups: Floats, repair: Floats, escalate: float = inf) -> Floats:
    """Expected seconds of repairing in the best order, without another check.

    `groups` (..., G+1) masses, `repair` (G,) seconds. Falling mass per second is the best order
    for repairs that end the job when they hit (the ratio rule, Kalagnanam and Henrion 1990);
    the job is handed on as soon as that is cheaper than the next repair. Exact for repairs with
    definite proofs.
    """
    masses = groups[..., :-1]
    total = groups.sum(axis=-1, keepdims=True)
    order = np.argsort(-masses / repair.clip(1e-9), axis=-1, kind="stable")
    sorted_mass = np.take_along_axis(masses, order, axis=-1)
    begun = total - (np.cumsum(sorted_mass, axis=-1) - sorted_mass)
    spent = np.cumsum(repair[order] * begun, axis=-1)
    left = np.concatenate([total, begun - sorted_mass], axis=-1)
    left = np.where(left > 1e-9 * total, left, 0.0)
    spent = np.concatenate([np.zeros_like(total), spent], axis=-1)
    handed_on = np.zeros_like(left)
    np.multiply(left, escalate, out=handed_on, where=left > 0)
    result: Floats = (spent + handed_on).min(axis=-1)
    return result


def spread_bits(groups: Floats) -> Floats:
    """Entropy (...,) in bits of masses (..., G+1), times their total."""
    total = groups.sum(axis=-1)
    inside = _plog(groups).sum(axis=-1)
    result: Floats = _plog(total) - inside
    return result


def score(table: Table, mass: Floats) -> Scores:
    """Every check of a table one step ahead, from the masses (K,) of the stories."""
    groups = by_group(table, mass)
    total = float(mass.sum())
    checks, outcomes, stories = table.outcome.shape
    joint = table.outcome.reshape(-1, stories) * mass
    after = by_group(table, joint).reshape(checks, outcomes, groups.size)
    now_s = float(repair_seconds(groups, table.repair, table.escalate))
    later_s = repair_seconds(after, table.repair, table.escalate).sum(axis=1)
    bits = float(spread_bits(groups)) - spread_bits(after).sum(axis=1)
    return Scores(
        groups=groups,
        after=after,
        now_s=now_s,
        saved_s=now_s - later_s - table.seconds * total,
        bits=bits.clip(0.0) / max(total, 1e-300),
    )


def _plog(x: Floats) -> Floats:
    result: Floats = x * np.log2(np.where(x > 0, x, 1.0))
    return result
