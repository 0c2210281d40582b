"""What a book says of blink codes. That a unit without a display counts its codes out with a lamp,
group by group, is common practice; the numbers here are invented."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from book.reading import HEAD, slugs, sound

UNIT = "ECU.31: analogue input\nECU.32: analogue input\n"


@pytest.mark.parametrize(
    ("typed", "kept"), [("3-2", "3-2"), ("3 2", "3-2"), ("7", "7"), ("1 - 4 - 12", "1-4-12")]
)
def test_groups_are_kept_in_one_spelling(typed: str, kept: str) -> None:
    book = sound(f"{UNIT}code ECU 157/4: ECU.31 < 0.2 V, hides 94/1, blinks {typed}\n"
                 "code ECU 94/1: ECU.32 < 0.2 V\n")  # fmt: skip
    assert book.codes["ECU", "157/4"].blinks == kept
    assert book.codes["ECU", "157/4"].hides == ("94/1",)
    assert book.codes["ECU", "94/1"].blinks == ""


@pytest.mark.parametrize("typed", ["0-2", "3-", "1-2-3-4-5", "100", "three", "3/2", "-1"])
def test_error_what_no_lamp_can_blink(typed: str) -> None:
    assert "unreadable-blinks" in slugs(f"{UNIT}code ECU 1: ECU.31 < 0.2 V, blinks {typed}\n")


def test_two_units_may_blink_alike() -> None:
    book, _ = read_book(
        f"{HEAD}{UNIT}pump unit.5: analogue input\n"
        "code ECU 1: ECU.31 < 0.2 V, blinks 3-2\n"
        "code pump unit 1: supply < 9 V, blinks 3-2\npump unit: control unit\n"
    )
    assert book is not None
    assert [rule.blinks for rule in book.codes.values()] == ["3-2", "3-2"]
