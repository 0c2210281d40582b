"""`backprobe proofread FILE`: a wiring book's problems, and what was assumed."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from backprobe.book import read_book
from backprobe.book.model import Book
from backprobe.cli.common import exit_for, file_text, guarded, json_option, show
from backprobe.cli.lay import table
from backprobe.defects.predict import Circuit
from backprobe.shop.as_written import as_written
from backprobe.shop.assumed import told_together

LARGE = 500
"""Wires from which proofreading takes more than some seconds (measured: 760 take 4, and the time
grows faster than the book)."""
WAIT = "Working out what a healthy machine does by {wires} wires; this takes a while."


def arguments(parser: argparse.ArgumentParser) -> None:
    """FILE and --json."""
    parser.add_argument("file", help="the wiring book, a text file")
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """Read the book and say everything about it; 3 when it has errors."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    name = Path(options.file).name
    book, problems = read_book(file_text(options.file), name)
    if book is not None:
        if len(book.wires) > LARGE:
            print(WAIT.format(wires=len(book.wires)), file=sys.stderr, flush=True)
        problems = (*problems, *as_written(Circuit.of(book)))
    parts = [str(problem) for problem in problems]
    counts = {
        weight: sum(p.weight == weight for p in problems) for weight in ("error", "warning", "note")
    }
    if book is not None and book.assumptions:
        rows = [(a.about, a.what, a.because) for a in told_together(book.assumptions)]
        parts.append("Assumed, because nobody typed it:")
        parts.append(table(rows, ("about", "what", "because"), indent="  "))
    parts.append(_summary(name, book, counts))
    result = {
        "book": name,
        "usable": book is not None,
        "counts": counts,
        "problems": list(problems),
        "assumptions": list(book.assumptions) if book else [],
    }
    show(options, result, "\n".join(parts))
    return exit_for(problems)


def _summary(name: str, book: Book | None, counts: dict[str, int]) -> str:
    found = ", ".join(
        f"{count} {weight}{'s' if count != 1 else ''}" for weight, count in counts.items() if count
    )
    if book is None:
        return f"{name} cannot be used yet: {found}."
    return (
        f"{name}: {book.machine.name}, {len(book.parts)} parts, {len(book.wires)} wires, "
        f"{len(book.codes)} codes, {len(book.assumptions)} assumptions; {found or 'no problems'}."
    )
