"""The shop's wiring books as a list."""

from __future__ import annotations

from dataclasses import dataclass

from backprobe.book import read_book
from backprobe.shop.workshop import Shop


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelved:
    """A wiring book: its name, its machine, how much is in it."""

    name: str
    machine: str
    parts: int
    wires: int


def books_found(shop: Shop, wanted: str = "") -> tuple[Shelved, ...]:
    """Books by machine, in whose name or machine every word of `wanted` occurs."""
    sought = wanted.casefold().split()
    found = [
        Shelved(name=name, machine=machine, parts=parts, wires=wires)
        for name, digest in shop.books().items()
        for machine, parts, wires in (_about(shop, name, digest),)
        if all(word in f"{name} {machine}".casefold() for word in sought)
    ]
    return tuple(sorted(found, key=lambda one: (one.machine.casefold(), one.name)))


def _about(shop: Shop, name: str, digest: str) -> tuple[str, int, int]:
    """Machine, parts and wires of a book; a text that was read once is not read again."""
    known = _KNOWN.get(digest)
    if known is None:
        book, _ = read_book(shop.book_text(name), name)
        known = (
            ("", 0, 0) if book is None else (book.machine.name, len(book.parts), len(book.wires))
        )
        _KNOWN[digest] = known
    return known


_KNOWN: dict[str, tuple[str, int, int]] = {}
"""By the digest of a text. A line each: a shop has tens to hundreds of books."""
