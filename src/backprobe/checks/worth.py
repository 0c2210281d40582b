"""What a check is worth: arithmetic on chances and seconds alone. Shapes as in table.py."""

from __future__ import annotations

import math
from dataclasses import dataclass
from math import inf
from typing import TypedDict

import numpy as np

from backprobe.checks.least import Jobs, least_spent
from backprobe.checks.table import Table
from backprobe.defects.model import Floats, Ints

UNSEEN = 1e-12
"""Share of the mass that does not show below which a comeback costs nothing that could be told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scores:
    """What one step ahead shows. `groups` (G+1,) masses now, `away` (G+1,) those not showing;
    `now_s`: expected seconds if repairs start at once; `saved_s` (C,): expected seconds saved by
    doing the check first, its own time taken off; `bits` (C,): information about which group it
    is, per unit of mass."""

    groups: Floats
    away: Floats
    now_s: float
    saved_s: Floats
    bits: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Repairs:
    """Repairing in the best order, without another check. `order` (G, ...) the repairs in turn;
    `hits` (G, ...) the mass each one ends; `left` (G + 1, ...) the mass left after the first
    0 ... G; `cost` (G + 1, ...) expected seconds of handing on then."""

    order: Ints
    hits: Floats
    left: Floats
    cost: Floats


def repair_seconds(
    groups: Floats,
    repair: Floats,
    escalate: float = inf,
    away: Floats | None = None,
    comeback: float = 0.0,
    vain: Floats | float = 0.0,
    others: Floats | None = None,
) -> Floats:
    """Expected seconds (...) of repairing in the best order, without another check.

    `groups` (G+1, ...) masses, `repair` (G,) seconds. Falling mass per second is the best order
    for repairs that end the job when they hit (the ratio rule, Kalagnanam and Henrion 1990);
    the job is handed on as soon as that is cheaper than the next repair. Exact for repairs with
    definite proofs. `away` (G+1, ...): the part of the masses for which a wrong repair passes its
    proof and costs `comeback` more; `vain`: what every wrong repair costs more; `others` (G,): what the
    mend takes whoever the job is handed on to.
    """
    count, every = repair.shape[0], _flat(groups)
    masses, hidden = every[:count], _NONE if away is None else _flat(away)
    prices = repair.reshape(count, 1) if repair.ndim == 1 else _flat(repair)
    theirs = np.zeros(count) if others is None else others
    # A repair that hits saves what it would cost in vain, and what its mend takes elsewhere.
    lost = np.broadcast_to(vain, count)
    jobs = Jobs(masses, every.sum(axis=0), prices + lost[:, None], hidden, hidden.sum(axis=0))
    found: Floats = theirs @ masses
    least_spent(jobs, lost + theirs, float(escalate), float(comeback), found)
    return found.reshape(groups.shape[1:])


_NONE = np.zeros((0, 0))


def _flat(each: Floats) -> Floats:
    """(G, M) figures of M jobs from (G, ...), as kernels want them."""
    return np.ascontiguousarray(each.reshape(each.shape[0], math.prod(each.shape[1:])))


def _order(
    masses: Floats, lost: Floats, total: Floats, unseen: Floats | None, comeback: float
) -> Ints:
    """(G, ...) repairs in the best order: falling mass per second lost, `lost` (G, ... or 1 ...)."""
    price = lost
    if unseen is not None:
        share = np.divide(unseen, total, out=np.zeros_like(total), where=total > 0.0)
        price = lost + comeback * share
    falling = masses / -np.maximum(price, 1e-9)
    order = np.moveaxis(falling, 0, -1).argsort(axis=-1, kind="stable")
    return np.ascontiguousarray(np.moveaxis(order, -1, 0))


def repairs(
    groups: Floats,
    repair: Floats,
    escalate: float = inf,
    away: Floats | None = None,
    comeback: float = 0.0,
    vain: Floats | float = 0.0,
    others: Floats | None = None,
) -> Repairs:
    """repair_seconds() with its working. `repair` (G,), or (G, ...) where what was opened makes it
    cheaper."""
    count = repair.shape[0]
    masses = groups[:count]
    total = groups.sum(axis=0)
    ones = (1,) * (groups.ndim - 1)
    repair = repair.reshape(-1, *ones) if repair.ndim == 1 else repair
    lost = repair + np.broadcast_to(vain, count).reshape(-1, *ones)
    unseen = None if away is None else away.sum(axis=0)
    order = _order(masses, lost, total, unseen, comeback)
    hits = np.take_along_axis(masses, order, axis=0)
    left = np.empty((count + 1, *total.shape))
    left[0] = total
    np.subtract(total, hits.cumsum(axis=0), out=left[1:])
    # A repair that hits costs its seconds, one in vain what is lost with it as well.
    each = _in_turn(repair, order) * hits + _in_turn(lost, order) * left[1:]
    if unseen is not None and away is not None:
        each += comeback * (unseen - np.take_along_axis(away, order, axis=0).cumsum(axis=0))
    left[left <= 1e-9 * total] = 0.0
    cost = np.zeros_like(left)
    np.multiply(left, escalate, out=cost, where=left > 0.0)
    cost[1:] += each.cumsum(axis=0)
    if others is not None:
        theirs = others.reshape(-1, *ones)
        cost += (masses * theirs).sum(axis=0)
        cost[1:] -= (hits * _in_turn(theirs, order)).cumsum(axis=0)
    return Repairs(order=order, hits=hits, left=left, cost=cost)


def _in_turn(each: Floats, order: Ints) -> Floats:
    """(G, ...) figures of repairs (G, 1 or more ...) in the order they are done."""
    if each.size == each.shape[0]:
        plain: Floats = each.reshape(-1)[order]
        return plain
    return np.take_along_axis(np.broadcast_to(each, order.shape), order, axis=0)


def worth(table: Table, groups: Floats, away: Floats, repair: Floats | None = None) -> Repairs:
    """repairs() with the costs of a table, for masses (g, ...) of those of its groups that have
    stories. `repair`: their seconds where they are not those of the table."""
    return repairs(groups, **_costs(table, groups, away, repair))


def least_s(table: Table, groups: Floats, away: Floats, repair: Floats | None = None) -> Floats:
    """(...) seconds of worth(), without its working."""
    return repair_seconds(groups, **_costs(table, groups, away, repair))


class _Given(TypedDict):
    repair: Floats
    escalate: float
    away: Floats | None
    comeback: float
    vain: Floats
    others: Floats | None


def _costs(table: Table, groups: Floats, away: Floats, repair: Floats | None) -> _Given:
    mended = table.mended
    return _Given(
        repair=table.repair[mended] if repair is None else repair,
        escalate=table.escalate,
        away=away if away.sum() > UNSEEN * groups.sum() else None,
        comeback=table.comeback,
        vain=np.broadcast_to(table.vain, table.repair.shape)[mended],
        others=None if table.others is None else table.others[mended],
    )


def spread_bits(groups: Floats) -> Floats:
    """Entropy (...,) in bits of masses (g, ...), times their total."""
    result: Floats = _plog(groups.sum(axis=0)) - _plog(groups).sum(axis=0)
    return result


def score(table: Table, mass: Floats) -> Scores:
    """Every check of a table one step ahead, from the masses (K,) of the stories."""
    rows, total = table.rows, float(mass.sum())
    groups, away = rows.grouped(mass[None]), rows.grouped(mass[None] * rows.gone)
    after, after_away = rows.after(mass[None]), rows.away_after(mass[None])
    now_s = float(least_s(table, groups, away)[0])
    repair = table.repair_after(np.zeros((1, table.places), bool))
    later_s = rows.by_check(least_s(table, after, after_away, repair))[0]
    bits = float(spread_bits(groups)[0]) - rows.by_check(spread_bits(after))[0]
    size = table.repair.size + 1
    return Scores(
        groups=rows.full(groups, size),
        away=rows.full(away, size),
        now_s=now_s,
        saved_s=now_s - later_s - table.seconds * total,
        bits=bits.clip(0.0) / max(total, 1e-300),
    )


def _plog(x: Floats) -> Floats:
    result: Floats = np.log2(np.maximum(x, 1e-300))
    result *= x
    return result
