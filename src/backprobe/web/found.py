"""Findings in words for the sheet."""

from __future__ import annotations

from backprobe.book.model import Book
from backprobe.findings.model import (
    AnyFinding,
    Approved,
    Bet,
    Closed,
    CodesFound,
    Failing,
    Mentioned,
    NotPossible,
    Photo,
    Withdrawn,
)
from backprobe.shop.titles import title_of
from backprobe.web.contexts import CodesView

__all__ = ["clock_words", "code_words", "codes_of", "details_of", "title_of"]


def codes_of(book: Book, finding: AnyFinding) -> tuple[CodesView, ...]:
    """The codes of a list in words: active ones, stored ones, those the test made."""
    if not isinstance(finding, CodesFound):
        return ()
    made = finding.by_test
    sorts = (
        ("active", [c for c in finding.active if c not in made]),
        ("stored", [c for c in finding.stored if c not in made]),
        ("made by the test", made),
    )
    return tuple(
        CodesView(
            heading=heading, codes=tuple(code_words(book, finding.unit, code) for code in codes)
        )
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
        finding, Approved | Bet | Failing | NotPossible | Mentioned | Photo | Closed | Withdrawn
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
