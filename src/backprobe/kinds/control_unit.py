"""Control unit and display. What stands behind their pins is in `roles`.

Inner rails "supply" and "ground" join all supply and ground pins. A unit whose supply falls away
under its own load goes down and stays down until the next key cycle ("resetting"): it would reset
over and over, and no steady reading exists.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import Final

from backprobe.kinds.records import (
    Across,
    Attribute,
    Branch,
    Failure,
    Kind,
    Move,
    Series,
    State,
    Task,
)
from backprobe.kinds.usual import JUDGED, PRACTICE, look, works
from backprobe.kinds.values import num

_CORE: Final = Across(p="core", n="ground")

CONTROL_UNIT: Final = Kind(
    name="control unit",
    words=(
        "control unit",
        "unit",
        "ECU",
        "ECM",
        "controller",
        "engine control unit",
        "module",
        "glow control unit",
        "telematics unit",
    ),
    letter="K",
    meaning="electronic control unit; its pins get their roles one by one",
    attributes=(
        Attribute(
            name="amps",
            unit="A",
            default=0.5,
            low=0.01,
            high=20.0,
            meaning="its own current at 12 V when on, loads not counted",
            source=JUDGED,
            bare=True,
        ),
        Attribute(
            name="wakes",
            unit="V",
            default=7.0,
            low=4.0,
            high=20.0,
            meaning="supply volts above which it starts",
            source=JUDGED,
        ),
        Attribute(
            name="sleeps",
            unit="V",
            default=6.0,
            low=3.0,
            high=19.0,
            meaning="supply volts below which it stops",
            source="engine maker's cranking table goes down to 6-8 V in the cold; a judgement",
        ),
    ),
    joint="plug",
    states=(State(name="power", words=("off", "on", "resetting"), rest="off", set_by="circuit"),),
    branches=(
        Branch(name="core feed", p="supply", n="core", ohm=0.05),
        Branch(name="leak", p="core", n="ground", ohm=20e3),
        Branch(
            name="draw",
            p="core",
            n="ground",
            ohm=lambda a: 12.0 / num(a, "amps"),
            when={"power": ("on",)},
        ),
    ),
    moves=(
        Move(state="power", leaves="off", to="on", quantity=_CORE, above="wakes"),
        Move(state="power", leaves="on", to="resetting", quantity=_CORE, below="sleeps"),
    ),
    failures=(
        Failure(
            name="dead",
            words="dead inside",
            changes=(Series(branch="core feed", ohm=inf),),
            rate=2.6,
            source="about half of the units replaced are good (trade claim); total a judgement",
            sometimes=0.3,
            hot=2.0,
            wet=2.0,
            mend_s=7200.0,
        ),
    ),
    tasks=(
        works("does it wake? lamp test, display, messages"),
        look("unit's plug fully home, dry, pins straight", 120.0),
        Task(
            name="power and ground first",
            does="drop",
            words="supply and ground at its plug, under load, before anyone blames the unit",
            seconds=240.0,
            source=PRACTICE,
            needs="on",
            hazards=("unit-lines", "no-piercing"),
        ),
    ),
    hazards=("unit-lines", "unplug-live", "welding", "stored-charge"),
    load="draw",
)

DISPLAY: Final = replace(
    CONTROL_UNIT,
    name="display",
    words=("display", "instrument cluster", "cluster", "dash", "dashboard", "monitor"),
    letter="P",
    meaning="display or instrument cluster: a unit with a screen",
    attributes=(replace(CONTROL_UNIT.attributes[0], default=0.3), *CONTROL_UNIT.attributes[1:]),
)

UNITS: Final = (CONTROL_UNIT, DISPLAY)
