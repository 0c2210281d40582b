"""Horns."""

from __future__ import annotations

from typing import Final

from backprobe.kinds.power import TWO_WIRE, amps, ohm, ohm_from_amps, watts
from backprobe.kinds.records import Branch, Kind
from backprobe.kinds.usual import RATE, VOLTS, opens, shorts, works

HORN: Final = Kind(
    name="horn",
    words=("horn", "buzzer", "alarm", "travel alarm", "reverse alarm", "beeper"),
    letter="P",
    meaning="horn or buzzer; pin 1 feed, 2 ground",
    attributes=(
        VOLTS,
        watts(None, "rated power, instead of amps"),
        amps(4.0, "current at nominal volts", 30.0),
        ohm(ohm_from_amps, "Ohm's law"),
    ),
    pins=("1", "2"),
    aliases={"+": "1", "-": "2", "31": "2"},
    branches=(Branch(name="coil", p="1", n="2", ohm="ohm", warms=True),),
    failures=(
        opens("coil", "dead", 3.0, RATE, sometimes=0.3, wet=3.0),
        shorts("shorted", "1", "2", "shorted inside", 0.2, 0.8, RATE, wet=2.0),
    ),
    tasks=(works("does it sound?"), *TWO_WIRE),
    load="coil",
)
