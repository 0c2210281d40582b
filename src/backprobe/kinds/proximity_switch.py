"""Proximity switches."""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.records import Attribute, Branch, Bridge, Failure, Kind, Series, Task
from backprobe.kinds.switching import POSITION
from backprobe.kinds.usual import IN, JUDGED, PRACTICE, RATE, WITH, sticks, supply_volts

PROXIMITY_SWITCH: Final = Kind(
    name="proximity switch",
    words=("proximity switch", "proximity sensor", "inductive switch"),
    letter="B",
    meaning="three wires: 1 ground, 2 output, 3 supply; switches the supply to its output",
    attributes=(
        Attribute(
            name="ohm",
            unit="ohm",
            default=8.0,
            low=0.1,
            high=1000.0,
            meaning="ohms from supply to output when it sees metal (about 1.6 V at 200 mA)",
            source="IEC 60947-5-2 drop for three-wire types, from memory",
        ),
        Attribute(
            name="amps",
            unit="A",
            default=0.01,
            low=1e-3,
            high=0.1,
            meaning="its own current at 12 V",
            source=JUDGED,
        ),
        IN,
        WITH,
    ),
    pins=("1", "2", "3"),
    aliases={
        "ground": "1",
        "signal": "2",
        "output": "2",
        "supply": "3",
        "BU": "1",
        "BK": "2",
        "BN": "3",
    },
    states=(POSITION,),
    branches=(
        Branch(name="supply", p="3", n="1", ohm=lambda a: 12.0 / float(a["amps"])),
        Branch(name="output", p="3", n="2", ohm="ohm", when={"position": ("operated",)}),
        Branch(name="leak", p="2", n="1", ohm=1e5),
    ),
    failures=(
        Failure(
            name="open",
            words="output dead",
            changes=(Series(branch="output", ohm=inf),),
            rate=1.6,
            source=RATE,
            sometimes=0.35,
            hot=2.0,
        ),
        sticks("3", "2", "output stuck on", 0.6, RATE),
        Failure(
            name="shorted",
            words="shorted from supply to ground",
            changes=(Bridge(p="3", n="1", ohm=1.0),),
            rate=0.5,
            source=RATE,
            wet=3.0,
        ),
    ),
    tasks=(
        supply_volts("3", "volts at its supply pin"),
        supply_volts("2", "volts at its output, metal in front"),
        Task(
            name="volts at 1",
            does="volts",
            words="volts at its ground pin",
            seconds=90.0,
            source=PRACTICE,
            p="1",
            needs="on",
        ),
    ),
    operated="position",
)
