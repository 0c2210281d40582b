"""The checks a plan is made of: what each costs, what each would show, the table it is decided on.

What takes the parts off first is looked at last: the checks in the situations that are soonest
reached are planned with, and the others only where none of these promises enough.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.checks.cost import (
    access,
    open_places,
    opened_by,
    price,
    repair_price,
    seconds,
    walked,
)
from backprobe.checks.feed_side import red_on_feed
from backprobe.checks.generate import from_scene
from backprobe.checks.layout import layout_of
from backprobe.checks.model import Check
from backprobe.checks.narrow import narrowed
from backprobe.checks.outcomes import FOUND, Forecast, Shown
from backprobe.checks.policy import Step, best_step
from backprobe.checks.present import repair_id
from backprobe.checks.proving import proof_s
from backprobe.checks.safety import Live, allowed
from backprobe.checks.scene import Scene, opened_for, scene_of
from backprobe.checks.stories import MENDED, Stories, set_aside, stories_of
from backprobe.checks.table import Table
from backprobe.defects.model import Flags, Floats, Predictor, RepairGroup
from backprobe.findings.fold import MENDING
from backprobe.findings.model import Act, Failing, JobState
from backprobe.kinds import KINDS
from backprobe.suspects.model import Belief
from backprobe.suspects.weigh import conditions_told

ESCALATE_S = 180.0 * 60.0
"""Seconds of handing a job on. Judgement."""
COMEBACK_S = 240.0 * 60.0
"""Seconds a machine costs that comes back because a repair was proven while the fault was away.
Judgement."""
VAIN_S = 30.0 * 60.0
"""Seconds that a repair in vain costs beside its time: a good part replaced, a claim refused,
trust. Judgement."""
UNIT_IN_VAIN_S = 20.0 * 3600.0
"""The same for a control unit: it costs as much as days of work and seldom goes back. Judgement;
that a unit comes last, after its wires are proven, is common practice."""
NEVER_S = 1e7
"""Price of a repair that cannot be done here: handing the job on is always cheaper."""
NEAR, NEAR_S = 12, 600.0
"""Situations that are looked at first: so many, and all that are reached in so many seconds."""
ENOUGH = 0.15
"""Of all the seconds that knowing the defect would save, the share one check must promise for checks
further off to be left. At a fifth half of the situations are, in 135 rounds; the check that is then
proposed promises 0.06 % less of the time a job would take without checks, at most 1 % (measured)."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A plan with its working. `checks` are those that may be done and tell something, with their
    forecast and price in `shown` and `seconds`; `table` is what is decided on; `sound` the healthy
    machine alone."""

    scene: Scene
    stories: Stories
    checks: tuple[Check, ...]
    shown: tuple[Shown, ...]
    seconds: Floats
    table: Table
    repairs: Mapping[str, RepairGroup]
    sound: Predictor

    @cached_property
    def step(self) -> Step:
        """What to do next; looked for when first asked."""
        return best_step(self.table, self.stories.mass)

    @property
    def most_s(self) -> float:
        """Expected seconds that knowing the defect would save."""
        groups, table = self.step.scores.groups, self.table
        others = 0.0 if table.others is None else table.others
        mend_s = np.minimum(table.repair, table.escalate + others)
        known_s = np.append(mend_s, table.escalate) @ groups
        return float(self.step.scores.now_s - known_s)

    @property
    def saves_s(self) -> float:
        """Expected seconds that the next step saves, 0 when it is no check."""
        return float(self.step.promise_s[self.step.check]) if self.step.does == "check" else 0.0


def soon_planned(book: Book, predictor: Predictor, job: JobState, belief: Belief) -> Plan:
    """The plan with the checks that are soonest reached; where these promise little, with all that do
    not cost more than they could save beyond that."""
    draft = _Draft.of(book, predictor, job, belief)
    near = nearest(draft.checks, draft.seconds)
    soon = draft.plan(near)
    if near.all() or soon.saves_s >= ENOUGH * soon.most_s:
        return soon
    worth = near | (np.array(draft.seconds) < soon.most_s - soon.saves_s)
    return soon if (worth == near).all() else draft.plan(worth)


def planned(book: Book, predictor: Predictor, job: JobState, belief: Belief) -> Plan:
    """The plan with every check that can be done."""
    draft = _Draft.of(book, predictor, job, belief)
    return draft.plan(np.ones(len(draft.checks), bool))


def nearest(checks: Sequence[Check], prices: Sequence[float]) -> Flags:
    """(C,) checks in the situations whose first check takes the least seconds; and waiting for a fault
    that is away, which is done before the job is handed on."""
    first: dict[Situation, float] = {}
    for check, its in zip(checks, prices, strict=True):
        first[check.situation] = min(its, first.get(check.situation, its))
    order = sorted(first, key=first.__getitem__)
    near = {each for n, each in enumerate(order) if n < NEAR or first[each] <= NEAR_S}
    return np.array([one.situation in near or one.does == "trap" for one in checks], bool)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Draft:
    """What plans of one belief share. `checks` (C,) all that could be done, `seconds` (C,) what
    each costs at most."""

    job: JobState
    scene: Scene
    stories: Stories
    groups: tuple[RepairGroup, ...]
    some: Predictor
    sound: Predictor
    live: Live
    checks: tuple[Check, ...]
    seconds: tuple[float, ...]
    is_open: frozenset[str]

    @staticmethod
    def of(book: Book, predictor: Predictor, job: JobState, belief: Belief) -> _Draft:
        layout, defects = layout_of(book, KINDS), predictor.defects
        belief = set_aside(defects, belief, in_vain(job))
        scene = scene_of(layout, job, defects, belief)
        stories = stories_of(defects, belief)
        some = narrowed(predictor, stories.rows)
        sound = narrowed(some, np.zeros(1, np.int64))
        able = [one for one in from_scene(scene) if one.id not in job.not_possible]
        checks = red_on_feed(layout, able, sound)
        is_open = open_places(layout, job)
        return _Draft(
            job=job,
            scene=scene,
            stories=stories,
            groups=defects.groups,
            some=some,
            sound=sound,
            live=Live(some, sound),
            checks=checks,
            seconds=tuple(seconds(price(layout, job, one, is_open)) for one in checks),
            is_open=is_open,
        )

    def plan(self, which: Flags) -> Plan:
        """A plan with some of the checks."""
        layout, stories = self.scene.layout, self.stories
        cost = {one.id: s for one, s in zip(self.checks, self.seconds, strict=True)}
        wanted = [one for one, wants in zip(self.checks, which, strict=True) if wants]
        safe = allowed(layout, wanted, self.live)
        told_in = frozenset(conditions_told(self.job))
        forecasts = Forecast(layout.book, self.some, stories, told_in, self.job).of(safe)
        told = [(c, s) for c, s in zip(safe, forecasts, strict=True) if s is not None]
        shown = tuple(s for _, s in told)
        prices = np.array([self._price(check, its, cost[check.id]) for check, its in told])
        likely = set(stories.keys)
        repairs = {
            group.key: opened_for(self.scene, group) if group.key in likely else group
            for group in self.groups
        }
        return Plan(
            scene=self.scene,
            stories=stories,
            checks=tuple(check for check, _ in told),
            shown=shown,
            seconds=prices,
            table=self._table([check for check, _ in told], shown, prices, repairs),
            repairs=repairs,
            sound=self.sound,
        )

    def _table(
        self,
        checks: Sequence[Check],
        shown: Sequence[Shown],
        prices: Floats,
        repairs: Mapping[str, RepairGroup],
    ) -> Table:
        layout, stories, job = self.scene.layout, self.stories, self.job
        barred = {key for key in stories.keys if repair_id(key) in job.not_possible}
        barred.update(in_vain(job))
        if any(ident.startswith("prove ") for ident in job.not_possible):
            barred.add(MENDED)
        mend_s = [
            NEVER_S if key in barred else self._mend_s(repairs.get(key)) for key in stories.keys
        ]
        opened = [opened_by(layout, check, self.is_open) for check in checks]
        near_s = [
            seconds(price(layout, job, check, self.is_open | places)) if places else its
            for check, places, its in zip(checks, opened, prices, strict=True)
        ]
        vain_s = [
            0.0 if key == MENDED else UNIT_IN_VAIN_S if key in layout.units else VAIN_S
            for key in stories.keys
        ]
        mended = np.array(mend_s, float)
        theirs = (mended < NEVER_S) & (np.array(stories.keys) != MENDED)
        places = sorted(frozenset().union(*opened))
        spared = [self._spared(repairs.get(key), places) for key in stories.keys]
        return Table(
            seconds=prices,
            outcome=outcome_table(shown, stories.mass.size),
            group=stories.group,
            repair=mended,
            escalate=ESCALATE_S,
            gone=stories.gone,
            comeback=COMEBACK_S,
            vain=np.array(vain_s, float),
            turns=turning(shown),
            showing=stories.showing,
            opens=opening(opened),
            near_s=np.minimum(np.array(near_s, float), prices),
            spared_s=np.array(spared, float).reshape(len(spared), len(places)),
            others=np.where(theirs, mended, 0.0),
        )

    def _mend_s(self, group: RepairGroup | None) -> float:
        """Seconds of mending a group; of proving what is mended already, None."""
        if group is None:
            return proof_s(self.scene)
        return seconds(repair_price(self.scene.layout, self.job, group))

    def _spared(self, group: RepairGroup | None, places: Sequence[str]) -> list[float]:
        """Seconds that each of some places would spare a repair, were it open."""
        layout = self.scene.layout
        takes = dict.fromkeys(places, 0.0)
        for name in () if group is None else group.access:
            place = layout.cover(name)
            if place in takes and not takes[place]:
                takes[place] = seconds(access(layout, self.is_open, (name,)))
        return list(takes.values())

    def _price(self, check: Check, shown: Shown, most_s: float) -> float:
        """Expected price of a check; a walk ends where something shows."""
        if check.does not in FOUND or shown.chance.shape[0] < 3:
            return most_s
        found = (shown.chance @ self.stories.mass)[:-1]
        return walked(self.scene.layout, self.job, check, [float(x) for x in found], self.is_open)


def in_vain(job: JobState) -> tuple[str, ...]:
    """What was mended, when it was said since that it still fails."""
    mended: dict[str, None] = {}
    found: dict[str, None] = {}
    for finding in job.findings:
        if isinstance(finding, Act) and finding.act in MENDING:
            mended[finding.target] = None
        elif isinstance(finding, Failing) and finding.trusted:
            found = {**found, **mended} if finding.answer == "yes" else {}
    return tuple(found)


def outcome_table(shown: Sequence[Shown], stories: int) -> Floats:
    """(C, O, K) chances, zero where a check has fewer outcomes than the widest."""
    widest = max((s.chance.shape[0] for s in shown), default=1)
    table: Floats = np.zeros((len(shown), widest, stories))
    for number, one in enumerate(shown):
        table[number, : one.chance.shape[0]] = one.chance
    return table


def opening(opened: Sequence[frozenset[str]]) -> Flags:
    """(C, P) which places each check opens."""
    number = {place: n for n, place in enumerate(sorted(frozenset().union(*opened)))}
    flags: Flags = np.zeros((len(opened), len(number)), bool)
    for n, places in enumerate(opened):
        flags[n, [number[place] for place in places]] = True
    return flags


def turning(shown: Sequence[Shown]) -> Flags:
    """(C, O) outcomes after which the fault shows."""
    widest = max((s.chance.shape[0] for s in shown), default=1)
    flags: Flags = np.zeros((len(shown), widest), bool)
    for number, one in enumerate(shown):
        for outcome in one.turns:
            flags[number, outcome] = True
    return flags
