"""What could be done on a job and what it would show, as numbers alone.

Shapes: C checks, O outcomes, K stories, G groups (things to repair), R rows: one for each outcome
a check has. A mass is a chance that need not sum to 1, so "this outcome and that story" needs no
division. N beliefs are handled side by side; groups come first in arrays of masses by group.
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
    every story; `sure`: chance at which one group counts as found, where its repair is worth more
    than handing the job on.

    `opens` (C, P): which of the places not open yet a check opens; `near_s` (C,): its seconds once
    all of them are open; `spared_s` (G, P): seconds that a repair takes less once a place is open.
    Left out, no check makes another, or a repair, cheaper.

    `others` (G,): what the mend of each takes when the job is handed on: that spares nobody the mend.
    Left out, handing on takes `escalate` and no more.

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
    opens: Flags | None = None
    near_s: Floats | None = None
    spared_s: Floats | None = None
    others: Floats | None = None

    @property
    def places(self) -> int:
        """P, how many places checks open."""
        return 0 if self.opens is None else self.opens.shape[1]

    @cached_property
    def mended(self) -> Ints:
        """(m,) groups that have stories and are mended by something; the first of the rows' groups."""
        return self.rows.groups[self.rows.groups < self.repair.size]

    @cached_property
    def _spared(self) -> tuple[Ints, Floats] | None:
        """(p,) places that spare some repair and (m, p) the seconds; None where there are none."""
        if self.spared_s is None or not self.places:
            return None
        spared = self.spared_s[self.mended]
        where = np.flatnonzero(spared.any(axis=0))
        return (where, np.ascontiguousarray(spared[:, where])) if where.size else None

    def repair_at(self, is_open: Flags) -> Floats | None:
        """(m, N) seconds of the repairs once places (N, P) are open; None: as in the table."""
        if self._spared is None:
            return None
        where, spared = self._spared
        return self._cheaper(spared, is_open[:, where])

    def repair_after(self, is_open: Flags) -> Floats | None:
        """(m, N, R) the same after each outcome of each check, which opens what it opens."""
        if self._spared is None or self.opens is None:
            return None
        where, spared = self._spared
        then = is_open[:, None, where] | self.opens[:, where]
        after = self._cheaper(spared, then.reshape(-1, where.size))
        return after.reshape(-1, *then.shape[:2]).take(self.rows.check, axis=2)

    def _cheaper(self, spared: Floats, is_open: Flags) -> Floats:
        found: Floats = self.repair[self.mended, None] - spared @ is_open.T
        return found

    @cached_property
    def rows(self) -> Rows:
        """The table laid out for arithmetic."""
        return rows_of(self)

    @cached_property
    def opened(self) -> Flags:
        """(C, C) whether after one check all places of another are open that it would have opened."""
        if self.opens is None:
            return np.zeros((self.seconds.size, self.seconds.size), bool)
        left = (~self.opens).astype(float) @ self.opens.T.astype(float)
        found: Flags = (left == 0.0) & self.opens.any(axis=1)
        return found

    @cached_property
    def found_at(self) -> Floats:
        """(G,) chance from which a group counts as found: `sure`, and where a repair in vain is dear
        not before its repair is better than handing the job on."""
        lost = self.repair + self.vain
        with np.errstate(invalid="ignore"):
            even = np.where(self.repair < self.escalate, lost / (self.vain + self.escalate), 0.0)
            if self.others is not None:
                even = np.where(self.others > 0.0, lost / (lost + self.escalate), 0.0)
        found: Floats = np.maximum(even, self.sure)
        return found

    def handing_on_s(self, groups: Floats) -> float:
        """Expected seconds of handing on a job with masses (G + 1,), the mend with whoever gets it."""
        others = 0.0 if self.others is None else float(self.others @ groups[:-1])
        return float(self.escalate * groups.sum()) + others

    def groups_after(self, check: int, mass: Floats) -> Floats:
        """(O, G + 1) masses by group after each outcome of a check, from masses (K,)."""
        found = np.zeros((self.outcome.shape[1], self.repair.size + 1))
        np.add.at(found.T, self.group, (self.outcome[check] * mass).T)
        return found

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
        return replace(
            self,
            seconds=self.seconds[checks],
            outcome=self.outcome[checks],
            turns=None if self.turns is None else self.turns[checks],
            opens=None if self.opens is None else self.opens[checks],
            near_s=None if self.near_s is None else self.near_s[checks],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """A table laid out for arithmetic: a row per outcome, stories sorted by group.

    `check` (R,) the check of a row, `first` (C + 1,) where the rows of each check begin, the last
    one R; `like` (R, K) chances; `turns` (R,); `showing` (K,); `gone` (K,);
    `order` (K,) stories by group, `by_story` (K, R) in that order; `groups` (g,) those that have stories, the tail last if it has,
    `begins` (g + 1,) where each begins in the order.
    """

    check: Ints
    first: Ints
    like: Floats
    turns: Flags
    showing: Ints
    gone: Floats
    order: Ints
    by_story: Floats
    groups: Ints
    begins: Ints

    def grouped(self, mass: Floats) -> Floats:
        """(g, N) masses by group of beliefs (N, K)."""
        every = np.add.reduceat(mass[:, self.order], self.begins[:-1], axis=1)
        return np.ascontiguousarray(every.T)

    def after(self, mass: Floats) -> Floats:
        """(g, N, R) the same after each outcome of each check."""
        sorted_mass = np.ascontiguousarray(mass[:, self.order])
        found = np.zeros((self.groups.size, mass.shape[0], self.check.size))
        some = np.logical_or.reduceat(sorted_mass.any(axis=0), self.begins[:-1])
        for g in np.flatnonzero(some):
            its = slice(self.begins[g], self.begins[g + 1])
            np.matmul(sorted_mass[:, its], self.by_story[its], out=found[g])
        return found

    def away_after(self, mass: Floats) -> Floats:
        """(g, N, R) the part of it that does not show."""
        found = self.after(mass * self.gone)
        found[:, :, self.turns] = 0.0
        return found

    def shown(self, mass: Floats, row: Ints) -> Floats:
        """Beliefs (N, K) once each (N, K) has shown the outcome `row` (N,)."""
        left: Floats = mass * self.like[row]
        turned = np.flatnonzero(self.turns[row])
        if turned.size:
            moved = np.zeros((turned.size, left.shape[1]))
            np.add.at(moved, (np.arange(turned.size)[:, None], self.showing), left[turned])
            left[turned] = moved
        return left

    def by_check(self, values: Floats) -> Floats:
        """(..., C) sums of (..., R) values."""
        result: Floats = np.add.reduceat(values, self.first[:-1], axis=-1)
        return result

    def full(self, grouped: Floats, groups: int) -> Floats:
        """(groups,) masses of every group from those of one belief (g, 1)."""
        spread = np.zeros(groups)
        spread[self.groups] = grouped[:, 0]
        return spread


def rows_of(table: Table) -> Rows:
    """The rows of a table. A check always has one, be it empty."""
    used: Flags = np.any(table.outcome, axis=2)
    used[:, :1] = True
    check, outcome = np.nonzero(used)
    checks, stories = table.seconds.size, table.group.size
    order = np.argsort(table.group, kind="stable")
    groups, begins = np.unique(table.group[order], return_index=True)
    like = table.outcome[check, outcome]
    return Rows(
        check=check,
        first=np.searchsorted(check, np.arange(checks + 1)),
        like=like,
        turns=np.zeros(check.size, bool) if table.turns is None else table.turns[check, outcome],
        showing=np.arange(stories) if table.showing is None else table.showing,
        gone=np.zeros(stories) if table.gone is None else table.gone,
        order=order,
        by_story=np.ascontiguousarray(like[:, order].T),
        groups=groups,
        begins=np.append(begins, stories),
    )
