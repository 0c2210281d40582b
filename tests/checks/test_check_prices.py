"""What checks cost, and how they are told. Minutes are the book's, or common practice."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import pytest

from backprobe.book.situations import Lead, Situation
from backprobe.checks.at_step import cautions_at
from backprobe.checks.cost import access, open_places, price, seconds, walked
from backprobe.checks.layout import layout_of
from backprobe.checks.model import Check
from backprobe.checks.steps import healthy_words, steps
from backprobe.checks.wording import between, colour_words, left_words, node_words, percent, reading
from backprobe.defects.model import Probe
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, Reading
from checks import small_machine as small

BOOK = small.small_book()
LAYOUT = layout_of(BOOK, small.KINDS)
ON, OFF = Situation(key="on"), Situation(key="off")


def volts(node="X1.1a", situation=ON, **more):
    return Check(
        id="v",
        does="volts",
        target="X1",
        words="x",
        situation=situation,
        probe=Probe(kind="volts", p=node),
        opens=("X1",),
        setting="V DC",
        seconds=120.0,
        **more,
    )


def cost(job, check):
    return seconds(price(LAYOUT, job, check))


def test_a_check_pays_for_opening_and_closing_what_is_shut():
    job = fold([], start=ON)
    assert cost(job, volts()) == pytest.approx(240 + 180 + 120 + 60)


def test_an_open_place_is_free_and_a_further_reading_there_costs_less():
    """Five readings at one open plug cost 2.5 to 3 times one (judgement of a technician)."""
    job = fold([Reading(id="r", p="X1.2a", value=5.0, situation=ON)], start=ON)
    alone = 120.0 + 60.0
    further = cost(job, volts())
    assert further == pytest.approx(0.45 * 120.0 + 20.0)
    assert 2.5 <= (alone + 4 * further) / alone <= 3.0


def test_two_parts_behind_one_lid_are_opened_once():
    both = access(LAYOUT, frozenset(), ("X1", "ECU"))
    assert [item.words for item in both] == ["open and close under the seat"]


def test_unplugging_costs_key_off_a_wait_and_plugging_back():
    job = fold([], start=ON)
    plugged, off = volts(), volts(situation=Situation(key="on", unplugged=frozenset({"X1"})))
    more = cost(job, off) - cost(job, plugged)
    assert more == pytest.approx(5 + 30 + 2 * 30 + 10)


def test_lifting_battery_minus_waits_before_and_after():
    job = fold([], start=ON)
    dead = volts(situation=Situation(key="off", battery_off=True))
    assert cost(job, dead) - cost(job, volts()) == pytest.approx(35 + 2 * 60 + 30)


def test_what_is_off_already_is_not_paid_for_again():
    act = Act(id="a", act="unplugged", target="X1", situation=OFF)
    job = fold([act], start=OFF)
    off = volts(situation=Situation(key="on", unplugged=frozenset({"X1"})))
    words = [item.words for item in price(LAYOUT, job, off)]
    assert words == ["key", "the check", "set up, note, think"]
    assert open_places(LAYOUT, job) == {"under the seat"}


def test_a_walk_that_ends_early_costs_less_by_what_it_spares():
    job = fold([], start=ON)
    walk = Check(
        id="w",
        does="look",
        target="seat run, hinge",
        words="x",
        situation=ON,
        opens=("seat run", "hinge"),
        seconds=600.0,
    )
    full = cost(job, walk)
    assert walked(LAYOUT, job, walk, [0.0, 0.0]) == pytest.approx(full)
    hinge = 300 + 150 + 600 / 3
    assert walked(LAYOUT, job, walk, [0.4, 0.1]) == pytest.approx(full - 0.4 * hinge)


@pytest.mark.parametrize(
    ("node", "words"),
    [
        ("X1.1a", "X1 way 1 on the F1 side (wire 10, red)"),
        ("X1.1b", "X1 way 1 on the work light side (wire 11, red/white)"),
        ("rail sensor.3", "rail sensor pin 3 (wire 43, red/yellow)"),
        ("battery minus", "battery minus"),
        ("frame", "bare metal of the frame"),
        ("G1:1", "G1 (wire 2, black)"),
    ],
)
def test_places_are_named_as_they_are_printed(node, words):
    assert node_words(LAYOUT, node) == words


@pytest.mark.parametrize(
    ("code", "words"),
    [("RD/WH", "red/white"), ("RDWH", "red/white"), ("GNYE", "green-yellow"), ("xy", "xy")],
)
def test_colours_are_those_of_iec_60757(code, words):
    assert colour_words(code) == words


def test_a_reading_is_told_step_by_step():
    check = volts(situation=Situation(key="on", unplugged=frozenset({"rail sensor"})))
    check = replace(check, opens=("X1", "rail sensor"))
    told = steps(LAYOUT, fold([], start=ON), check, "Healthy 12.3 V ± 0.3 V.")
    assert told == (
        "Get to X1 (under the seat) and rail sensor (rail).",
        "Key off, wait 30 seconds.",
        "Unplug rail sensor.",
        "Key on, engine stopped.",
        (
            "Meter on V DC, black lead on battery minus, red lead back-probed at X1 way 1 on the "
            "F1 side (wire 10, red). Healthy 12.3 V ± 0.3 V."
        ),
        "When done: key off, wait, plug rail sensor back.",
    )


def test_a_lamp_is_fitted_and_taken_off_with_the_key_off():
    lamp = Lead(kind="lamp 55 W", p="F1.1", n="F1.2")
    situation = Situation(key="on", pulled=frozenset({"F1"}), fitted=(lamp,))
    told = steps(LAYOUT, fold([], start=ON), volts("F1.1", situation))
    assert told[1:4] == (
        "Key off, wait 30 seconds.",
        "Pull F1.",
        "Fit a 55 W lamp between F1 pin 1 (wire 1, red) and F1 pin 2 (wire 10, red).",
    )
    assert told[-1] == (
        "When done: key off, wait, take the lead off. F1 stays out until its line is mended or a check "
        "asks for it."
    )


def test_a_lead_that_is_still_fitted_comes_off_and_what_stays_off_is_said():
    lamp = Lead(kind="lamp 55 W", p="F1.1", n="F1.2")
    before = Situation(
        key="off", pulled=frozenset({"F1"}), unplugged=frozenset({"X1"}), fitted=(lamp,)
    )
    after = Situation(key="on", unplugged=frozenset({"X1", "rail sensor"}))
    told = steps(LAYOUT, fold([], start=before), volts(situation=after))
    assert told[1:6] == (
        "Key off, wait 30 seconds.",
        "Take the 55 W lamp off again.",
        "Unplug rail sensor and put F1 back.",
        "Leave X1 unplugged.",
        "Key on, engine stopped.",
    )
    again = steps(LAYOUT, fold([], start=after), volts(situation=replace(after, fitted=(lamp,))))
    assert "Leave X1 unplugged and rail sensor unplugged." in again


def test_cranking_asks_for_neutral_once_at_its_step_and_says_how_one_man_does_it():
    told = steps(LAYOUT, fold([], start=OFF), volts(situation=Situation(key="crank")))
    cranked = next(k for k, step in enumerate(told) if "cranks" in step)
    assert "min/max hold" in told[cranked]
    assert not any("eutral" in step for step in told)
    before = cautions_at(("no-piercing", "crank-limit"), told)
    assert [words[:26] for words, _ in before[cranked]] == ["Neutral, park brake on, no"]


@pytest.mark.parametrize(
    ("value", "sigma", "unit", "words"),
    [
        (12.31, 0.15, "V", "Healthy 12.3 V ± 0.3 V."),
        (0.0, 0.02, "V", "Healthy 0 V ± 0.04 V."),
        (inf, 1.0, "ohm", "Healthy: OL."),
        (0.3, 0.2, "ohm", "Healthy under 0.7 ohm."),
        (120.0, 5.0, "ohm", "Healthy 120 ohm ± 10.0 ohm."),
        (0.0212, 0.0042, "mV", "Healthy 21 mV ± 8 mV."),
        (0.0021, 0.0003, "mV", "Healthy 2.1 mV ± 0.6 mV."),
    ],
)
def test_the_healthy_value_has_its_tolerance(value, sigma, unit, words):
    assert healthy_words(value, sigma, unit) == words


def test_ranges_and_chances_read_well():
    assert between(0.6, 0.62, "V") == "about 0.61 V"
    assert between(0.3, 0.9, "V") == "0.30 V to 0.90 V"
    assert between(0.021, 0.0214, "mV") == "about 21 mV"
    assert between(0.004, 0.35, "mV") == "4.0 mV to 350 mV"
    assert (percent(0.823), percent(0.999), percent(0.001)) == ("82 %", "99 %", "under 1 %")


def test_minutes_left_are_said_once_when_the_slow_jobs_take_no_longer():
    assert left_words(600.0, 1800.0).endswith("nine in ten such jobs take less than 30 min.")
    assert left_words(600.0, 610.0) == "About 10 min to a proven repair."


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (1800.4, "bar", "1800 bar"),
        (-0.0, "bar", "0 bar"),
        (88.94, "kPa", "88.9 kPa"),
        (12.576, "mV", "12.6 V"),
        (0.0123, "mV", "12 mV"),
    ],
)
def test_a_reading_is_told_as_a_meter_or_display_shows_it(
    value: float, unit: str, words: str
) -> None:
    """Never in powers of ten, and no thousands of millivolts: by hand."""
    assert reading(value, unit) == words
