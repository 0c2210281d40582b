"""Heaters and glow plugs."""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.power import TWO_WIRE, amps, ohm, ohm_from_amps, watts
from backprobe.kinds.records import Attribute, Attrs, Branch, Failure, Kind, Series, Task
from backprobe.kinds.usual import RATE, VOLTS, ohms, opens, shorts, supply_volts, works
from backprobe.kinds.values import num

HEATER: Final = Kind(
    name="heater",
    words=(
        "heater",
        "intake heater",
        "air heater",
        "grid heater",
        "flame heater",
        "fuel heater",
        "seat heater",
        "mirror heater",
    ),
    letter="E",
    meaning="electric heater; pin 1 feed, 2 ground",
    attributes=(
        VOLTS,
        watts(None, "rated power, instead of amps"),
        amps(10.0, "current at nominal volts"),
        ohm(ohm_from_amps, "Ohm's law; a flame element measures 0.26-0.32 ohm at 12 V (sheet)"),
    ),
    pins=("1", "2"),
    aliases={"+": "1", "-": "2", "31": "2"},
    branches=(Branch(name="element", p="1", n="2", ohm="ohm"),),
    failures=(
        opens("element", "burnt through", 3.0, RATE, sometimes=0.1),
        shorts("shorted", "1", "2", "shorted inside", 0.02, 0.5, RATE),
    ),
    tasks=(works("does it get warm?", "hot-parts"), *TWO_WIRE, ohms("1", "2", "heater ohms")),
    load="element",
    hazards=("hot-parts", "fire"),
)


def glow_ohm(attrs: Attrs) -> float:
    """Hot ohms of one glow plug: 1.35 ohm at 12 V (8.9 A; Westerbeke: 1.0-1.5 ohm, 8-9 A), in
    proportion to volts squared, divided by the number of plugs on the rail."""
    return 1.35 * (num(attrs, "volts") / 12.0) ** 2 / num(attrs, "count")


def _one_glow_plug_less(attrs: Attrs) -> float:
    """Resistance added when one of `count` plugs burns out; the only one leaves nothing."""
    count = num(attrs, "count")
    return num(attrs, "ohm") / (count - 1.0) if count > 1.0 else inf


GLOW_PLUG: Final = Kind(
    name="glow plug",
    words=("glow plug", "glow plugs", "heater plug", "glow rail"),
    letter="E",
    meaning="glow plug or a rail of them, grounded through the engine",
    attributes=(
        VOLTS,
        Attribute(
            name="count",
            unit="1",
            default=1.0,
            low=1.0,
            high=12.0,
            meaning="plugs fed together",
            source="a fact of the machine",
            bare=True,
        ),
        ohm(glow_ohm, "Westerbeke: 1.0-1.5 ohm, 8-9 A"),
    ),
    pins=("1",),
    aliases={"G": "1", "+": "1"},
    joint="stud",
    branches=(Branch(name="element", p="1", n="@body", ohm="ohm"),),
    failures=(
        Failure(
            name="open",
            words="burnt out",
            changes=(Series(branch="element", ohm=_one_glow_plug_less),),
            rate=6.0,
            source=RATE,
            sometimes=0.05,
            mend_s=1800.0,
        ),
        shorts("shorted", "1", "@body", "shorted to the engine", 0.05, 0.4, RATE),
    ),
    tasks=(
        supply_volts("1", "volts at the plug, preheating", "hot-parts"),
        Task(
            name="amps",
            does="amps",
            words="clamp round the plug's wire, preheating",
            seconds=60.0,
            source="Westerbeke: 8-9 A per plug",
            p="1",
            needs="on",
            hazards=("hot-parts",),
        ),
        ohms("1", "@body", "glow plug ohms to the engine, wire off"),
    ),
    load="element",
    hazards=("hot-parts", "short-circuit"),
)
