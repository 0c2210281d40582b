"""Codes typed as a lamp blinks them. Numbers are those of the demo book, which are invented."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.base.problems import Problem
from backprobe.book import read_book
from backprobe.book.model import Book
from backprobe.findings.fold import fold
from backprobe.findings.model import CodesFound
from backprobe.shop.say import hear, told

START = fold(())


def one(line: str, book: Book) -> CodesFound:
    (heard,) = hear(line, book, state=START)
    assert isinstance(heard, CodesFound), str(heard)
    return heard


@pytest.mark.parametrize(
    "line",
    [
        "codes ECU blinks 2-1 1-1 stored 5-1",
        "codes ECU 2-1, 1-1 stored 5-1",
        "codes ECU FLASHES 2-1, 110/4, stored blinks 5-1",
    ],
)
def test_blink_codes_are_the_codes_they_stand_for(line: str, dumper: Book) -> None:
    found = one(line, dumper)
    assert (found.active, found.stored) == (("157/4", "110/4"), ("168/4",))


def test_a_code_of_that_very_name_comes_before_bare_groups() -> None:
    book, _ = read_book(
        "machine m, 12 V\nECU: control unit\ncode ECU 3-2: supply < 9 V, blinks 1-1\n"
        "code ECU 7: supply > 16 V, blinks 3-2\ncode ECU 1/4: supply > 17 V, blinks 1-4\n"
    )
    assert book is not None
    assert one("codes ECU 3-2", book).active == ("3-2",)
    assert one("codes ECU blinks 3-2", book).active == ("7",)
    assert isinstance(hear("codes ECU 1-4", book, state=START)[0], Problem)


@given(groups=st.lists(st.integers(0, 99), min_size=1, max_size=5))
def test_any_groups_blinked_are_known_or_refused(groups: list[int], dumper: Book) -> None:
    blinks = "-".join(map(str, groups))
    (heard,) = hear(f"codes ECU blinks {blinks}", dumper, state=START)
    known = {rule.blinks: code for (of, code), rule in dumper.codes.items() if of == "ECU"}
    if isinstance(heard, Problem):
        assert blinks not in known
        assert heard.slug in ("say-unknown-blinks", "say-unknown-code")
    else:
        assert isinstance(heard, CodesFound)
        assert heard.active == (known[blinks],)
        assert hear(told(heard), dumper, state=START) == (heard,)
