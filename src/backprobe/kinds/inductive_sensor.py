"""Inductive sensors: the alternating signal is written as a steady voltage of its mean size."""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.power import ohm
from backprobe.kinds.records import Attribute, Branch, Failure, Kind, Lift, Series, Task
from backprobe.kinds.sensing import STOPPED, TURNING
from backprobe.kinds.usual import JUDGED, KEY, PRACTICE, RATE, look, ohms, shorts
from backprobe.kinds.values import num

INDUCTIVE: Final = Kind(
    name="inductive sensor",
    words=(
        "inductive sensor",
        "inductive speed sensor",
        "magnetic pickup",
        "reluctor sensor",
        "inductive crank sensor",
    ),
    letter="B",
    meaning="coil and magnet, makes its own alternating volts when the wheel turns; 2 V steady "
    "stand for its mean size",
    attributes=(
        ohm(860.0, "car makers' manuals at 20 C: 387-473, 486-594, 560-680, 1630-2740 ohm"),
        Attribute(
            name="signal",
            unit="V",
            default=2.0,
            low=0.1,
            high=50.0,
            meaning="mean size of its signal while cranking",
            source=JUDGED,
        ),
    ),
    pins=("1", "2"),
    aliases={"+": "1", "-": "2", "A": "1", "B": "2"},
    states=(KEY,),
    branches=(
        Branch(name="coil", p="1", n="inside", ohm="ohm", warms=True),
        Branch(name="still", p="inside", n="2", ohm=0.01, when={"key": STOPPED}),
        Branch(name="turning", p="inside", n="2", emf="signal", ohm=0.01, when={"key": TURNING}),
    ),
    failures=(
        Failure(
            name="open",
            words="coil broken",
            changes=(Series(branch="coil", ohm=inf),),
            rate=1.1,
            source="coil: open .42, short .42: MIL-HDBK-338B; total a judgement",
            sometimes=0.4,
            hot=3.0,
        ),
        shorts("shorted", "1", "2", "coil shorted", 10.0, 0.6, RATE, hot=2.0),
        Failure(
            name="weak",
            words="weak signal (gap, metal dust on the tip)",
            changes=(Lift(branch="turning", emf=lambda a: -0.9 * num(a, "signal")),),
            rate=0.8,
            source=RATE,
            sometimes=0.3,
        ),
        shorts("to body", "1", "@body", "coil touches its housing", 20.0, 0.3, RATE, wet=3.0),
    ),
    tasks=(
        ohms("1", "2", "sensor ohms, unplugged"),
        Task(
            name="works",
            does="works",
            words="does the display show engine speed while cranking?",
            seconds=60.0,
            source=PRACTICE,
            needs="on",
            hazards=("crank-limit",),
        ),
        look("tip clean, gap right, lead not rubbing"),
    ),
    hazards=("moving-parts",),
)
