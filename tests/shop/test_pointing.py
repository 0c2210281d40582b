"""What is asked first depends on what the driver says and on the codes."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.checks.layout import Layout, layout_of
from backprobe.checks.telling import MOST
from backprobe.findings.model import CodesFound
from backprobe.kinds import KINDS
from backprobe.shop.demo import book_text
from backprobe.shop.pointing import worth_asking


@pytest.fixture(scope="module")
def layout() -> Layout:
    book, _ = read_book(book_text("tracked-dumper"), "dumper")
    assert book is not None
    return layout_of(book, KINDS)


def asked(layout: Layout, complaint: str = "", *codes: str) -> list[str]:
    found = CodesFound(unit="ECU", active=codes)
    return [one.name for one in worth_asking(layout, complaint, [found])]


@pytest.mark.parametrize(
    ("complaint", "first"),
    [
        ("Horn is silent.", "horn sounds"),
        ("won't start when hot", "engine starts"),
        ("turns over slowly, CRANKING long", "engine cranks"),
        ("beacons do not flash", "beacon flashes"),
        ("the lift pump is loud", "lift pump runs"),
        ("does not tip its skip", "tip skip"),
    ],
)
def test_what_the_driver_names_is_asked_first(layout: Layout, complaint: str, first: str) -> None:
    assert asked(layout, complaint)[0] == first
    assert asked(layout)[0] != first or first == "engine starts"


@pytest.mark.parametrize(
    ("code", "first"),
    [
        ("520331/5", {"fast travel"}),  # its valve
        ("1347/5", {"engine starts", "full power"}),  # both need the metering valve
        ("1075/5", {"full power", "lift pump runs"}),  # both need the lift pump
        ("676/5", {"preheat"}),  # the glow relay
    ],
)
def test_what_shows_whether_a_code_is_true_is_asked_first(
    layout: Layout, code: str, first: set[str]
) -> None:
    assert set(asked(layout, "", code)[: len(first)]) == first


def test_then_comes_what_parts_the_fuses_and_grounds_of_the_named_one(layout: Layout) -> None:
    """The beacon shares the key switch with the horn, but neither fuse nor ground; "engine
    starts", which parts the whole machine best, comes later."""
    with_horn, without = asked(layout, "horn is silent"), asked(layout)
    assert with_horn[1] == "beacon flashes"
    assert without.index("beacon flashes") > without.index("engine starts") == 0


@pytest.mark.parametrize(
    "complaint", ["", "it does not work", "7 8 9 !?", "x" * 2000, "Größe ändert nichts"]
)
def test_words_that_say_nothing_change_nothing(layout: Layout, complaint: str) -> None:
    assert asked(layout, complaint) == asked(layout)
    assert len(asked(layout)) == MOST == len(set(asked(layout)))


def test_the_same_is_asked_whatever_the_order_of_sets(layout: Layout) -> None:
    said = ("horn and display dead", "157/4", "3509/4", "9999/1")
    assert asked(layout, *said) == asked(layout, *said)
    assert asked(layout, "horn, work lights") == asked(layout, "work lights, horn")
