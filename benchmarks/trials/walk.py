"""A technician works a job to its end, led by one way of choosing what to do next."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal, Protocol

import numpy as np

from backprobe.book.model import Book
from backprobe.book.situations import Key, Situation
from backprobe.checks.draft import ESCALATE_S, NEVER_S, Plan, planned
from backprobe.checks.layout import Layout, layout_of
from backprobe.checks.model import Check
from backprobe.checks.plan import LEAST_BITS
from backprobe.checks.present import repair_id
from backprobe.checks.worth import Scores, score
from backprobe.defects.model import Atom, Ints
from backprobe.findings.model import CodesFound, Looked
from backprobe.kinds import KINDS
from backprobe.shop.answer import Answer, answered
from backprobe.shop.job import Job
from backprobe.shop.outlook import Standing, engine, planned_on
from backprobe.suspects.verdict import DECIDED
from oracles.solved_apart import Apart, RestlessError
from oracles.technician import Hidden, mends, pushed_home
from trials.arrive import arrival, shown
from trials.draw import Case, Field

CHECKS = 14
"""Checks after which only repairs are left, for everybody."""
REPAIRS = 3
"""Repairs in vain after which the job is handed on."""
SLIPS = 0.05
"""Share of readings that are misread, on a wrong pin or in a wrong key state."""
IN_CONDITION = 0.9
"""Chance that a fault shows again in the condition it shows in."""
DAYS, STILL_THERE = 10, 0.7
"""Days of work for which a trap is left, and the chance that a fault that came still shows when one
is there."""
CANNOT = Answer(word="cannot")


@dataclass
class Turn:
    """Where a job stands when something is to be chosen; `done`: the checks so far."""

    job: Job
    codes: tuple[tuple[str, str], ...]
    done: tuple[Check, ...] = ()

    @property
    def layout(self) -> Layout:
        """Where things are, by the book."""
        return layout_of(self.job.book, KINDS)

    @cached_property
    def standing(self) -> Standing:
        """Weighed."""
        job = self.job
        return Standing(
            circuit=job.weighed, state=job.state, belief=job.belief, verdict=job.verdict
        )

    @cached_property
    def plan(self) -> Plan:
        """Checks that may be done, what they would show and cost; nothing is chosen."""
        with engine():
            near, belief = planned_on(self.standing)
            return planned(self.job.book, near, self.standing.state, belief)

    @cached_property
    def scores(self) -> Scores:
        """One step ahead."""
        return score(self.plan.table, self.plan.stories.mass)

    @cached_property
    def telling(self) -> Ints:
        """Numbers of the checks that tell something."""
        found: Ints = np.flatnonzero(self.scores.bits >= LEAST_BITS)
        return found


Baseline = Callable[[Turn], int]
"""The number of a telling check."""


@dataclass(frozen=True)
class Offer:
    """What is done next, and its seconds."""

    check: Check
    seconds: float


class Policy(Protocol):
    """A way to choose; None hands the job on."""

    def __call__(self, turn: Turn, *, repair: bool) -> Offer | None:
        """`repair`: no check is allowed any more."""
        ...


def proposed(turn: Turn, *, repair: bool) -> Offer | None:
    """The product's own first proposal."""
    first = turn.job.proposal.next[0] if turn.job.proposal.next else None
    if first is None or first.check.does == "stop":
        return None
    if repair and first.check.does not in ("repair", "prove"):
        return _likeliest(turn)
    return Offer(first.check, first.seconds)


@dataclass(frozen=True)
class By:
    """A baseline: its own choice among the same checks, the same weighing, the same bar. `first`:
    what is done before, whether it tells or not."""

    choose: Baseline
    first: Callable[[Turn], Offer | None] | None = None

    def __call__(self, turn: Turn, *, repair: bool) -> Offer | None:
        """Repairs begin when one suspect is above the bar or nothing tells any more."""
        verdict = turn.job.verdict
        if verdict.proof is not None:
            return proposed(turn, repair=repair)
        leads = bool(verdict.suspects) and verdict.suspects[0].still >= DECIDED
        if leads or repair:
            return _likeliest(turn)
        step = self.first(turn) if self.first is not None else None
        if step is not None:
            return step
        if not turn.telling.size:
            return _likeliest(turn)
        number = self.choose(turn)
        return Offer(turn.plan.checks[number], float(turn.plan.seconds[number]))


def _likeliest(turn: Turn) -> Offer | None:
    """The repair of the likeliest suspect that was not mended in vain already."""
    plan = turn.plan
    suspects = np.array([key in plan.repairs for key in plan.stories.keys])
    groups = np.where(suspects & (plan.table.repair < NEVER_S), turn.scores.groups[:-1], 0.0)
    if not groups.size:
        return None
    best = int(np.argmax(groups))
    if groups[best] <= 0.0:
        return None
    group = plan.repairs[plan.stories.keys[best]]
    check = Check(
        id=repair_id(group.key),
        does="repair",
        target=group.key,
        words=f"Mend {group.words}",
        situation=Situation(key="off"),
        opens=group.access,
    )
    return Offer(check, float(plan.table.repair[best]))


@dataclass
class Walk:
    """A job being worked. `ended`: "mended", "handed on", "came back" (closed with the fault in
    it), "given up" (too many repairs in vain). `spent`: seconds by class of check, "mended" and "in
    vain" for repairs; `tried`: the checks themselves."""

    checks: int = 0
    spent: dict[str, float] = field(default_factory=dict)
    vain: int = 0
    first_repair: bool | None = None
    found: int = 0
    ended: Literal["", "mended", "handed on", "came back", "given up"] = ""
    done: list[str] = field(default_factory=list)
    tried: list[Check] = field(default_factory=list)
    leading: list[tuple[str, float]] = field(default_factory=list)
    outside: float = 0.0
    solving: float = 0.0

    def try_(self, offer: Offer) -> None:
        """A check is done."""
        self.checks += 1
        self.tried.append(offer.check)
        self.spend(offer.check.does, offer.seconds)

    @property
    def seconds(self) -> float:
        """On the clock, to the last repair."""
        return sum(self.spent.values())

    def spend(self, what: str, seconds: float) -> None:
        """So long on this."""
        self.spent[what] = self.spent.get(what, 0.0) + seconds

    @property
    def minutes(self) -> float:
        """To the end; a job that is not mended costs handing it on as well."""
        return (self.seconds + (0.0 if self.ended == "mended" else ESCALATE_S)) / 60.0


@dataclass
class Work:
    """One technician on one case. `book` is what he has; `slips`: how often he errs."""

    of: Field
    case: Case
    book: Book
    hidden: Hidden
    rng: np.random.Generator
    slips: float = 0.0

    def follow(self, fresh: Job, policy: Policy) -> Walk:
        """To the end."""
        walk = Walk()
        job = fresh.note(*arrival(self.of, self.case, self.hidden, self.book))
        assert not job.problems, job.problems
        left = [fault.atom for fault in self.case.faults]
        while not walk.ended:
            turn = Turn(job, _codes(job), tuple(walk.tried))
            offer = policy(turn, repair=walk.checks >= CHECKS)
            if offer is None:
                closed = job.verdict.proof is not None and job.verdict.proof.holds
                walk.ended = "came back" if closed else "handed on"
                break
            check = offer.check
            if check.does == "repair":
                mended = [atom for atom in left if mends(check.target, atom)]
                hit = any(not self._for_nothing(check.target, atom) for atom in mended)
                if walk.first_repair is None:
                    walk.first_repair = hit
                walk.vain += not hit
                walk.spend("mended" if hit else "in vain", offer.seconds)
                left = [atom for atom in left if atom not in mended]
                word = "right" if hit else "mended, the part for nothing" if mended else "in vain"
                walk.done.append(f"{check.words} -> {word}")
                if not left:
                    walk.ended = "mended"
                    break
                if walk.vain >= REPAIRS:
                    walk.ended = "given up"
                    break
                job = self._repaired(job, check)
                continue
            walk.try_(offer)
            if check.does in ("swap", "new fuse"):
                left = self._renewed(check.target, left)
            reply = self.answer(check)
            walk.done.append(f"{check.words} -> {_words(reply)}")
            later = job.note(*answered(check, reply, job.state))
            job = later if not later.problems else job.note(*answered(check, CANNOT, job.state))
            if not left:
                walk.ended = "mended"
            if not later.problems and reply.word != CANNOT.word:
                job = self._remarked(job, check)
            if reply.word == "fails again":
                job = self._shown_anew(job)
        walk.found = len(self.case.faults) - len(left)
        walk.leading = [(s.group, round(s.chance, 4)) for s in job.suspects[:3]]
        walk.outside = job.verdict.not_in_book
        shows = self.hidden.shows
        walk.solving = shows.seconds if isinstance(shows, Apart) else 0.0
        return walk

    def answer(self, check: Check) -> Answer:
        """What he finds, or that it cannot be done on the machine as it is."""
        try:
            if check.does == "prove":
                self._another_visit(check.condition)
                return Answer(word="stays away" if self.hidden.gone else "shows again")
            if check.does == "trap":
                return Answer(word="fails again" if self._caught() else "stays away")
            if self.rng.random() < self.slips:
                return self._slipped(check)
            return self.hidden.answer(check)
        except (KeyError, RestlessError):
            return CANNOT

    def _for_nothing(self, target: str, atom: Atom) -> bool:
        """Whether a new part was fitted where pushing its plug home was enough. One that is off is
        seen before the part is out."""
        return pushed_home(target, atom) and not self.hidden.looks_damaged(atom.group)

    def _remarked(self, job: Job, check: Check) -> Job:
        """What is seen of a plug while it is pulled is noted, once."""
        known = {finding.target for finding in job.findings if isinstance(finding, Looked)}
        seen = [group for group in self.hidden.remarked(check) if group not in known]
        off = Situation(key="off")
        visit = job.state.visit
        later = job.note(
            *(Looked(target=group, damage=True, situation=off, visit=visit) for group in seen)
        )
        return later if not later.problems else job

    def _slipped(self, check: Check) -> Answer:
        """A figure misread, another pin, or another key state."""
        way = int(self.rng.integers(3))
        other: dict[str, Key] = {"on": "off", "run": "on", "crank": "on", "off": "on"}
        if check.probe is None or way == 1:
            wrong = replace(check.situation, key=other[check.situation.key])
            return self.hidden.answer(replace(check, situation=wrong))
        if way == 0:
            true = self.hidden.answer(check)
            if true.value is None:
                return true
            misread = (0.0, self.of.book.machine.volts, 5.0, 10.0 * true.value)
            return replace(true, value=float(misread[int(self.rng.integers(4))]))
        part, dot, _ = check.probe.p.rpartition(".")
        near = [n for n in self.of.circuit.net.alias if dot and n.startswith(f"{part}.")]
        if not near:
            return self.hidden.answer(check)
        probe = replace(check.probe, p=str(self.rng.choice(sorted(near))))
        return self.hidden.answer(replace(check, probe=probe))

    def _repaired(self, job: Job, check: Check) -> Job:
        """A repair that did not end it all: does the proof say so? What shows is noted again."""
        self.hidden.shows.renew(check.target)
        here = [atom for atom in self.hidden.atoms if mends(check.target, atom)]
        self._mend(here)
        bad = any(self.rng.random() < atom.visible for atom in here)
        if self.case.rho is not None:
            self._another_visit("")
        passes = self.hidden.gone
        found = "was bad" if bad else "nothing found"
        reply = Answer(word="passes" if passes else f"fails, {found}")
        job = job.note(*answered(check, reply, job.state))
        return job if passes else self._shown_anew(job)

    def _renewed(self, part: str, left: Sequence[Atom]) -> list[Atom]:
        """What is left of the faults with an equal part in place of one, or a new fuse: it stays in."""
        self._mend([atom for atom in left if mends(part, atom)])
        return [atom for atom in left if not mends(part, atom)]

    def _mend(self, atoms: Sequence[Atom]) -> None:
        """Some faults are gone."""
        shows = self.hidden.shows
        for fault in self.case.faults:
            if fault.atom in atoms and isinstance(shows, Apart):
                shows.mended(fault.changes)
        self.hidden.atoms = tuple(atom for atom in self.hidden.atoms if atom not in atoms)

    def _shown_anew(self, job: Job) -> Job:
        """What the failing machine shows in this visit."""
        seen = shown(self.of, self.hidden, self.book)
        return job.note(*(replace(f, visit=job.state.visit) for f in seen))

    def _caught(self) -> bool:
        """Whether it fails while the trap is out, and still does when he is there."""
        for _ in range(DAYS):
            self._another_visit("")
            if not self.hidden.gone:
                self.hidden.gone = bool(self.rng.random() >= STILL_THERE)
                break
        return not self.hidden.gone

    def _another_visit(self, condition: str) -> None:
        """What comes and goes is drawn anew."""
        case = self.case
        if case.rho is None:
            return
        here = bool(condition) and condition == case.condition
        self.hidden.gone = bool(self.rng.random() >= (IN_CONDITION if here else case.rho))


def _words(reply: Answer) -> str:
    return reply.word or ("" if reply.value is None else f"{reply.value:.4g}")


def _codes(job: Job) -> tuple[tuple[str, str], ...]:
    """(unit, code) found so far, in the order of the lists."""
    found: dict[tuple[str, str], None] = {}
    for finding in job.findings:
        if isinstance(finding, CodesFound):
            codes = (*finding.active, *finding.stored)
            found |= dict.fromkeys((finding.unit, code) for code in codes)
    return tuple(found)
