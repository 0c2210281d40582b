"""Findings in words for the sheet."""

from __future__ import annotations

from collections.abc import Sequence

from backprobe.book.model import Book
from backprobe.checks.layout import Layout
from backprobe.findings.fold import visits
from backprobe.findings.model import (
    AnyFinding,
    Approved,
    Bet,
    Closed,
    CodesFound,
    Failing,
    JobState,
    Mentioned,
    NotPossible,
    Photo,
    Reading,
    Recalled,
    Withdrawn,
)
from backprobe.shop.titles import title_of
from backprobe.web.check_view import IN_BRACKETS
from backprobe.web.contexts import CodesView, FoundView, VisitView

__all__ = [
    "clock_words",
    "code_words",
    "codes_of",
    "details_of",
    "short_of",
    "taken_back",
    "title_of",
    "visit_views",
]


def visit_views(
    job: str, layout: Layout, state: JobState, some: tuple[AnyFinding, ...]
) -> tuple[VisitView, ...]:
    """Some of the findings that stand, newest first, by visit."""
    by_visit = visits(some)
    return tuple(
        VisitView(
            heading=f"Visit {found[0].visit}" if len(visits(state.findings)) > 1 else "",
            found=tuple(
                _found(job, layout, finding, finding.id, state) for finding in reversed(found)
            ),
        )
        for found in reversed(by_visit)
    )


def _found(job: str, layout: Layout, finding: AnyFinding, undo: str, state: JobState) -> FoundView:
    photo, owner = (finding.digest, finding.of) if isinstance(finding, Photo) else ("", "")
    of = next((f for f in state.findings if owner and f.id == owner), None)
    return FoundView(
        ident=finding.id,
        title=short_of(layout, finding),
        photo=f"/job/{job}/photo/{photo}" if photo else "",
        of=title_of(layout, of) if of else "",
        lists=codes_of(layout.book, finding),
        details=(*_wires(layout, finding), *details_of(finding)),
        when=clock_words(finding.at_s),
        doubted=not finding.trusted,
        undo=undo,
    )


def short_of(layout: Layout, finding: AnyFinding) -> str:
    """What was found, without the wires at the leads."""
    title = title_of(layout, finding)
    return IN_BRACKETS.sub("", title) if isinstance(finding, Reading) else title


def _wires(layout: Layout, finding: AnyFinding) -> tuple[str, ...]:
    """The same with the wires, where that says more."""
    title = title_of(layout, finding)
    return () if title == short_of(layout, finding) else (title,)


def taken_back(
    job: str, layout: Layout, findings: Sequence[AnyFinding], state: JobState
) -> tuple[FoundView, ...]:
    """Findings that were taken back, each with the withdrawal that would have to go."""
    standing = {finding.id for finding in state.findings}
    withdrawn = {f.finding for f in findings if isinstance(f, Withdrawn)}
    by_target = {
        f.finding: f.id for f in findings if isinstance(f, Withdrawn) and f.id not in withdrawn
    }
    return tuple(
        _found(job, layout, finding, by_target[finding.id], state)
        for finding in findings
        if not isinstance(finding, Withdrawn)
        and finding.id not in standing
        and finding.id in by_target
    )


def codes_of(book: Book, finding: AnyFinding) -> tuple[CodesView, ...]:
    """The codes of a list in words: active ones, stored ones, those the test made."""
    if not isinstance(finding, CodesFound):
        return ()
    made = finding.by_test
    counts = dict(zip((*finding.active, *finding.stored), finding.counts, strict=False))

    def said(code: str) -> str:
        often, first = counts.get(code, 0), code in finding.first
        more = (f"counted {often} times" if often else "", "came first" if first else "")
        return ", ".join((code_words(book, finding.unit, code), *(m for m in more if m)))

    sorts = (
        ("active", [c for c in finding.active if c not in made]),
        ("stored", [c for c in finding.stored if c not in made]),
        ("made by the test", made),
    )
    return tuple(
        CodesView(heading=heading, codes=tuple(said(code) for code in codes))
        for heading, codes in sorts
        if codes
    )


def details_of(finding: AnyFinding) -> tuple[str, ...]:
    """What else belongs to a finding: how the machine stood, the note."""
    lines: list[str] = []
    if isinstance(finding, CodesFound) and not finding.complete:
        lines.append("There may be more codes than these.")
    if isinstance(finding, Approved | Mentioned):
        lines.append("Kept with the job, not weighed.")
    if isinstance(finding, Closed):
        lines += [f"{name}: {said}" for name, said in _closing(finding) if said]
    if not isinstance(
        finding,
        Approved | Bet | Recalled | Failing | NotPossible | Mentioned | Photo | Closed | Withdrawn,
    ):
        lines.append(finding.situation.words())
    if finding.note.strip():
        lines.append(finding.note.strip())
    return tuple(lines)


def _closing(finding: Closed) -> tuple[tuple[str, str], ...]:
    return (("Done", finding.done), ("Parts", finding.parts), ("Left as it is", finding.left))


def code_words(book: Book, unit: str, code: str, *, blinks: bool = False) -> str:
    """A code with what the book says it means and, where asked for, how it blinks."""
    rule = book.codes.get((unit, code))
    if rule is None:
        return f"{code} (not in this book)"
    tail = f" (blinks {rule.blinks})" if blinks and rule.blinks else ""
    return f"{code} {rule.words}{tail}"


def clock_words(seconds: float) -> str:
    """Time since the job began."""
    minutes = int(seconds // 60)
    if minutes < 1:
        return "at the start"
    if minutes < 120:
        return f"after {minutes} min"
    if minutes < 48 * 60:
        return f"after {minutes // 60} h"
    return f"after {minutes // (24 * 60)} days"
