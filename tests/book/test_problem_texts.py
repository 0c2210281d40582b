"""Every problem of the wiring book, by its full text; and the manual has a paragraph for each."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from backprobe.book import read_book
from backprobe.book.wording import WORDING
from backprobe.shop.as_written import AS_WRITTEN

HERE = Path(__file__).parent
MANUAL = HERE.parents[1] / "docs" / "problems.md"


def golden() -> Iterator[tuple[str, str, str]]:
    """(slug, book, whole text of the problem) for each case of problem_texts.txt."""
    for case in (HERE / "problem_texts.txt").read_text("utf-8").split("\n== ")[1:]:
        slug, rest = case.split("\n", 1)
        book, expected = rest.split("\n--\n", 1)
        yield slug, book.replace("@long", "x" * 1200) + "\n", expected.rstrip("\n")


CASES = {slug: (book, expected) for slug, book, expected in golden()}

BYTES = {
    "not-a-text": (
        b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
        """book:1:1: error: This is not a text file. [not-a-text]
  why: It holds bytes no text has, so it is a picture, a PDF, a spreadsheet or a damaged file.
  do:  Save the book as plain text (UTF-8) and open that.""",
    ),
    "book-too-large": (
        b"a\n" * 20_000,
        """book:1:1: error: This text is too large for a wiring book (20000 lines). [book-too-large]
  why: A book holds one machine type; even a large one stays under 10000 lines.
  do:  Check that the right file was chosen, or split it into one book per machine type.""",
    ),
    "not-utf-8": (
        "machine Bagger für Müll, 12 V\n".encode("cp1252"),
        """book:1:1: warning: The text is not saved as UTF-8; it was read as Windows text (cp1252). \
[not-utf-8]
  why: Letters such as the ohm sign or those with accents may have been read wrongly.
  do:  Save the book as UTF-8 in your editor.""",
    ),
    "more-problems": (
        b"machine m, 12 V\n" + b"nonsense\n" * 300,
        """error: And 100 more problems. [more-problems]
  why: Only the first 200 are kept, so that a wrong file does not drown you.
  do:  Mend the ones above and read the book again.""",
    ),
}


def shown(book: str | bytes, slug: str) -> list[str]:
    return [str(problem) for problem in read_book(book)[1] if problem.slug == slug]


@pytest.mark.parametrize("slug", CASES)
def test_a_problem_is_told_in_these_words(slug: str) -> None:
    book, expected = CASES[slug]
    assert shown(book, slug) == [expected]


@pytest.mark.parametrize("slug", BYTES)
def test_a_problem_of_the_bytes_is_told_in_these_words(slug: str) -> None:
    book, expected = BYTES[slug]
    assert shown(book, slug) == [expected]


def test_every_problem_is_in_the_tables_above() -> None:
    assert {*CASES, *BYTES} == set(WORDING)


@pytest.mark.parametrize("slug", CASES)
def test_the_book_is_withheld_exactly_when_there_is_an_error(slug: str) -> None:
    book, problems = read_book(CASES[slug][0])
    assert (book is None) == any(problem.weight == "error" for problem in problems)


@pytest.mark.parametrize("slug", CASES)
def test_the_marker_stands_under_the_stretch(slug: str) -> None:
    for problem in read_book(CASES[slug][0])[1]:
        if problem.at and problem.at.text:
            assert 1 <= problem.at.column < problem.at.end <= len(problem.at.text) + 1


def test_the_manual_has_a_paragraph_for_every_problem_and_no_other() -> None:
    text = MANUAL.read_text("utf-8")
    paragraphs = dict(re.findall(r"^### (\S+)\n(\w+)", text, re.MULTILINE))
    of_the_text = {slug: weight for slug, weight in paragraphs.items() if slug not in AS_WRITTEN}
    assert of_the_text == {slug: wording.weight for slug, wording in WORDING.items()}
    assert {paragraphs[slug] for slug in AS_WRITTEN} == {"warning"}


def test_the_manual_of_the_format_reads_without_a_problem() -> None:
    manual = MANUAL.with_name("wiring-book.md").read_text("utf-8").splitlines()
    example = "\n".join(line[4:] for line in manual if line.startswith("    "))
    book, problems = read_book(example)
    assert [str(problem) for problem in problems] == []
    assert book is not None
    assert len(book.wires) > 40
