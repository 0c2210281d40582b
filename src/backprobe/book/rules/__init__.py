"""The rules a book is checked by, each one function."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from backprobe.book.draft import Draft
from backprobe.book.model import Book

Rule = Callable[[Draft, Book], None]
RULES: Final[tuple[Rule, ...]] = ()
