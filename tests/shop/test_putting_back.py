"""One press takes one thing off the put-back list, and leaves the others on it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from backprobe.book.situations import Lead, Situation
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, AnyFinding, CodesFound, Mentioned, Reading
from backprobe.shop.putting_back import putting_back

LAMP = Lead(kind="lamp 21 W", p="F5.2", n="frame")
JUMPER = Lead(kind="jumper", p="F5.1", n="F5.2")
FOUND: tuple[AnyFinding, ...] = (
    CodesFound(id="f1", unit="ECU", active=("723/8",), by_test=("723/8",)),
    CodesFound(id="f2", unit="ECU 2", active=("91/4",), by_test=("91/4",)),
    Act(id="f3", act="unplugged", target="X10"),
    Act(id="f4", act="pulled", target="F5"),
    Reading(
        id="f5",
        p="X10.3",
        value=0.2,
        visit=2,
        situation=Situation(
            key="off",
            unplugged=frozenset({"X10", "rail sensor"}),
            pulled=frozenset({"F5"}),
            battery_off=True,
            fitted=(LAMP, JUMPER),
        ),
    ),
)
THINGS = fold(FOUND).put_back


def test_everything_that_can_be_open_is_on_the_list() -> None:
    assert THINGS == (
        "X10 unplugged",
        "rail sensor unplugged",
        "F5 pulled",
        "lamp 21 W fitted from F5.2 to frame",
        "jumper fitted from F5.1 to F5.2",
        "battery minus off",
        "code ECU 723/8 made by the test",
        "code ECU 2 91/4 made by the test",
    )


@pytest.mark.parametrize("thing", THINGS)
def test_a_press_takes_that_thing_off_and_no_other(thing: str) -> None:
    back = putting_back(fold(FOUND), thing)
    assert back is not None
    after = fold((*FOUND, replace(back, id="f6")))
    assert after.put_back == tuple(one for one in THINGS if one != thing)
    assert back.visit == 2


def test_one_after_the_other_empties_the_list() -> None:
    found = list(FOUND)
    for thing in THINGS:
        back = putting_back(fold(found), thing)
        assert back is not None
        found.append(replace(back, id=f"f{len(found) + 1}"))
    assert fold(found).put_back == ()


def test_battery_and_leads_are_said_and_not_weighed() -> None:
    for thing, words in (
        ("battery minus off", "battery minus on"),
        ("jumper fitted from F5.1 to F5.2", "jumper off F5.1"),
    ):
        back = putting_back(fold(FOUND), thing)
        assert isinstance(back, Mentioned)
        assert (back.about, back.words) == ("put back", words)


def test_what_is_not_on_the_list_cannot_be_put_back() -> None:
    assert putting_back(fold(FOUND), "X11 unplugged") is None
    assert putting_back(fold(()), "battery minus off") is None
