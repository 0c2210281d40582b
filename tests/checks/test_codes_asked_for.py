"""How a check asks for a code: also as the lamp blinks it, where the book says so."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.layout import layout_of
from backprobe.checks.model import Check
from backprobe.checks.steps import steps
from backprobe.findings.model import JobState
from backprobe.kinds import KINDS

BOOK = """machine m, 12 V
pump unit: control unit
code pump unit 12: supply < 9 V, blinks 3-2
code pump unit 13: supply > 17 V
"""


@pytest.mark.parametrize(
    ("does", "target", "setting", "asked"),
    [
        ("codes", "pump unit 12", "", "Read the codes: is pump unit 12 (blinks 3-2) active?"),
        ("codes", "pump unit 13", "", "Read the codes: is pump unit 13 active?"),
        ("unplug", "X1", "pump unit 12", "Read the codes: is pump unit 12 (blinks 3-2) still active?"),
    ],
)  # fmt: skip
def test_a_code_is_asked_for_as_the_lamp_shows_it(
    does: str, target: str, setting: str, asked: str
) -> None:
    book, _ = read_book(BOOK)
    assert book is not None
    check = Check(
        id="c", does=does, target=target, words="", setting=setting, situation=Situation(key="on"),  # type: ignore[arg-type]
    )  # fmt: skip
    assert asked in steps(layout_of(book, KINDS), JobState(), check)
