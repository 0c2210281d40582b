"""How a line is ranged, what a job's findings say of it, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backprobe.book import read_book
from backprobe.book.situations import Lead, Situation
from backprobe.checks.at_step import cautions_at
from backprobe.checks.layout import layout_of
from backprobe.checks.ranging import Clamped, Drop, Ohms, Parted, ranged
from backprobe.checks.ranging_feed import feed_of
from backprobe.checks.ranging_found import CLAMP_SHARE, LAMP_SHARE, Found, ranging_found
from backprobe.checks.ranging_steps import how_to
from backprobe.findings.model import Reading
from backprobe.kinds import KINDS
from backprobe.suspects.along import spread_along
from backprobe.suspects.line import line_of

TEXT = """
machine example, 12 V
battery: battery 12 V, at box
G1: ground stud, on frame
battery.- > G1, 35 mm2, BK, wire 2
battery.+ > F7.1, 2.5 mm2, RD, wire 3
F7: fuse 10 A, at box
X20: plug 4 ways, at step
F7.2 > X20.2 > horn.1, 1.0 mm2, BKYE, wire 50a / 50b
horn: horn 4 A, at nose
horn.2 > G1, 1.0 mm2, BN, wire 51
ECU: control unit, on frame, at seat
battery.+ > F9 > ECU.1, 1.5 mm2, RD, wire 4 / 5
F9: fuse 10 A, at box
ECU.2 > G1, 1.5 mm2, BN, wire 6
ECU.1: supply
ECU.2: ground
ECU.5: 5 V group A
group ECU A: 5 V, limit 100 mA
ECU.5 > X20.3 > sensor.3, 0.75 mm2, GN, wire 60a / 60b
sensor: three-wire sensor, at nose
sensor.1 > G1, 0.75 mm2, BN, wire 61
sensor.2 > ECU.7, 0.75 mm2, WH, wire 62
ECU.7: analogue input, pull up 47 kohm to group A
section ladder run: F7 to X20, 1.2 m
section nose run: X20 to horn, 1.6 m
spot ladder lip: in ladder run at 0.5 m, edge
"""


@pytest.fixture(scope="module")
def book():
    found, problems = read_book(TEXT)
    assert found is not None, problems
    return found


@pytest.fixture(scope="module")
def line(book):
    return line_of(book, "50a")


@pytest.fixture(scope="module")
def layout(book):
    return layout_of(book, KINDS)


@pytest.fixture(scope="module")
def feed(layout, line):
    return feed_of(layout, line)


def test_the_lamp_takes_the_place_of_the_fuse_and_everything_else_is_off(layout, line):
    how = how_to(layout, line, ranged(spread_along(line), []))
    assert how.feed.barred == ""
    assert (how.lamp, how.feed.fed) == ("lamp 55 W", "F7.2")
    assert how.steps[:4] == (
        "Key off, wait 30 seconds.",
        "Unplug horn: the current must have no way but the short.",
        "Pull F7.",
        "Put a 55 W lamp in its place, with leads that fit its sockets.",
    )
    assert (
        how.steps[-1] == "Lamp out, everything plugged back, the fuse of the printed rating last."
    )


def test_cautions_stand_before_the_step_with_the_lamp_and_the_meter(layout, line):
    how = how_to(layout, line, ranged(spread_along(line), []))
    before = cautions_at(how.hazards, how.steps)
    lamp = next(k for k, step in enumerate(how.steps) if step.startswith("Put a 55 W lamp"))
    said = " ".join(words for words, _ in before[lamp])
    assert "The lamp gets hot enough to burn skin, plastic and dry grass" in said
    assert "This line can deliver hundreds of amperes." in said
    pulled = before[how.steps.index("Pull F7.")]
    assert [words.split(" and ")[0] for words, _ in pulled] == [
        "Fit only a fuse of the printed rating"
    ]
    assert sum(len(one) for one in before) == len(how.hazards)


def test_what_the_meter_should_read_is_said_before_it_is_read(layout, line):
    """By hand: 55 W at 12 V are 4.58 A, 18.1 mohm a metre of 1 mm2: 83 mV a metre; the first piece
    of 1.2 m 99.6 mV; ladder lip at 0.5 m 41.5 mV, and nothing beyond."""
    spread = spread_along(line, {("50a", "ladder run"): 1.0})
    first, second = how_to(layout, line, ranged(spread, [])).readings
    assert (first.p, first.n, second.p, second.n) == ("F7.2", "X20.2a", "X20.2b", "horn.1")
    assert first.metre == pytest.approx(0.0830, rel=2e-3)
    assert first.whole == pytest.approx(0.0996, rel=2e-3)
    assert first.looks[0] == pytest.approx(0.0415, rel=0.05)
    assert second.looks[0] == 0.0


def test_no_lamp_on_a_five_volt_line(book, layout):
    line = line_of(book, "60a")
    assert how_to(layout, line, ranged(spread_along(line), [])).feed.barred == (
        "No lamp here: ECU pin 5 (5 V group) hangs on this line. Use a milliohm meter from both "
        "ends, battery minus off, the unit and everything else on it unplugged."
    )


def test_no_lamp_on_what_hangs_on_the_battery_or_on_metal(book, layout):
    def barred(wire):
        return feed_of(layout, line_of(book, wire)).barred

    assert barred("3") == (
        "No lamp here: battery feeds this line without a fuse, so it burns before it can be read. "
        "Battery minus off; a milliohm meter from both ends, everything else off."
    )
    assert barred("51") == (
        "No lamp here: this wire is joined to metal as it should be, so a current does not tell a bare "
        "place from its own ground."
    )


# -- from a job's findings -------------------------------------------------------------------

LAMP = Situation(
    key="on",
    pulled=frozenset({"F7"}),
    unplugged=frozenset({"horn"}),
    fitted=(Lead(kind="lamp 55 W", p="F7.1", n="F7.2"),),
)


def test_millivolts_range_a_line_while_a_lamp_feeds_it(line, feed):
    read = Reading(
        id="f3", instrument="millivolts", p="F7.2", n="X20.2", value=0.06, situation=LAMP
    )
    clamp = Reading(id="f2", instrument="clamp", p="50a", value=-4.4, situation=LAMP)
    (one,) = ranging_found([clamp, read], line, 12.0, feed)
    assert one == Found(
        finding=read,
        reading=Drop(
            p="F7.2", n="X20.2a", volts=0.06, amps=4.4, fed="F7.2", amps_share=CLAMP_SHARE
        ),
    )
    guessed = ranging_found([read], line, 12.0, feed)[0].reading
    assert isinstance(guessed, Drop)
    assert guessed.amps == pytest.approx(1.04 * 55.0 / 12.0)
    assert guessed.amps_share == LAMP_SHARE


def test_millivolts_without_a_lamp_or_elsewhere_range_nothing(line, feed):
    plain = Reading(instrument="millivolts", p="F7.2", n="X20.2", value=0.06)
    elsewhere = Reading(instrument="millivolts", p="F9.2", n="ECU.1", value=0.06, situation=LAMP)
    doubted = Reading(
        instrument="millivolts", p="F7.2", n="X20.2", value=0.06, situation=LAMP, trusted=False
    )
    assert ranging_found([plain, elsewhere, doubted], line, 12.0, feed) == ()


def test_readings_with_another_way_for_the_current_are_not_used_and_it_is_said(line, feed):
    on = replace(LAMP, unplugged=frozenset())
    read = Reading(instrument="millivolts", p="F7.2", n="X20.2", value=0.06, situation=on)
    jumps = replace(read, situation=LAMP, to=0.01)
    found = ranging_found([read, jumps], line, 12.0, feed)
    assert [one.unused for one in found] == [
        "horn not off, so the current had another way",
        "it jumps",
    ]


def test_milliohms_to_metal_and_along_the_line_range_it(line, feed):
    metal = Reading(instrument="milliohm meter", p="X20.2b", n="frame", value=0.03)
    along = Reading(instrument="milliohm meter", p="F7.2", n="horn.1", value=0.05)
    found = ranging_found([metal, along], line, 12.0, feed)
    assert [one.reading for one in found] == [
        Ohms(p="X20.2b", ohm=0.03),
        Ohms(p="F7.2", n="horn.1", ohm=0.05),
    ]


# -- what cannot be used ----------------------------------------------------------------------

PLACES = "F7:2, F7.2, X20.2a, X20.2b, horn.1, horn:1"


@pytest.mark.parametrize(
    ("reading", "text"),
    [
        (
            Drop(p="F9.2", n="X20.2a", volts=0.1, amps=4.0, fed="F7.2"),
            (
                'error: There is no place "F9.2" on the line from F7.2 to horn.1. [not-on-the-line]\n'
                "  why: Only readings along this line tell where on it the short is.\n"
                f"  do:  Use one of {PLACES}."
            ),
        ),
        (
            Drop(p="F7.2", n="X20.2a", volts=0.1, amps=0.0, fed="F7.2"),
            (
                "error: Without the current through the lamp, millivolts tell no distance. [no-current]\n"
                "  why: The distance is the millivolts over the current and the ohms of a metre.\n"
                "  do:  Measure the lamp's current with a clamp or in series, in amperes."
            ),
        ),
        (
            Ohms(p="F7.2", ohm=inf),
            (
                "error: The reading has no figure in ohms. [no-figure]\n"
                "  why: OL and a blank tell no distance.\n"
                "  do:  Note it with the job instead; it weighs there."
            ),
        ),
        (
            Clamped(at=("nose run", 2.0), amps=1.0, fed="F7.2", fed_amps=4.0),
            (
                "error: 2 m in section nose run is not on the line from F7.2 to horn.1. "
                "[not-on-the-line]\n"
                "  why: Only readings along this line tell where on it the short is.\n"
                "  do:  Its sections are ladder run, nose run."
            ),
        ),
        (
            Parted(at="X99.1", lamp_out=True, fed="F7.2"),
            (
                'error: There is no place "X99.1" on the line from F7.2 to horn.1. [not-on-the-line]\n'
                "  why: Only readings along this line tell where on it the short is.\n"
                f"  do:  Use one of {PLACES}."
            ),
        ),
    ],
)
def test_what_cannot_range_is_refused_in_words_and_the_rest_is_used(line, reading, text):
    spread = spread_along(line)
    good = Drop(p="F7.2", n="X20.2a", volts=0.05, amps=4.6, fed="F7.2")
    found = ranged(spread, [reading, good])
    assert [str(problem) for problem in found.problems] == [text]
    assert [told.reading for told in found.told] == [good]
    assert found.within == ranged(spread, [good]).within


def test_all_that_is_wrong_with_a_reading_is_told(line):
    bad = Drop(p="a", n="b", volts=nan, amps=-1.0, fed="c")
    found = ranged(spread_along(line), [bad])
    assert [one.slug for one in found.problems] == [
        "not-on-the-line", "not-on-the-line", "not-on-the-line", "no-figure", "no-current",
    ]  # fmt: skip


def test_a_warmth_no_loom_has_is_refused_and_twenty_taken(line):
    reading = Drop(p="F7.2", n="X20.2a", volts=0.05, amps=4.6, fed="F7.2")
    spread = spread_along(line)
    found = ranged(spread, [reading], celsius=-300.0)
    assert [str(problem) for problem in found.problems] == [
        (
            "error: A loom is not -300 degrees Celsius warm; 20 was taken. [no-such-warmth]\n"
            "  why: Warm copper has more ohms to a metre.\n"
            "  do:  Give degrees Celsius between -60 and 150."
        )
    ]
    assert found.within == ranged(spread, [reading]).within


figure = st.floats(allow_nan=True, allow_infinity=True)
where = st.sampled_from(["F7:2", "F7.2", "X20.2a", "X20.2b", "horn.1", "horn:1", "nowhere"])
anything = st.one_of(
    st.builds(Drop, p=where, n=where, volts=figure, amps=figure, fed=where),
    st.builds(Ohms, p=where, ohm=figure, n=st.one_of(st.just(""), where)),
    st.builds(
        Clamped,
        at=st.one_of(where, st.tuples(st.sampled_from(["nose run", "else"]), figure)),
        amps=figure,
        fed=where,
        fed_amps=figure,
    ),
    st.builds(Parted, at=where, lamp_out=st.booleans(), fed=where),
)


@settings(max_examples=60, deadline=None)
@given(readings=st.lists(anything, max_size=4), celsius=figure)
def test_whatever_is_read_the_chances_stay_chances(readings, celsius):
    book, _ = read_book(TEXT)
    assert book is not None
    found = ranged(spread_along(line_of(book, "50a")), readings, celsius=celsius)
    assert np.isfinite(found.after.mass).all()
    assert found.after.mass.min() >= 0.0
    assert found.after.mass.sum() == pytest.approx(1.0)
    assert found.within.chance >= 0.8 - 1e-9
    assert all(0.0 <= told.wrong <= 1.0 + 1e-9 for told in found.told)
