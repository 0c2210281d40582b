"""The alternator and its regulator."""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.battery import FLOW_BAND_A
from backprobe.kinds.records import (
    Across,
    Attribute,
    Attrs,
    Branch,
    Failure,
    Kind,
    Lift,
    Move,
    Series,
    State,
    Task,
    Through,
)
from backprobe.kinds.usual import JUDGED, KEY, PRACTICE, RATE, VOLTS, look
from backprobe.kinds.values import num


def regulated_volts(attrs: Attrs) -> float:
    """Charging volts: 14.2 V per 12 V nominal. Tester manual: 13.3-15.0 V is the good band."""
    return 14.2 * num(attrs, "volts") / 12.0


ALTERNATOR: Final = Kind(
    name="alternator",
    words=("alternator", "generator", "dynamo"),
    letter="G",
    meaning="alternator with built-in regulator; grounded through its housing",
    attributes=(
        VOLTS,
        Attribute(
            name="regulated",
            unit="V",
            default=regulated_volts,
            low=6.0,
            high=60.0,
            meaning="volts it holds at B+ with the engine running",
            source="battery tester manual: 13.3-15.0 V good; 14.2 V a judgement",
        ),
        Attribute(
            name="amps",
            unit="A",
            default=55.0,
            low=10.0,
            high=300.0,
            meaning="rated output",
            source=PRACTICE,
            bare=True,
        ),
        Attribute(
            name="ohm",
            unit="ohm",
            default=lambda a: 0.05 * num(a, "regulated") / num(a, "amps"),
            low=1e-3,
            high=1.0,
            meaning="fall of its volts per ampere delivered; 5 % at rated output",
            source=JUDGED,
        ),
        Attribute(
            name="field",
            unit="ohm",
            default=6.0,
            low=1.0,
            high=100.0,
            meaning="ohms from D+ to its housing while it stands still (charge lamp lights)",
            source=JUDGED,
        ),
    ),
    pins=("B+", "D+"),
    aliases={"30": "B+", "B": "B+", "61": "D+", "L": "D+"},
    joint="stud",
    states=(
        KEY,
        State(name="diodes", words=("conducting", "blocking"), rest="conducting", set_by="circuit"),
    ),
    branches=(
        Branch(
            name="output",
            p="B+",
            n="@body",
            emf="regulated",
            ohm="ohm",
            when={"key": ("run",), "diodes": ("conducting",)},
        ),
        Branch(
            name="field",
            p="D+",
            n="@body",
            ohm="field",
            when={"key": ("off", "on", "crank")},
        ),
        Branch(
            name="exciter",
            p="D+",
            n="@body",
            emf="regulated",
            ohm=1.0,
            when={"key": ("run",)},
        ),
    ),
    moves=(
        Move(
            state="diodes",
            leaves="conducting",
            to="blocking",
            quantity=Through(branch="output"),
            above=FLOW_BAND_A,
            pace=0,
        ),
        Move(
            state="diodes",
            leaves="blocking",
            to="conducting",
            quantity=Across(p="B+", n="@body"),
            below=lambda a: 0.88 * num(a, "regulated"),
            pace=0,
        ),
    ),
    failures=(
        Failure(
            name="no output",
            words="does not charge (brushes, regulator, belt)",
            changes=(
                Series(branch="output", ohm=inf),
                Lift(branch="exciter", emf=lambda a: -num(a, "regulated")),
            ),
            rate=14.0,
            source=RATE,
            mend_s=3600.0,
        ),
        Failure(
            name="low output",
            words="charges too little (diode, regulator)",
            changes=(Lift(branch="output", emf=lambda a: -0.1 * num(a, "regulated")),),
            rate=5.5,
            source=RATE,
            hot=2.0,
            mend_s=3600.0,
        ),
        Failure(
            name="over-voltage",
            words="charges too high (regulator)",
            changes=(Lift(branch="output", emf=lambda a: 0.15 * num(a, "regulated")),),
            rate=2.5,
            source=RATE,
            mend_s=3600.0,
        ),
    ),
    tasks=(
        Task(
            name="charge volts",
            does="volts",
            words="volts at B+ with the engine running",
            seconds=90.0,
            source="battery tester manual: 13.3-15.0 V; 26.6-30.0 V for 24 V",
            p="B+",
            needs="on",
            hazards=("moving-parts", "short-circuit", "fumes"),
        ),
        look("belt tight and whole, B+ nut tight, plug seated"),
    ),
    hazards=("moving-parts", "short-circuit", "battery-off-running"),
    load="output",
)
