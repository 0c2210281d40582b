"""A wiring book that somebody brings: proofread before anything is kept, and what it would replace."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from backprobe.base.problems import Problem
from backprobe.book import read_book
from backprobe.book.lines import decode
from backprobe.book.model import Book
from backprobe.defects.predict import Circuit
from backprobe.shop.as_written import as_written
from backprobe.shop.demo import BOOKS
from backprobe.shop.shelf import books_found
from backprobe.shop.workshop import Shop, digest_of

LONGEST_NAME: Final = 60
LARGE: Final = 500
"""Wires from which working out what a healthy machine does takes more than some seconds (measured: 760
take 4, and the time grows faster than the book); it waits until the book is looked at."""
_FIT: Final = re.compile(r"[^/\\\x00-\x1f\x7f]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Proofread:
    """A text as it would be kept. `book` None: it cannot be used; `problems` all of them, `digest` of
    the text; `replaces` the digest of what is kept under the name, "" for nothing or this very text;
    `alike`: books of other names on a machine of the same name."""

    name: str
    text: str
    book: Book | None
    problems: tuple[Problem, ...]
    digest: str
    replaces: str = ""
    alike: tuple[str, ...] = ()


def proofread(shop: Shop, name: str, content: str | bytes) -> Proofread:
    """Read a text that is to be kept under a name; nothing is kept by it. Without a name the book goes by
    its machine's; one that differs in capitals alone from a name in the shop is that name."""
    decoded = decode(content)
    text = decoded.text.replace("\r\n", "\n").replace("\r", "\n")
    book, problems = read_book(content if decoded.trouble else text, name or "book")
    name = " ".join((name or (book.machine.name if book else "")).split())
    kept = shop.books()
    name = next((one for one in kept if one.casefold() == name.casefold()), name)
    wrong = _unfit(name) if name or book else None
    if wrong is not None:
        problems = (wrong, *problems)
    if book is not None and len(book.wires) <= LARGE:
        problems = (*problems, *as_written(Circuit.of(book)))
    digest = digest_of(text)
    before = kept.get(name, "")
    return Proofread(
        name=name,
        text=text,
        book=None if wrong else book,
        problems=problems,
        digest=digest,
        replaces="" if before == digest else before,
        alike=tuple(
            one.name
            for one in books_found(shop)
            if book is not None and one.name != name and one.machine == book.machine.name
        ),
    )


def _unfit(name: str) -> Problem | None:
    """Why a book cannot be called so."""
    fits = _FIT.fullmatch(name) and len(name) <= LONGEST_NAME and name.strip(".")
    if fits and name.casefold() not in BOOKS:
        return None
    return Problem(
        slug="book-name",
        weight="error",
        at=None,
        what=f"A wiring book cannot be called {name[:LONGEST_NAME]!r}."
        if name
        else "The book has no name.",
        why="It is found and started on by its name; those of the demo are taken.",
        remedy=f"Give it a name of at most {LONGEST_NAME} letters, without / and \\, and none of the demo's: "
        f"{', '.join(BOOKS)}.",
    )
