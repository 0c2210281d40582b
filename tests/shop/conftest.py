"""What the tests of the shop share: the demo machine's book, read once."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.model import Book
from backprobe.shop.demo import book_text


@pytest.fixture(scope="session")
def dumper() -> Book:
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None, "\n".join(map(str, problems))
    return book
