"""The demo wiring books, read from the installed package."""

from __future__ import annotations

from importlib.resources import files
from typing import Final

BOOKS: Final = ("tracked-dumper", "generic", "unplugged-sensor")
"""Names of the demo books: a complete machine, the circuit assumed when nothing is typed, and
a small book for one question (a pressure sender that reads low)."""


def book_text(name: str) -> str:
    """The text of a demo book. ValueError when there is no such book."""
    if name not in BOOKS:
        raise ValueError(f"no demo book {name!r}; there are: {', '.join(BOOKS)}")
    return files(__package__).joinpath(f"{name}.book").read_text(encoding="utf-8")
