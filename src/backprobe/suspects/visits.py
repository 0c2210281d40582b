"""A job's findings as the stretches in which a defect keeps its state.

A visit is one state of the machine: within it, a defect that comes and goes either shows or does
not, whatever the order of the findings. Only an act (unplugged, repaired, ...) cuts a visit into
stretches, because it may end a defect; and a new fuse that blows, because it stays blown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeGuard

from backprobe.book.model import Book
from backprobe.book.situations import Situation, one_of
from backprobe.findings.fold import condition_of, lived_in, usual_life, visits
from backprobe.findings.model import Act, AnyFinding, Condition, FuseFound, JobState

FUSES = ("fuse", "fusible link", "circuit breaker")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Findings between two acts of one visit. `acts` come before them. `opens_visit`: first of
    its visit, so what comes and goes is drawn anew. `touched`: opened during the visit before,
    without an act saying when. `history`: what the machine lived through before; `renewed`: fuses
    fitted new since; `blew`: fuses that blew in this visit, new as they were."""

    opens_visit: bool
    condition: Condition
    acts: tuple[Act, ...]
    touched: frozenset[str]
    findings: tuple[AnyFinding, ...]
    history: Situation | None
    renewed: frozenset[str]
    blew: frozenset[str] = frozenset()

    def situation(self, finding: AnyFinding) -> Situation:
        """The finding's situation with the machine's history behind it, unless it has its own."""
        situation = finding.situation
        if situation.after is not None:
            return one_of(situation)
        renewed = (situation.renewed - self.blew) | self.renewed
        return one_of(replace(situation, after=self.history, renewed=renewed))


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
        for number, (acts, findings) in enumerate(_cut(visit)):
            new = {act.target for act in acts if _new_fuse(book, act)}
            fresh, blew = fresh | new, blew - new
            found.append(
                Stretch(
                    opens_visit=number == 0,
                    condition=condition,
                    acts=acts,
                    touched=frozenset() if number else touched,
                    findings=tuple(f for f in findings if f.trusted),
                    history=past.last,
                    renewed=past.renewed | fresh,
                    blew=blew,
                )
            )
            last = findings[-1] if findings else None
            if last is None or not _blew(last):
                lived.append((fresh, findings))
                continue
            past.go_through((*lived, (fresh, findings[:-1])))
            past.blow(last)
            lived, fresh, blew = [], frozenset(), blew | {last.fuse}
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

    def renew(self, fuses: frozenset[str]) -> None:
        if fuses:
            self.renewed |= fuses
            self._known.clear()

    def go_through(self, lived: Sequence[tuple[frozenset[str], tuple[AnyFinding, ...]]]) -> None:
        """Stretches of a visit in their order, each with the fuses fitted new up to it."""
        before: frozenset[str] = frozenset()
        for renewed, findings in lived:
            self.renew(renewed - before)
            self.live(lived_in(findings))
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
