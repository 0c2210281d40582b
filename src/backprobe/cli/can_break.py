"""`backprobe can-break PLACE --book BOOK`: every defect that sits somewhere,
and what it does."""

from __future__ import annotations

import argparse

from backprobe.cli.common import (
    book_of,
    book_option,
    guarded,
    json_option,
    refused,
    shop_option,
    show,
)
from backprobe.cli.lay import table
from backprobe.shop.expect import defects_at, effects_at
from backprobe.shop.job import start
from backprobe.shop.say.names import Names, find, near


def arguments(parser: argparse.ArgumentParser) -> None:
    """PLACE, --book, --shop and --json."""
    parser.add_argument("place", nargs="+", help="a part, plug, wire or loom section")
    book_option(parser)
    shop_option(parser)
    json_option(parser)


def run(options: argparse.Namespace) -> int:
    """List them; 4 when the book has no such place."""
    return guarded(options, _run)


def _run(options: argparse.Namespace) -> int:
    place = " ".join(options.place)
    book = book_of(options)
    names = Names(book)
    known = {**names.parts, **{s: s for s in book.sections}, **{w: w for w in book.wires}}
    known |= {f"wire {w}": f"wire {w}" for w in book.wires}
    found = find(place, known)
    if found is None:
        raise refused(
            "place-not-found",
            f"The book has no part, wire or loom section {place!r}.",
            "Defects sit on what the book names.",
            f"Type the name as the book prints it.{near(place, known)}",
        )
    circuit = start(book).circuit
    rows = [
        (*named, does)
        for named, does in zip(defects_at(circuit, found), effects_at(circuit, found), strict=True)
    ]
    result = [{"defect": ident, "words": words, "does": does} for ident, words, does in rows]
    text = table(rows, ("defect", "what can be wrong", "what it does beyond readings"))
    return show(options, result, text if rows else f"Nothing can be wrong at {found}.")
