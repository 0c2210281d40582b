"""Help for the tests of this folder: read a book that must be sound."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from typing import Any

from backprobe.base.problems import Spot
from backprobe.book import read_book
from backprobe.book.model import Book, End, Wire

HEAD = "machine tracked dumper, 12 V\n"


def sound(text: str, variant: str = "") -> Book:
    """The book in a text; fails when anything is wrong with it beyond notes."""
    book, problems = read_book(text if text.startswith("machine") else HEAD + text, variant=variant)
    assert [str(problem) for problem in problems if problem.weight != "note"] == []
    assert book is not None
    return book


def slugs(text: str) -> list[str]:
    """The slugs of a text's problems, notes left out."""
    return [p.slug for p in read_book(HEAD + text)[1] if p.weight != "note"]


def typed(book: Book) -> list[tuple[str, str]]:
    """The ends of the wires somebody typed."""
    return [(words(w.a), words(w.b)) for w in book.wires.values() if not w.origin.assumed]


def words(end: End) -> str:
    """An end in short."""
    return f"{end.part}.{end.pin}{end.side}"


def between(book: Book, a: str, b: str) -> Wire:
    """The one wire between two parts."""
    (found,) = [w for w in book.wires.values() if {w.a.part, w.b.part} == {a, b}]
    return found


def plain(value: Any) -> Any:
    """Everything in a book but where it stood in the text and what the text was."""
    if isinstance(value, Spot):
        return None
    if is_dataclass(value):
        return {f.name: plain(getattr(value, f.name)) for f in fields(value) if f.name != "digest"}
    if isinstance(value, tuple):
        return tuple(plain(item) for item in value)
    if hasattr(value, "items"):
        return [(plain(key), plain(item)) for key, item in value.items()]
    return value
