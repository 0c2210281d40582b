"""A job's findings as the stretches in which a defect keeps its state.

A visit is one state of the machine: within it, a defect that comes and goes either shows or does
not, whatever the order of the findings. Only an act (unplugged, repaired, ...) cuts a visit into
stretches, because it may end a defect; and a new fuse that blows, because it stays blown. Once a fuse
was fitted new, whatever is tried with it may blow it, where the defect shows: from then on findings
are weighed in the order they were made in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeGuard

from backprobe.book.model import Book
from backprobe.book.situations import Past, Situation, one_of
from backprobe.findings.fold import condition_of, lived_in, usual_life, visits
from backprobe.findings.model import Act, AnyFinding, Condition, FuseFound, JobState

FUSES = ("fuse", "fusible link", "circuit breaker")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Findings between two acts of one visit. `acts` come before them. `opens_visit`: first of
    its visit, so what comes and goes is drawn anew. `touched`: opened during the visit before,
    without an act saying when. `past`: a situation that comes after all the machine lived through before,
    and `next` after its findings as well; `blew`: fuses that blew in this visit, new as they were."""

    opens_visit: bool
    condition: Condition
    acts: tuple[Act, ...]
    touched: frozenset[str]
    findings: tuple[AnyFinding, ...]
    past: Situation
    next: Situation
    blew: frozenset[str] = frozenset()

    def situation(self, finding: AnyFinding) -> Situation:
        """The finding's situation with the machine's history behind it, unless it has its own."""
        situation = finding.situation
        if situation.after is not None:
            return one_of(situation)
        return replace(situation, renewed=situation.renewed - self.blew).coming_after(self.past)


def stretches(book: Book, job: JobState) -> tuple[Stretch, ...]:
    """The trusted findings of a job, visit by visit, cut at acts."""
    past = _Past(usual_life(job))
    found: list[Stretch] = []
    touched: frozenset[str] = frozenset()
    open_before: frozenset[str] = frozenset()
    for visit in visits(job.findings):
        trusted = tuple(f for f in visit if f.trusted)
        condition = condition_of(trusted)
        lived: list[tuple[frozenset[str], tuple[AnyFinding, ...]]] = []
        fresh: frozenset[str] = frozenset()
        blew: frozenset[str] = frozenset()
        now: _Past | None = None
        for number, (acts, findings) in enumerate(_cut(visit)):
            new = frozenset(act.target for act in acts if _new_fuse(book, act))
            fresh, blew = fresh | new, blew - new
            if fresh and now is None:
                now = past.copy()
            if now is not None:
                now.renew(new)
            before = past.before(fresh)
            parts = _tried(findings, fresh, before, now) if now else ((findings, before, before),)
            for k, (part, came, then) in enumerate(parts):
                found.append(
                    Stretch(
                        opens_visit=number == k == 0,
                        condition=condition,
                        acts=() if k else acts,
                        touched=frozenset() if number or k else touched,
                        findings=tuple(f for f in part if f.trusted),
                        past=came,
                        next=then,
                        blew=blew,
                    )
                )
            last = findings[-1] if findings else None
            if last is None or not _blew(last):
                lived.append((fresh, findings))
                continue
            past.go_through((*lived, (fresh, findings[:-1])))
            past.blow(last)
            lived, fresh, blew, now = [], frozenset(), blew | {last.fuse}, None
        past.go_through(lived)
        opened = [f.situation.unplugged | f.situation.pulled for f in visit]
        said = {f.target for f in visit if isinstance(f, Act)}
        touched = frozenset().union(*opened) - open_before - said
        open_before = frozenset(said).union(*opened)
    return tuple(found)


class _Past:
    """Situations lived through, each once since the last new fuse: living through the same again
    blows nothing more."""

    def __init__(self, life: Sequence[Situation]) -> None:
        self.last: Situation | None = None
        self.renewed: frozenset[str] = frozenset()
        self._known: set[Situation] = set()
        self.live(life)

    def copy(self) -> _Past:
        """The same, to go on from."""
        found = _Past(())
        found.last, found.renewed, found._known = self.last, self.renewed, set(self._known)
        return found

    def before(self, fresh: frozenset[str]) -> Situation:
        """A situation that comes after all this, with fuses fitted new since."""
        return Situation(after=self.last, renewed=self.renewed | fresh)

    def knows(self, situation: Situation) -> bool:
        """Whether it was lived through."""
        return situation in self._known

    def renew(self, fuses: frozenset[str]) -> None:
        if fuses:
            self.renewed |= fuses
            self._known.clear()

    def go_through(self, lived: Sequence[tuple[frozenset[str], tuple[AnyFinding, ...]]]) -> None:
        """Stretches of a visit in their order, each with the fuses fitted new up to it."""
        before: frozenset[str] = frozenset()
        for renewed, findings in lived:
            self.renew(renewed - before)
            self.live([_without(situation, renewed) for situation in lived_in(findings)])
            before = renewed

    def blow(self, found: FuseFound) -> None:
        """A new fuse blew in a situation: it is blown in whatever follows."""
        self.renew(frozenset({found.fuse}))
        self.live((found.situation.bare(),))

    def live(self, situations: Sequence[Situation]) -> None:
        for situation in situations:
            if situation not in self._known:
                self._known.add(situation)
                renewed = situation.renewed | self.renewed
                self.last = one_of(replace(situation, after=self.last, renewed=renewed))
                self.renewed = frozenset()


def _tried(
    findings: tuple[AnyFinding, ...], fresh: frozenset[str], before: Situation, now: _Past
) -> list[tuple[tuple[AnyFinding, ...], Situation, Situation]]:
    """Findings made since fuses were fitted new, cut where another situation is tried, each part with
    what came before it and before what follows: what was tried `now`, where the defect shows."""
    anew: Situation | None = None

    def came() -> Situation:
        past = Past(now.last, now.renewed)
        return before if past == before.past(gone=True) else replace(before, showing=past)

    parts: list[tuple[list[AnyFinding], Situation]] = [([], came())]
    for finding in findings:
        situation = _without(finding.situation.bare(), fresh)
        if anew is not None and situation != anew:
            now.live((anew,))
            parts.append(([], came()))
            anew = None
        if not now.knows(situation):
            anew = situation
        parts[-1][0].append(finding)
    if anew is not None:
        now.live((anew,))
    then = [*(past for _, past in parts[1:]), came()]
    return [(tuple(part), past, after) for (part, past), after in zip(parts, then, strict=True)]


def _without(situation: Situation, fresh: frozenset[str]) -> Situation:
    """A situation, without the fuses that an act says were fitted new before it."""
    return replace(situation, renewed=situation.renewed - fresh) if fresh else situation


def _cut(visit: Sequence[AnyFinding]) -> list[tuple[tuple[Act, ...], tuple[AnyFinding, ...]]]:
    """Acts with the findings after them, a new fuse that blew the last of its piece; the first
    piece may have no act, any may have no finding."""
    pieces: list[tuple[list[Act], list[AnyFinding]]] = [([], [])]
    for finding in visit:
        if isinstance(finding, Act):
            if pieces[-1][1]:
                pieces.append(([], []))
            pieces[-1][0].append(finding)
        else:
            pieces[-1][1].append(finding)
            if _blew(finding):
                pieces.append(([], []))
    return [(tuple(acts), tuple(findings)) for acts, findings in pieces]


def _blew(finding: AnyFinding) -> TypeGuard[FuseFound]:
    return isinstance(finding, FuseFound) and finding.state == "blew" and finding.trusted


def _new_fuse(book: Book, finding: AnyFinding) -> bool:
    if not isinstance(finding, Act) or finding.act not in ("replaced", "repaired"):
        return False
    part = book.parts.get(finding.target)
    return part is not None and part.kind in FUSES
