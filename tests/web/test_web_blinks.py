"""Code lists as they are pasted, whatever way each code is written. Spellings: common practice."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.book import read_book
from backprobe.book.model import Book
from backprobe.findings.model import CodesFound
from backprobe.shop.demo import book_text
from backprobe.web.codes import listed, pasted
from backprobe.web.contexts import Oops

UNIT = "ECU"
SPELLINGS = (
    "{code}", "SPN {spn} FMI {fmi}", "SPN: {spn}, FMI: {fmi}", "{spn}-{fmi}", "{spn}.{fmi}",
    "blinks {blinks}", "Blink code {blinks}", "flash code: {blinks}", "flashes {blinks}", "{blinks}",
)  # fmt: skip


@cache
def book() -> Book:
    found, _ = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert found is not None
    return found


@cache
def codes() -> tuple[str, ...]:
    """Codes that have a blink code."""
    return tuple(
        code for (unit, code), rule in book().codes.items() if unit == UNIT and rule.blinks
    )


@st.composite
def lists(draw: st.DrawFn) -> tuple[str, list[str]]:
    """A list of codes, each on a line and in one of its spellings, and what it says."""
    chosen = draw(st.lists(st.sampled_from(codes()), min_size=1, max_size=6, unique=True))
    lines = []
    for code in chosen:
        spn, fmi = code.split("/")
        spelled = draw(st.sampled_from(SPELLINGS))
        lines.append(
            spelled.format(code=code, spn=spn, fmi=fmi, blinks=book().codes[UNIT, code].blinks)
        )
    return draw(st.sampled_from(["\n", "\r\n", "; "])).join(lines), chosen


@given(lists())
def test_a_pasted_list_says_its_codes_however_they_are_written(
    pasting: tuple[str, list[str]],
) -> None:
    text, meant = pasting
    active, stored = pasted(book(), UNIT, text)
    assert (active.split(), stored) == (meant, "")
    found = listed(book(), UNIT, active, whole=True)
    assert isinstance(found, CodesFound)
    assert found.active == tuple(meant)


@given(st.lists(st.sampled_from([
    "blinks", "flash", "code", "3-2", "2-1", "9-9", "7", "-", "stored", "not", "none", "157/4", "SPN", "FMI",
    "1-2-3-4-5", "\n", ",", ":", "\u2011", "0-0", "perhaps more", '"', "x",
]), max_size=10).map(" ".join))  # fmt: skip
def test_any_pasting_is_taken_or_refused(text: str) -> None:
    active, stored = pasted(book(), UNIT, text)
    found = listed(book(), UNIT, active, stored, whole=True)
    assert isinstance(found, CodesFound) or all(isinstance(one, Oops) for one in found)
    if isinstance(found, CodesFound):
        quoted = '"' in text
        assert quoted or {*found.active, *found.stored, *found.absent} <= {
            c for _, c in book().codes
        }


@pytest.mark.parametrize("typed", ["blinks 9-9", "flash code 9-9", "157/4, blinking 9-9"])
def test_blinks_nobody_knows_are_refused_with_those_the_book_has(typed: str) -> None:
    active, _ = pasted(book(), UNIT, typed)
    found = listed(book(), UNIT, active, whole=True)
    assert not isinstance(found, CodesFound)
    (oops,) = found
    assert oops.what == "The book has no code of ECU that blinks 9-9."
    assert oops.remedy.startswith("Count once more. The book has 1-1 (110/4), 1-2 (110/3), ")
