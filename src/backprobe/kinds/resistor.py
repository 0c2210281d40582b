"""Resistors and bus terminators."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from backprobe.kinds.power import ohm
from backprobe.kinds.records import Branch, Kind
from backprobe.kinds.usual import RATE, look, ohms, opens, shorts

RESISTOR: Final = Kind(
    name="resistor",
    words=("resistor", "dropping resistor", "blower resistor", "coding resistor"),
    letter="R",
    meaning="resistor",
    attributes=(ohm(1000.0, "a fact of the machine"),),
    pins=("1", "2"),
    branches=(Branch(name="element", p="1", n="2", ohm="ohm"),),
    failures=(opens("element", "burnt through", 1.0, RATE, sometimes=0.15),),
    tasks=(ohms("1", "2", "resistor ohms, unplugged"),),
)

TERMINATOR: Final = Kind(
    name="terminator",
    words=("terminator", "bus terminator", "terminating resistor", "CAN terminator"),
    letter="R",
    meaning="resistor at an end of the CAN bus; pin 1 CAN high, 2 CAN low",
    attributes=(ohm(120.0, "ISO 11898-2 (from memory); car maker's manual: 120 ohm each end"),),
    pins=("1", "2"),
    aliases={"A": "1", "B": "2", "H": "1", "L": "2"},
    branches=(Branch(name="element", p="1", n="2", ohm="ohm"),),
    failures=(
        replace(
            opens("element", "open inside, or left off", 8.0, RATE, sometimes=0.25, wet=2.0),
            moved=2.0,
        ),
        shorts("shorted", "1", "2", "wet or shorted", 2.0, 1.5, RATE, wet=5.0, sometimes=0.5),
    ),
    tasks=(
        ohms("1", "2", "ohms of the bus at the terminator: 60 good, 120 one end missing"),
        look("terminator fitted, plug dry"),
    ),
    hazards=("unit-lines",),
)
