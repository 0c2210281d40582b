"""From bytes to lines: encodings, comments, quotes, and texts that are hopeless."""

from __future__ import annotations

import cProfile
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.base.problems import Problem
from backprobe.book import canonical, read_book
from backprobe.book.lines import MOST_LINES, read_line, split_lines

TEXT = "machine Bagger für Müll, 12 V\nF1: fuse 10 A  # 4,7 kΩ\n"


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_usual_encodings_read_alike(codec: str) -> None:
    book, problems = read_book(TEXT.encode(codec))
    assert book is not None
    assert book.machine.name == "Bagger für Müll"
    assert [problem.slug for problem in problems] == ["unconnected-part"]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_of_every_system_read_alike(end: str) -> None:
    assert split_lines("a\nb\n\nc".replace("\n", end)) == ["a", "b", "", "c"]


@pytest.mark.parametrize(
    ("text", "body", "comment"),
    [
        ("F1: fuse 10 A # note", "F1: fuse 10 A", "# note"),
        ("# all of it", "", "# all of it"),
        ("wire #12", "wire", "#12"),
        ("name with a#b in it", "name with a#b in it", ""),
        ('code E 1 "is # 3": x  # c', 'code E 1 "is # 3": x', "# c"),
        ("  indented  ", "indented", ""),
    ],
)
def test_a_comment_starts_first_or_after_white_space_and_never_in_quotes(
    text: str, body: str, comment: str
) -> None:
    line = read_line("book", 1, text)
    assert (line.body.text, line.comment) == (body, comment)
    assert text[line.body.column - 1 :].startswith(body)


@pytest.mark.parametrize(
    "text", ["", "\n\n", "# only a comment\n", b"", "book format 1\nmachine x, 12 V\n"]
)
def test_a_text_without_parts_is_no_book_yet(text: str | bytes) -> None:
    book, problems = read_book(text)
    assert book is None
    assert [problem.slug for problem in problems] == ["nothing-in-it"]


HOPELESS = {
    "noise": random.Random(1).randbytes(1_000_000),
    "50 MB of zeros": bytes(50_000_000),
    "50 MB of text": b"F1: fuse 10 A\n" * 3_600_000,
    "50 MB in one line": "x" * 50_000_000,
    "a million one-letter lines": "a\n" * 1_000_000,
    "as many one-letter lines as a book may have": "a\n" * MOST_LINES,
    "as many unknown parts": "".join(f"zqx{k}.1 > qqq{k}.2\n" for k in range(MOST_LINES)),
    "one plug with all the wires": "".join(f"X1.{k} > G1\n" for k in range(MOST_LINES)),
    "one long loom": "".join(f"section s{k}: p{k} to p{k + 1}, 1 m\n" for k in range(MOST_LINES)),
    "nothing but quotes": ('"' * 999 + "\n") * 900,
    "nothing but arrows": (">" * 999 + "\n") * 900,
    "nothing but commas": (", " * 499 + "\n") * 900,
}


MOST_CALLS = 450
"""Calls of functions for each line that a book may have. The hopeless texts need 341 at most, a second
of a quick machine; seconds themselves depend on what else it does."""


@pytest.mark.parametrize("name", HOPELESS)
def test_a_hopeless_text_takes_no_more_work_than_a_large_book(name: str) -> None:
    problems, calls = counted(HOPELESS[name])
    assert calls < MOST_CALLS * MOST_LINES
    assert 0 < len(problems) <= 201


def counted(text: str | bytes) -> tuple[tuple[Problem, ...], int]:
    """The problems of a text, and how many calls of functions it took to find them."""
    profile = cProfile.Profile()
    _, problems = profile.runcall(read_book, text)
    return problems, sum(entry.callcount for entry in profile.getstats())


@pytest.mark.parametrize(
    "form", ["E{}.1: supply", "F{} feeds lamp {}", "S{}.2 > S1{}.1", "L{}: lamp"]
)
def test_work_grows_no_faster_than_the_book(form: str) -> None:
    def calls(lines: int) -> int:
        return counted("\n".join(form.format(k, k) for k in range(lines)))[1]

    assert calls(1600) < 5 * calls(400)


WORDS = st.sampled_from(
    [
        "F1", "X14.3", "ECU.47", "rail sensor", "lamp", "fuse", "10 A", "4.7 kohm", ">", "+", ":",
        ",", ", ", "#", '"', "?", "section", "spot", "code", "machine", "group", "feeds", "display",
        "function", "needs", "in", "at", "to", "0.5 m", "only cab", "from page 9", "<", ".", "/",
        "book format 1", "variants a / b", "x-note:", "plug 4 ways", "5 V group A", "is", "-", "Ω",
        "frame", "battery minus", "hears", "pins", "wire", "open", "\t", "\ufeff", "\x00", "é",
    ]
)  # fmt: skip
LINES = st.lists(st.lists(WORDS, max_size=9).map(" ".join), max_size=8).map("\n".join)


@given(LINES)
def test_no_text_of_the_formats_own_words_makes_it_raise(text: str) -> None:
    book, problems = read_book(text)
    assert (book is None) == any(problem.weight == "error" for problem in problems)
    assert canonical(canonical(text)) == canonical(text)


@given(st.text(max_size=300))
def test_no_text_makes_it_raise(text: str) -> None:
    read_book(text)
    assert canonical(canonical(text)) == canonical(text)


@given(st.binary(max_size=300))
def test_no_bytes_make_it_raise(data: bytes) -> None:
    read_book(data)
    canonical(data)
