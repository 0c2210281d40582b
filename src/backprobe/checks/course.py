"""What becomes of a job when checks are chosen in a fixed way until repairs start: many beliefs
side by side, every outcome followed. Shapes as in table.py.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from backprobe.checks.table import Rows, Table
from backprobe.checks.worth import least_s, spread_bits, worth
from backprobe.defects.model import Flags, Floats, Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """N jobs after equally many checks: `mass` (N, K) their beliefs, `groups`, `away` (g, N) by
    group; `seconds` (N, C) of every check with what was opened on the way, `is_open` (N, P); `barred`
    (N, C) checks not to be done again."""

    table: Table
    mass: Floats
    groups: Floats
    away: Floats
    seconds: Floats
    is_open: Flags
    barred: Flags


Way = Callable[[Level], Ints]
"""A way to choose: (N,) numbers of checks, -1 for "start repairing"."""


def saves_most(level: Level) -> Ints:
    """The check that saves most expected seconds, if any saves some."""
    table, rows = level.table, level.table.rows
    repair = table.repair_at(level.is_open)
    now_s = least_s(table, level.groups, level.away, repair)
    total = level.groups.sum(axis=0)
    after, away = rows.after(level.mass), rows.away_after(level.mass)
    after_s = least_s(table, after, away, table.repair_after(level.is_open))
    later_s = rows.by_check(after_s) + level.seconds * total[:, None]
    return _largest(now_s[:, None] - later_s, level.barred, least=1e-9 * total)


def tells_most(level: Level) -> Ints:
    """The check that tells most per second, until one suspect is left whose repair is worth it."""
    table, rows = level.table, level.table.rows
    total = level.groups.sum(axis=0)
    later = rows.by_check(spread_bits(rows.after(level.mass)))
    bits = spread_bits(level.groups)[:, None] - later
    rate = np.where(bits > 1e-9 * total[:, None], bits / level.seconds, 0.0)
    best = _largest(rate, level.barred, least=np.zeros(total.size))
    which = rows.groups
    bar = np.where(
        which < table.repair.size, np.append(table.found_at, table.sure)[which], table.sure
    )
    best[(level.groups >= bar[:, None] * total).any(axis=0)] = -1
    return best


WAYS: tuple[Way, Way] = (saves_most, tells_most)


def _largest(values: Floats, barred: Flags, *, least: Floats) -> Ints:
    if not values.shape[1]:
        return np.full(values.shape[0], -1)
    values = np.where(barred, -np.inf, values)
    best = values.argmax(axis=1)
    return np.where(values[np.arange(best.size), best] > least, best, -1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """Where repairs start: M ends. `start` (M,) number of the belief each comes from; `spent_s`
    (M,) seconds of the checks until then; `groups`, `away` (g, M) masses; `is_open` (M, P) places."""

    table: Table
    start: Ints
    spent_s: Floats
    groups: Floats
    away: Floats
    is_open: Flags

    def seconds(self, starts: int) -> Floats:
        """(starts,) expected seconds of each beginning, times its mass."""
        repair = self.table.repair_at(self.is_open)
        last = least_s(self.table, self.groups, self.away, repair)
        each = self.spent_s * self.groups.sum(axis=0) + last
        found: Floats = np.bincount(self.start, each, starts).astype(float)
        return found

    def only(self, some: Flags) -> Ends:
        """Some of them."""
        return replace(
            self,
            start=self.start[some],
            spent_s=self.spent_s[some],
            groups=self.groups[:, some],
            away=self.away[:, some],
            is_open=self.is_open[some],
        )

    def within(self, *shares: float) -> tuple[float, ...]:
        """Seconds on the clock within which each share of the jobs is mended and proven, or handed
        on. What a repair in vain costs beside its time is no time."""
        seconds, masses = self._on_the_clock()
        order = np.argsort(seconds, kind="stable")
        sums = masses[order].cumsum()
        at = np.searchsorted(sums, np.array(shares) * sums[-1])
        return tuple(float(seconds[order[min(k, order.size - 1)]]) for k in at)

    def _on_the_clock(self) -> tuple[Floats, Floats]:
        table, repair = self.table, self.table.repair_at(self.is_open)
        done = worth(table, self.groups, self.away, repair)
        if repair is None:
            repair = np.broadcast_to(table.repair[table.mended][:, None], done.order.shape)
        count = done.cost.argmin(axis=0)
        turn = np.arange(repair.shape[0])[:, None]
        each = np.take_along_axis(repair, done.order, axis=0)
        spent = np.vstack([self.spent_s, self.spent_s + each.cumsum(axis=0)])
        away = np.take_along_axis(self.away, done.order, axis=0)
        shows, away = (
            np.where(turn < count, part, 0.0) for part in ((done.hits - away).clip(0.0), away)
        )
        last = (count, np.arange(count.size))
        seconds = (spent[1:], spent[1:] + table.comeback * turn, spent[last] + table.escalate)
        masses = (shows, away, done.left[last])
        return np.hstack([s.ravel() for s in seconds]), np.hstack([m.ravel() for m in masses])


def at_once(table: Table, mass: Floats) -> Ends:
    """Repairs started now, from masses (K,)."""
    return Ends(
        table=table,
        start=np.zeros(1, np.int64),
        spent_s=np.zeros(1),
        groups=table.rows.grouped(mass[None]),
        away=table.rows.grouped(mass[None] * table.rows.gone),
        is_open=np.zeros((1, table.places), bool),
    )


def follow(
    table: Table,
    mass: Floats,
    way: Way,
    *,
    depth: int,
    negligible: Floats,
    done: Ints | None = None,
) -> Ends:
    """Follow beliefs (N, K) until repairs start; of each, the check `done` (N,) comes first and
    has shown what it shows already.

    No check is done twice, and what a check opened stays open. After `depth` checks, and below the mass `negligible` (N,), repairs
    start: an upper bound of following the way further.
    """
    rows = table.rows
    start, spent = np.arange(mass.shape[0]), np.zeros(mass.shape[0])
    barred = np.zeros((start.size, table.seconds.size), bool)
    opens = table.opens
    is_open = np.zeros((start.size, table.places), bool)
    seconds = np.broadcast_to(table.seconds, barred.shape)
    near_s = table.seconds if table.near_s is None else table.near_s
    if done is not None:
        spent = table.seconds[done]
        barred[start, done] = True
        seconds = np.where(table.opened[done], near_s, seconds)
        is_open = is_open if opens is None else opens[done]
    found: list[Ends] = []
    while start.size:
        groups, away = rows.grouped(mass), rows.grouped(mass * rows.gone)
        best = np.full(start.size, -1)
        on = np.flatnonzero(groups.sum(axis=0) > negligible[start]) if depth > 0 else start[:0]
        if on.size:
            level = Level(
                table=table,
                mass=mass[on],
                groups=groups[:, on],
                away=away[:, on],
                seconds=seconds[on],
                is_open=is_open[on],
                barred=barred[on],
            )
            best[on] = way(level)
        here = Ends(
            table=table, start=start, spent_s=spent, groups=groups, away=away, is_open=is_open
        )
        found.append(here.only(best < 0))
        parent, row = outcomes_of(rows, best)
        mass = rows.shown(mass[parent], row)
        alive = mass.any(axis=1)
        mass, parent, row = mass[alive], parent[alive], row[alive]
        check = rows.check[row]
        barred = barred[parent]
        barred[np.arange(row.size), check] = True
        start, spent = start[parent], spent[parent] + seconds[parent, check]
        seconds = np.where(table.opened[check], near_s, seconds[parent])
        is_open = is_open[parent] if opens is None else is_open[parent] | opens[check]
        depth -= 1
    return joined(found)


def first_steps(
    table: Table, mass: Floats, count: int, *, depth: int, negligible: float
) -> tuple[Floats, tuple[Ends, ...]]:
    """(count,) expected seconds when each of the first checks of a table is done first and the
    better way follows each of its outcomes; and where that ends."""
    rows = table.rows
    row = np.arange(rows.first[count])
    after = rows.shown(mass[None], row)
    row, after = row[after.any(axis=1)], after[after.any(axis=1)]
    check, floor = rows.check[row], negligible * after.sum(axis=1)
    both = [
        follow(table, after, way, depth=depth - 1, negligible=floor, done=check) for way in WAYS
    ]
    seconds = np.array([ends.seconds(row.size) for ends in both])
    better = seconds.argmin(axis=0)
    ends = joined([one.only(better[one.start] == way) for way, one in enumerate(both)])
    return (
        np.bincount(check, seconds.min(axis=0), count).astype(float),
        tuple(ends.only(check[ends.start] == number) for number in range(count)),
    )


def outcomes_of(rows: Rows, checks: Ints) -> tuple[Ints, Ints]:
    """Every outcome of checks (N,), -1 for none: which of the N, and the row."""
    at = np.flatnonzero(checks >= 0)
    checks = checks[at]
    count = rows.first[checks + 1] - rows.first[checks]
    place = np.repeat(np.arange(at.size), count)
    step = np.arange(place.size) - np.repeat(count.cumsum() - count, count)
    return at[place], rows.first[checks][place] + step


def joined(ends: Sequence[Ends]) -> Ends:
    """Ends one after the other."""
    return replace(
        ends[0],
        start=np.concatenate([e.start for e in ends]),
        spent_s=np.concatenate([e.spent_s for e in ends]),
        groups=np.concatenate([e.groups for e in ends], axis=1),
        away=np.concatenate([e.away for e in ends], axis=1),
        is_open=np.concatenate([e.is_open for e in ends]),
    )
