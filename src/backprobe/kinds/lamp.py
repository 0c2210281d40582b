"""Lamps: filament and LED."""

from __future__ import annotations

from typing import Final

from backprobe.kinds.power import TWO_WIRE, ohm, ohm_from_watts, watts
from backprobe.kinds.records import Attribute, Attrs, Branch, Bridge, Failure, Kind
from backprobe.kinds.usual import RATE, VOLTS, look, opens, shorts, works
from backprobe.kinds.values import num

TUNGSTEN_HOT: Final = 14.0
"""Resistivity of tungsten at 2800 K over that at 300 K: 79 over 5.65 microhm cm (Jones and Langmuir
1927, from memory)."""


def cold_ohm(attrs: Attrs) -> float:
    """Ohms of a filament without current: a fourteenth of the hot ones. 12 V 55 W: 0.19 ohm."""
    return num(attrs, "ohm") / TUNGSTEN_HOT


LAMP: Final = Kind(
    name="lamp",
    words=(
        "lamp",
        "bulb",
        "light",
        "head lamp",
        "headlight",
        "work light",
        "indicator lamp",
        "warning lamp",
        "beacon",
    ),
    letter="E",
    meaning="filament lamp, at its hot resistance when lit, cold to an ohmmeter; pin 1 feed, 2 ground",
    attributes=(
        VOLTS,
        watts(55.0, "rated power", 200.0),
        ohm(ohm_from_watts, "Ohm's law"),
        Attribute(
            name="cold",
            unit="ohm",
            default=cold_ohm,
            low=0.001,
            high=1e5,
            meaning="resistance without current",
            source="tungsten, published resistivities",
        ),
    ),
    pins=("1", "2"),
    aliases={"+": "1", "-": "2", "31": "2", "56a": "1", "56b": "1", "58": "1"},
    branches=(Branch(name="filament", p="1", n="2", ohm="ohm", cold="cold"),),
    failures=(
        opens("filament", "blown", 8.0, RATE, sometimes=0.1, moved=2.0, visible=0.8, mend_s=300.0),
        Failure(
            name="shorted",
            words="holder or filament shorted",
            changes=(Bridge(p="1", n="2", ohm=0.05),),
            rate=0.6,
            source=RATE,
            wet=3.0,
            visible=0.5,
        ),
    ),
    tasks=(works("does the lamp light?"), *TWO_WIRE, look("filament whole, holder bright")),
    load="filament",
    hazards=("hot-parts",),
)

LED_LAMP: Final = Kind(
    name="LED lamp",
    words=("LED lamp", "LED light", "LED work light", "LED beacon"),
    letter="E",
    meaning="LED lamp with its driver, taken as a resistance; pin 1 feed, 2 ground",
    attributes=(VOLTS, watts(20.0, "rated power", 500.0), ohm(ohm_from_watts, "Ohm's law")),
    pins=("1", "2"),
    aliases={"+": "1", "-": "2", "31": "2"},
    branches=(Branch(name="driver", p="1", n="2", ohm="ohm"),),
    failures=(
        opens("driver", "dead", 3.0, RATE, sometimes=0.25, hot=2.0, wet=2.0),
        shorts("shorted", "1", "2", "shorted inside", 0.3, 0.8, RATE, wet=3.0),
    ),
    tasks=(works("does the lamp light?"), *TWO_WIRE),
    load="driver",
)
