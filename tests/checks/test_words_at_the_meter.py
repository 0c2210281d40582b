"""What is said where the meter is set: which end of a hold counts, how a fuse is touched, what is done."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.model import MINUS
from backprobe.book.situations import Situation
from backprobe.checks.hands import made
from backprobe.checks.layout import layout_of
from backprobe.checks.mending import repair_words
from backprobe.checks.present import _why
from backprobe.checks.readings import probe_at, reading
from backprobe.checks.steps import steps
from backprobe.checks.stories import Stories
from backprobe.defects.model import RepairGroup
from backprobe.findings.fold import fold
from backprobe.kinds import KINDS
from backprobe.shop.demo import book_text
from backprobe.web.check_view import _leads_apart

CRANK, ON = Situation(key="crank"), Situation(key="on")


@pytest.fixture(scope="module")
def layout():
    book, problems = read_book(book_text("tracked-dumper"))
    assert book is not None, problems
    return layout_of(book, KINDS)


def node(layout, part, pin):
    return next(t.node for end, t in layout.ends.items() if (end.part, end.pin) == (part, pin))


def told(layout, does, p, n=MINUS, situation=CRANK):
    check = reading(layout, does, probe_at("volts", p, n), situation)
    return steps(layout, fold([], start=ON), check)


def meter(*args, **more):
    return next(step for step in told(*args, **more) if step.startswith("Meter on"))


@pytest.mark.parametrize(
    ("part", "pin", "end"),
    [
        ("battery", "+", "lowest"),
        ("starter", "30", "lowest"),
        ("K3", "30", "lowest"),
        ("starter", "50", "highest"),
        ("K3", "87", "highest"),
        ("K3", "86", "highest"),
        ("key switch", "50", "highest"),
    ],
)
def test_a_hold_says_which_end_counts(layout, part, pin, end):
    """A feed sinks, what is switched on to start comes up: before and after it stands at zero."""
    assert meter(layout, "volts", node(layout, part, pin)).endswith(f". Take the {end} it showed.")


def test_what_is_lost_and_what_a_ground_is_lifted_by_counts_at_its_highest(layout):
    lug = next(name for name, touch in layout.lugs.items() if touch.part == "starter")
    assert "Take the highest" in meter(layout, "drop", lug.partition("<")[0], lug)
    assert "Take the highest" in meter(layout, "volts", "engine")
    assert "Take the" not in meter(layout, "volts", node(layout, "starter", "30"), situation=ON)


def test_no_meter_is_spoken_of_where_none_is_held(layout):
    check = made("display", "ECU speed", "ECU speed on the display", CRANK)
    words = " ".join(steps(layout, fold([], start=ON), check))
    assert "A second person cranks for a few seconds." in words
    assert "meter" not in words


def test_a_blade_fuse_is_touched_at_its_window_and_says_which_side(layout):
    fed, load = node(layout, "F3", "1"), node(layout, "F3", "2")
    words = meter(layout, "volts", load, situation=ON)
    side = "on the test window on the back of F3, the side that feeds the load: F3 pin 2 (wire "
    assert f"red lead {side}" in words
    assert "black lead on battery minus" in words
    words = meter(layout, "millivolts", fed, load, situation=ON)
    assert "red lead on the test window on the back of F3, the side that is fed: F3 pin 1" in words
    assert f"black lead {side}" in words
    pulled = meter(layout, "volts", load, situation=Situation(key="on", pulled=frozenset({"F3"})))
    assert "window" not in pulled
    assert "back-probed at" in meter(layout, "volts", node(layout, "K3", "87"), situation=ON)


def test_the_page_keeps_the_window_though_it_sets_the_pins_apart():
    step = (
        "Meter on V DC, black lead on battery minus, red lead on the test window on the back of F3, "
        "the side that feeds the load: F3 pin 2. More."
    )
    assert _leads_apart(step, "F3 pin 2", "battery minus") == (
        "Meter on V DC, leads as below, red on the test window on the back of F3, the side that feeds "
        "the load. More."
    )


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("lift pump", "Renew lift pump"),
        ("F3", "Renew F3"),
        ("battery", "Charge and test battery"),
        ("X4", "Mend X4"),
        ("wire 15", "Mend wire 15"),
        ("lugs at battery", "Mend lugs at battery"),
    ],
)
def test_what_cannot_be_repaired_is_renewed(layout, key, words):
    assert key in layout.book.parts or " " in key
    group = RepairGroup(key=key, words=key, mend_s=60.0, access=())
    assert repair_words(layout, group) == words


def test_a_chance_that_stays_is_not_told():
    def why(high, low):
        after = np.array([[high, 1.0 - high], [low, 1.0 - low]]) / 2.0
        group = RepairGroup(key="pump", words="pump", mend_s=60.0, access=())
        stories = Stories.__new__(Stories)
        object.__setattr__(stories, "keys", ("pump",))
        return _why(after, 60.0, {"pump": group}, stories)

    assert why(0.412, 0.408) == "Saves about 1 min against repairing on suspicion."
    assert why(0.6, 0.2).startswith("Takes pump from 40 % to 60 % or 20 %.")
