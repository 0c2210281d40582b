"""Which side of an open plug a dead reading is taken on: the part's own pins or the loom's."""

from __future__ import annotations

from math import inf

import pytest

from backprobe.book import read_book
from backprobe.findings.model import JobState, Reading
from backprobe.findings.wire import from_plain
from backprobe.shop import job
from backprobe.shop.demo import book_text
from backprobe.shop.say import Asked, asked, hear, told

BOOK, _ = read_book(book_text("tracked-dumper"), "tracked-dumper")


def heard(words):
    (found,) = hear(words, BOOK, state=JobState())
    assert isinstance(found, Reading), found
    assert hear(told(found), BOOK, state=JobState()) == (found,)
    return found


@pytest.mark.parametrize(
    ("words", "p", "n"),
    [
        ("ohms K3.85 to K3.86 92, K3 pulled", "K3:85", "K3:86"),
        ("beeps F5.1 to F5.2, F5 pulled", "F5:1", "F5:2"),
        ("volts K3.85 to K3.86 0.09 with diode test, K3 pulled", "K3:85", "K3:86"),
        ("ohms K3.85 to K3.86 OL, loom side, K3 pulled", "K3.85", "K3.86"),
        ("ohms metering valve.1 to engine OL, metering valve unplugged", "metering valve.1", "engine"),
        ("ohms metering valve.1 to engine OL, part side, metering valve unplugged",
         "metering valve:1", "engine"),
        ("ohms metering valve.1 to metering valve.2 3, X10 unplugged", "metering valve.1",
         "metering valve.2"),
        ("beeps ECU.45 to ECU.47, ECU unplugged", "ECU.45", "ECU.47"),
        ("ohms X10.1b to X10.2b OL, X10 unplugged", "X10.1b", "X10.2b"),
        ("volts K3.85 0, key on, K3 pulled", "K3.85", "battery minus"),
    ],
)  # fmt: skip
def test_from_pin_to_pin_of_a_part_that_is_off_it_is_the_part_itself(words, p, n):
    """Common practice, no source: who pulls a relay and measures its coil holds the relay."""
    found = heard(words)
    assert (found.p, found.n) == (p, n)


def test_how_it_was_understood_is_told():
    part = told(heard("ohms K3.85 to K3.86 92, K3 pulled"))
    assert part == "ohms K3.85 to K3.86 92 ohm, part side, key off, K3 pulled"
    loom = told(heard("ohms K3.85 to K3.86 92, loom side, K3 pulled"))
    assert loom == "ohms K3.85 to K3.86 92 ohm, loom side, key off, K3 pulled"


def test_a_control_unit_has_no_part_side():
    (problem,) = hear("ohms ECU.45 to ECU.47 3, part side, ECU unplugged", BOOK, state=JobState())
    assert problem.slug == "say-no-part-side"


@pytest.mark.parametrize(
    ("words", "low", "high"),
    [
        ("ohms K3.85 to K3.86, K3 pulled", 80.0, 100.0),
        ("ohms K3.85 to K3.86, loom side, K3 pulled", 1e3, inf),
        ("volts K3.85 to K3.86 with diode test, K3 pulled", 0.08, 0.10),
    ],
)
def test_a_healthy_relay_is_expected_to_show_its_coil_of_90_ohm(words, low, high):
    """90 ohm is in the book; a diode test puts about 1 mA through it."""
    asking = asked(words, BOOK)
    assert isinstance(asking, Asked)
    (row,) = job.start(BOOK).expect(asking.probe, defect="healthy", situation=asking.situation)
    assert low <= row.value <= high


def test_an_open_coil_measured_at_the_unplugged_valve_is_the_valve():
    words = (
        "codes ECU 1347/5, key on; "
        "ohms metering valve.1 to metering valve.2 OL, metering valve unplugged"
    )
    first = job.start(BOOK).note(*hear(words, BOOK, state=JobState())).suspects[0]
    assert first.words == "metering valve"
    assert first.chance > 0.5


def test_a_reading_saved_before_the_sides_were_told_apart_keeps_its_meaning():
    """Such a reading names the loom's end, and is told as that."""
    saved = {
        "type": "reading",
        "instrument": "ohmmeter",
        "p": "K3.85",
        "n": "K3.86",
        "value": 92.0,
        "cell": 1.0,
        "situation": [{"key": "off", "pulled": ["K3"]}],
    }
    old = from_plain(saved)
    assert told(old) == "ohms K3.85 to K3.86 92 ohm, loom side, key off, K3 pulled"
    assert hear(told(old), BOOK, state=JobState()) == (old,)
