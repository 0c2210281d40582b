"""From text to book: the whole way, in order."""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256

from backprobe.base.problems import Problem, Spot
from backprobe.book import control, feeds, functions, loom, parts, wires
from backprobe.book.assume import assume
from backprobe.book.complete import complete
from backprobe.book.draft import Draft
from backprobe.book.facts import Fact, Form, read_fact
from backprobe.book.lines import (
    LONGEST_LINE,
    MOST_LINES,
    decode,
    read_line,
    split_lines,
)
from backprobe.book.model import Book
from backprobe.book.report import Report
from backprobe.book.rules import RULES
from backprobe.book.rules.context import Checked

_STAGES: tuple[tuple[Form, Callable[[Draft, Fact], None]], ...] = (
    ("part", parts.read_part),
    ("group", control.read_group),
    ("role", control.read_role),
    ("wire", wires.read_wires),
    ("feeds", feeds.read_feeds),
    ("section", loom.read_section),
    ("spot", loom.read_spot),
    ("code", control.read_code),
    ("display", control.read_display),
    ("function", functions.read_function),
)
"""Forms in the order they are taken in, so that a line may name what stands further down."""


def read_book(
    text: str | bytes, file: str = "book", variant: str = ""
) -> tuple[Book | None, tuple[Problem, ...]]:
    """Read a wiring book: (the completed book or None, everything found wrong with it).

    Never raises on bad text and never stops at the first problem. The book is given whenever no
    problem is an "error". `variant` chooses one of the machine's variants; "" takes the first.
    """
    report = Report(file)
    facts = read_facts(text, file, report)
    draft = Draft(report=report)
    if facts is not None and _head(draft, facts):
        facts = _of_variant(draft, facts, variant)
        for form, read in _STAGES:
            for fact in facts:
                if fact.form == form:
                    read(draft, fact)
        draft.extras = [fact.head[0].text for fact in facts if fact.form == "extra"]
        wires.settle_sides(draft)
        loom.find_routes(draft)
        assume(draft)
        book = complete(draft, digest(text))
        checked = Checked(draft, book)
        for rule in RULES:
            rule(checked)
        if not draft.parts and not report.has_errors:
            report.add("nothing-in-it", Spot(file=file, line=1))
        if not report.has_errors:
            return book, report.problems()
    return None, report.problems()


def digest(text: str | bytes) -> str:
    """Names a text: the first 16 hex digits of its SHA-256."""
    data = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else bytes(text)
    return sha256(data).hexdigest()[:16]


def read_facts(text: str | bytes, file: str, report: Report) -> list[Fact] | None:
    """The facts of a text, line by line; None when it is no text at all (reported)."""
    decoded, trouble = decode(text)
    lines = split_lines(decoded)
    if len(lines) > MOST_LINES:
        trouble = "book-too-large"
    if trouble == "book-too-large":
        size = f"{len(lines)} lines" if len(lines) > 1 else f"{len(text) / 1e6:.0f} million bytes"
        report.add(trouble, Spot(file=file, line=1), size=size)
        return None
    if trouble:
        report.add(trouble, Spot(file=file, line=1))
        if trouble == "not-a-text":
            return None
    facts = []
    for number, raw in enumerate(lines, 1):
        if len(raw) > LONGEST_LINE:
            line = read_line(file, number, raw[:80] + " ...")
            report.add("line-too-long", line.spot(), count=str(len(raw)), most=str(LONGEST_LINE))
            continue
        fact = read_fact(read_line(file, number, raw), report)
        if fact is not None:
            facts.append(fact)
    return facts


def _head(draft: Draft, facts: list[Fact]) -> bool:
    """Format and machine lines. False when the book is in a newer format."""
    first: dict[str, Fact] = {}
    for fact in facts:
        if fact.form not in ("format", "machine"):
            continue
        if fact.form in first:
            draft.report.add(
                "duplicate-fact", fact.line.spot(), form=fact.form,
                first=str(first[fact.form].line.number),
            )  # fmt: skip
            continue
        first[fact.form] = fact
    if "format" in first and not parts.read_format(draft, first["format"]):
        draft.report.keep_only("newer-format")
        return False
    if "machine" in first:
        parts.read_machine(draft, first["machine"])
    elif any(fact.form != "extra" for fact in facts):
        draft.report.add("no-machine", Spot(file=draft.report.file, line=1))
    return True


def _of_variant(draft: Draft, facts: list[Fact], wanted: str) -> list[Fact]:
    """The facts that hold for one variant of the machine."""
    variants = draft.machine.variants
    by_fold = {name.casefold(): name for name in variants}
    chosen = by_fold.get(wanted.casefold(), "")
    if not chosen and variants:
        chosen = variants[0]
        if any(fact.only for fact in facts):
            draft.assume(
                draft.machine.name, f"variant {chosen}", "it is the first one in the machine line"
            )
    draft.variant = chosen
    kept = []
    for fact in facts:
        if fact.only is not None:
            name = " ".join(fact.only.text.split())
            if name.casefold() not in by_fold:
                draft.report.add(
                    "unknown-variant", fact.line.spot(fact.only), name=name,
                    known=", ".join(variants) or "none", near=draft.report.near(name, variants),
                )  # fmt: skip
            if by_fold.get(name.casefold()) != chosen:
                continue
        kept.append(fact)
    return kept
