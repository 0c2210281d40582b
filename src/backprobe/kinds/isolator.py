"""Battery isolators."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from backprobe.kinds.records import Branch, Kind
from backprobe.kinds.switching import OHM
from backprobe.kinds.usual import RATE, drop, look, worn

ISOLATOR: Final = Kind(
    name="isolator",
    words=("isolator", "battery isolator", "battery switch", "disconnect switch"),
    letter="Q",
    meaning="main switch at the battery, taken as on",
    attributes=(replace(OHM, default=0.0005, source="TE relay contact 2 mohm; judgement"),),
    pins=("1", "2"),
    aliases={"30": "1", "in": "1", "out": "2"},
    joint="stud",
    branches=(Branch(name="contact", p="1", n="2", ohm="ohm", contact=True),),
    failures=(
        worn(
            "contact",
            "contacts burnt or dirty",
            4.0,
            RATE,
            sometimes=0.5,
            wet=2.0,
            moved=2.0,
            mend_s=1800.0,
        ),
    ),
    tasks=(
        drop("1", "2", "drop across the isolator with loads on or while cranking", "short-circuit"),
        look("isolator really on, nuts tight, no burn marks"),
    ),
    hazards=("battery-off-running", "short-circuit"),
)
