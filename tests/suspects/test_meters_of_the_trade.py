"""What the less usual instruments' figures are worth: milliohms, diode test, low impedance."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest

from backprobe.findings.model import Reading
from backprobe.suspects.meters import (
    DIODE_OVERLOAD_V,
    LAMP_OHM,
    METERS,
    MILLIOHM_OVERLOAD,
    background,
    likelihood,
)
from backprobe.suspects.readings import probe_of


def odds(instrument, value: float, *means: float) -> np.ndarray:
    """How a figure speaks for each of some predicted readings."""
    found = likelihood(instrument, value, 0.0, background(instrument, value, 12.0))
    return found(np.array(means), np.zeros(len(means)))


def test_a_milliohm_meter_tells_metres_of_wire_an_ohmmeter_does_not():
    """1 mm2 is 18 mohm a metre (IEC 60228 class 5: 19.5 at most): 1 m or 2.5 m to the spot."""
    fine = odds("milliohm meter", 0.018, 0.018, 0.045)
    coarse = odds("ohmmeter", 0.018, 0.018, 0.045)
    assert fine[0] > 100 * fine[1]
    assert coarse[0] == pytest.approx(coarse[1], rel=0.05)
    assert METERS["milliohm meter"].floor < 0.01 * METERS["ohmmeter"].floor


def test_ten_milliohms_more_than_the_book_says_are_no_other_defect():
    """A spot typed a quarter metre off in two, contacts within their kin: 42.5 read, 32 expected fits
    better than chance; twice as much does not."""
    assert odds("milliohm meter", 0.0425, 0.032)[0] > 1.0
    assert odds("milliohm meter", 0.064, 0.032)[0] < 0.2


def test_a_milliohm_meter_shows_ol_where_its_range_ends():
    assert odds("milliohm meter", inf, 1e6)[0] == pytest.approx(3.0, rel=0.01)
    assert odds("milliohm meter", inf, 0.02)[0] < 1e-6
    assert odds("milliohm meter", 0.02, MILLIOHM_OVERLOAD * 10)[0] < 1e-3


def test_a_diode_tester_tells_a_sound_junction_from_a_shorted_and_an_open_one():
    """Silicon 0.5 to 0.8 V one way (textbook); a dead short 0 V, an open 3 V which shows as OL."""
    sound, shorted, opened = 0.65, 0.02, 3.0
    read = odds("diode tester", 0.58, sound, shorted, opened)
    assert read[0] > 1.0 > read[1]
    assert read[2] < 1e-6
    over = odds("diode tester", inf, sound, shorted, opened)
    assert over[2] > 1.0 > over[0]
    assert over[1] < 1e-6
    assert opened > DIODE_OVERLOAD_V


def test_each_instrument_is_asked_of_the_circuit_as_what_it_is():
    low = probe_of(Reading(instrument="low-impedance meter", p="X1.1"))
    assert (low.kind, low.meter_ohm) == ("volts", 3000.0)
    assert probe_of(Reading(instrument="meter", p="X1.1")).meter_ohm == 10e6
    assert probe_of(Reading(instrument="diode tester", p="D1.1", n="D1.2")).kind == "diode"
    assert probe_of(Reading(instrument="milliohm meter", p="X1.1", n="X2.1")).kind == "ohms"


def test_a_24_volt_test_lamp_of_the_same_watts_has_four_times_the_ohms():
    """R = U^2 / P (Ohm's law)."""
    lamp = Reading(instrument="lamp", p="X1.1")
    assert probe_of(lamp).meter_ohm == LAMP_OHM
    assert probe_of(lamp, 24.0).meter_ohm == pytest.approx(4 * LAMP_OHM)
