"""Valves driven by pulses: duty and frequency."""

from __future__ import annotations

from typing import Final

from backprobe.kinds.power import ohm
from backprobe.kinds.records import Attribute
from backprobe.kinds.solenoid import coil
from backprobe.kinds.usual import JUDGED

_DUTY: Final = Attribute(
    name="duty",
    unit="%",
    default=0.4,
    low=0.0,
    high=1.0,
    meaning="usual share of time its driver is on; the driver's own setting counts",
    source=JUDGED,
)

_FREQUENCY: Final = Attribute(
    name="frequency",
    unit="Hz",
    default=200.0,
    low=10.0,
    high=20000.0,
    meaning="frequency of its driver; far above what a meter follows, so readings are averages",
    source=JUDGED,
)

PWM_VALVE: Final = coil(
    "PWM valve",
    (
        "PWM valve",
        "proportional valve",
        "metering valve",
        "suction control valve",
        "rail pressure valve",
        "EGR valve",
    ),
    "valve driven by pulses, taken at the average; pin 1 feed, 2 driver",
    (
        ohm(
            3.0,
            "a car maker's test of a diesel metering valve: 3.2 ohm, +/- 1; rail pressure control "
            "valve of another 0.96-1.16 ohm",
            high=1000.0,
        ),
        _DUTY,
        _FREQUENCY,
    ),
    3.0,
    "high-pressure-fuel",
)
