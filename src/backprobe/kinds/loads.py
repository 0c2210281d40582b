"""Loads that are one resistance when hot: lamps, LED lamps, horns, heaters, glow plugs, resistors.

Watts are meant at the nominal voltage: ohms = volts x volts / watts.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import Final

from backprobe.kinds.records import (
    Attribute,
    Attrs,
    Branch,
    Bridge,
    Failure,
    Kind,
    Series,
    Task,
)
from backprobe.kinds.usual import (
    JUDGED,
    PRACTICE,
    RATE,
    VOLTS,
    drop,
    look,
    ohms,
    opens,
    shorts,
    supply_volts,
    works,
)
from backprobe.kinds.values import num


def ohm_from_watts(attrs: Attrs) -> float:
    """R = U^2 / P. 12 V 55 W: 2.62 ohm, 4.6 A (Ohm's law)."""
    return num(attrs, "volts") ** 2 / num(attrs, "watts")


TUNGSTEN_HOT: Final = 14.0
"""Resistivity of tungsten at 2800 K over that at 300 K: 79 over 5.65 microhm cm (Jones and Langmuir
1927, from memory)."""


def cold_ohm(attrs: Attrs) -> float:
    """Ohms of a filament without current: a fourteenth of the hot ones. 12 V 55 W: 0.19 ohm."""
    return num(attrs, "ohm") / TUNGSTEN_HOT


def ohm_from_amps(attrs: Attrs) -> float:
    """R = U / I, or U^2 / P when watts were given."""
    if "watts" in attrs:
        return ohm_from_watts(attrs)
    return num(attrs, "volts") / num(attrs, "amps")


def watts(default: float | None, meaning: str, high: float = 5000.0) -> Attribute:
    """Rated watts at the nominal voltage."""
    return Attribute(
        name="watts",
        unit="W",
        default=default,
        low=0.05,
        high=high,
        meaning=meaning,
        source=PRACTICE,
        bare=True,
    )


def amps(default: float, meaning: str, high: float = 500.0) -> Attribute:
    """Rated amperes at the nominal voltage."""
    return Attribute(
        name="amps",
        unit="A",
        default=default,
        low=0.01,
        high=high,
        meaning=meaning,
        source=JUDGED,
        bare=True,
    )


def ohm(default: object, source: str, *, bare: bool = True, high: float = 1e6) -> Attribute:
    """Resistance of the load; follows from watts or amperes when not given."""
    return Attribute(
        name="ohm",
        unit="ohm",
        default=default,  # type: ignore[arg-type]
        low=0.01,
        high=high,
        meaning="resistance",
        source=source,
        bare=bare,
    )


_TWO_WIRE: Final = (
    supply_volts("1", "volts at its feed pin, load on"),
    drop("2", "@minus", "drop from its ground pin to battery minus, load on"),
)

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
    tasks=(works("does the lamp light?"), *_TWO_WIRE, look("filament whole, holder bright")),
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
    tasks=(works("does the lamp light?"), *_TWO_WIRE),
    load="driver",
)

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
    tasks=(works("does it sound?"), *_TWO_WIRE),
    load="coil",
)

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
    tasks=(works("does it get warm?", "hot-parts"), *_TWO_WIRE, ohms("1", "2", "heater ohms")),
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
        ohms("1", "@minus", "glow plug ohms to the engine, wire off"),
    ),
    load="element",
    hazards=("hot-parts", "short-circuit"),
)

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

LOADS: Final = (LAMP, LED_LAMP, HORN, HEATER, GLOW_PLUG, RESISTOR, TERMINATOR)
