"""Findings in the words of the sheet."""

from __future__ import annotations

from math import inf

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.layout import Layout, layout_of
from backprobe.findings.model import (
    Act,
    AnyFinding,
    CodesFound,
    DisplayRead,
    Failing,
    FuseFound,
    Looked,
    Provoked,
    Reading,
    Withdrawn,
    Works,
)
from backprobe.kinds import KINDS
from backprobe.shop.demo import book_text
from backprobe.web.codes import listed, pasted
from backprobe.web.found import clock_words, codes_of, details_of, title_of


@pytest.fixture(scope="module")
def layout() -> Layout:
    book, _ = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None
    return layout_of(book, KINDS)


@pytest.mark.parametrize(
    ("finding", "title"),
    [
        (CodesFound(unit="ECU"), "ECU: no codes"),
        (CodesFound(unit="ECU", active=("157/4",)), "ECU: 1 code"),
        (CodesFound(unit="ECU", active=("157/4",), stored=("91/4", "157/4")), "ECU: 2 codes"),
        (Reading(p="F5.2", value=0.15), "0.15 V at F5 pin 2 (wire 30b, red/blue)"),
        (
            Reading(p="F5.2", value=12.0, to=0.0),
            "jumps from 12 V to 0 V at F5 pin 2 (wire 30b, red/blue)",
        ),
        (
            Reading(instrument="ohmmeter", p="X10.3b", n="frame", value=inf),
            "OL at X10 way 3 on the SP1 side (wire 41b, red/white) to bare metal of the frame",
        ),
        (Reading(instrument="clamp", p="31a", value=2.4), "2.4 A in wire 31a, red/blue"),
        (
            DisplayRead(unit="ECU", name="fuel pressure", value=2.3),
            "Display: fuel pressure 2.3 bar",
        ),
        (DisplayRead(unit="ECU", name="ghost", value=2.0), "Display: ghost 2"),
        (Works(target="horn sounds", works=True), "horn sounds: works"),
        (Works(target="horn sounds", works=False), "horn sounds: does not work"),
        (FuseFound(fuse="F5", state="hot both sides"), "Fuse F5: hot both sides"),
        (Looked(target="hinge", damage=True), "Looked at hinge: damage"),
        (Looked(target="hinge", damage=False), "Looked at hinge: nothing to see"),
        (Act(act="unplugged", target="X10"), "X10 unplugged"),
        (Act(act="repaired", target="wire 41a"), "Mended: wire 41a"),
        (Act(act="codes cleared", target=""), "Codes cleared"),
        (Failing(answer="yes"), "Failing right now"),
        (Failing(answer="gone", condition="wet"), "Not failing right now (wet)"),
        (Failing(answer="only when", condition="wet"), "Fails only when wet"),
        (
            Provoked(places=("hinge", "engine trunk"), condition="wet", shown_at="hinge"),
            "Tried wetting hinge, engine trunk: it shows at hinge",
        ),
        (Provoked(places=("hinge",), condition="moved"), "Tried moving hinge: nothing"),
        (Withdrawn(finding="f2"), "Taken back: f2"),
    ],
)
def test_a_finding_has_a_title(layout: Layout, finding: AnyFinding, title: str) -> None:
    assert title_of(layout, finding) == title


def test_a_code_list_says_what_its_codes_mean_and_which_the_test_made(layout: Layout) -> None:
    found = CodesFound(
        unit="ECU", active=("157/4", "3509/4"), stored=("91/4", "77/7"), by_test=("3509/4",)
    )
    assert [(part.heading, part.codes) for part in codes_of(layout.book, found)] == [
        ("active", ("157/4 rail pressure signal low",)),
        ("stored", ("91/4 hand throttle 1 signal low", "77/7 (not in this book)")),
        ("made by the test", ("3509/4 sensor supply A low",)),
    ]


def test_how_often_a_code_was_counted_is_said_and_which_came_first(layout: Layout) -> None:
    codes = ("3509/4", "157/4")
    found = CodesFound(unit="ECU", stored=codes, counts=(12, 0), first=("157/4",))
    (stored,) = codes_of(layout.book, found)
    assert stored.codes[0].endswith(", counted 12 times")
    assert stored.codes[1].endswith(", came first")


@pytest.mark.parametrize("often", ["x12", "12x", "count 12", "OC: 12", "(12 times)"])
def test_a_pasted_count_goes_with_its_code(layout: Layout, often: str) -> None:
    active, _ = pasted(layout.book, "ECU", f"3509/4 {often}\n157/4")
    found = listed(layout.book, "ECU", active, whole=True)
    assert isinstance(found, CodesFound)
    assert (found.active, found.counts) == (("3509/4", "157/4"), (12, 0))


def test_the_details_say_how_the_machine_stood_and_the_note() -> None:
    read = Reading(p="F5.2", situation=Situation(key="on", on=frozenset({"S2"})), note=" glove ")
    assert details_of(read) == ("key on, engine stopped, S2 on", "glove")
    assert details_of(CodesFound(unit="ECU", complete=False)) == (
        "There may be more codes than these.",
        "key on, engine stopped",
    )
    assert details_of(Failing(answer="yes")) == ()


def test_time_is_told_from_the_start_of_the_job() -> None:
    told = {0: "at the start", 59: "at the start", 60: "after 1 min", 7199: "after 119 min",
            7200: "after 2 h", 172_799: "after 47 h", 172_800: "after 2 days"}  # fmt: skip
    assert {seconds: clock_words(seconds) for seconds in told} == told
