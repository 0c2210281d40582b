"""Blade fuses."""

from __future__ import annotations

from math import exp, inf, log
from typing import Final

from backprobe.kinds.fusing import BOTH_SIDES, ELEMENT, rating
from backprobe.kinds.records import (
    Attribute,
    Attrs,
    Branch,
    Failure,
    Kind,
    Move,
    Series,
    Task,
    Through,
)
from backprobe.kinds.usual import PRACTICE
from backprobe.kinds.values import num

COLD_MOHM: Final = (
    (1.0, 123.0),
    (2.0, 53.5),
    (3.0, 31.1),
    (4.0, 22.8),
    (5.0, 17.85),
    (7.5, 10.91),
    (10.0, 7.70),
    (15.0, 4.80),
    (20.0, 3.38),
    (25.0, 2.52),
    (30.0, 1.97),
    (40.0, 1.44),
)
"""Rated amperes and cold milliohms of blade fuses. 10 A is confirmed by a published chart of
millivolts per fuse, 25 and 40 A by quotations of the Littelfuse 287 sheet; the rest from memory
of the same sheet."""

BLOWS_AT: Final = 1.35
"""A blade fuse must open within 600 s at 135 % of its rating and hold 110 % for 100 h
(ISO 8820-3 and Littelfuse 287; the 100 h from memory)."""


def fuse_ohm(attrs: Attrs) -> float:
    """Cold ohms of a blade fuse, between the table's rows on a log-log line, beyond them on the
    last one. 10 A gives 7.7 mohm. Near its rated current a fuse reads 1.3 to 1.7 times more
    (Littelfuse 287 and 299 sheets: 96 and 75 mV at 40 A)."""
    amps = num(attrs, "amps")
    rows = COLD_MOHM
    upper = next((k for k in range(1, len(rows)) if amps <= rows[k][0]), len(rows) - 1)
    (a0, r0), (a1, r1) = rows[upper - 1], rows[upper]
    slope = log(r1 / r0) / log(a1 / a0)
    return 1e-3 * r0 * exp(slope * log(amps / a0))


def blows_at(attrs: Attrs) -> float:
    """Lasting amperes that open the fuse: 135 % of the rating (ISO 8820-3)."""
    return BLOWS_AT * num(attrs, "amps")


FUSE: Final = Kind(
    name="fuse",
    words=("fuse", "blade fuse", "mini fuse", "maxi fuse"),
    letter="F",
    meaning="blade fuse in a holder; pin 1 towards the battery",
    attributes=(
        rating(10.0, 120.0),
        Attribute(
            name="ohm",
            unit="ohm",
            default=fuse_ohm,
            low=1e-4,
            high=1.0,
            meaning="cold resistance",
            source="Littelfuse 287 sheet; published millivolt charts",
        ),
    ),
    pins=("1", "2"),
    aliases={"in": "1", "out": "2", "30": "1", "a": "1", "b": "2"},
    states=(ELEMENT,),
    branches=(Branch(name="element", p="1", n="2", ohm="ohm", when={"element": ("good",)}),),
    moves=(
        Move(
            state="element",
            leaves="good",
            to="blown",
            quantity=Through(branch="element"),
            above=blows_at,
            size=True,
            pace=1,
            lasting=True,
        ),
    ),
    failures=(
        Failure(
            name="open",
            words="open, with nothing wrong behind it any more (worn, or blown by a surge)",
            changes=(Series(branch="element", ohm=inf),),
            rate=0.8,
            source="MIL-HDBK-338B: opens early is .08 of a fuse's own modes; total a judgement",
            sometimes=0.1,
            moved=2.0,
            visible=0.6,
            mend_s=120.0,
        ),
    ),
    tasks=(
        *BOTH_SIDES,
        Task(
            name="millivolts",
            does="millivolts",
            words="millivolts across the fuse, fuse in, load on: the current without unplugging",
            seconds=60.0,
            source="published fuse voltage-drop charts (15 A mini: 1.0 mV is 218 mA)",
            p="1",
            n="2",
            needs="on",
        ),
        Task(
            name="look",
            does="look",
            words="pull the fuse: clean break, charred, or melted slowly; is the rating right?",
            seconds=60.0,
            source=PRACTICE,
            needs="off",
            hazards=("fuse-rating",),
        ),
        Task(
            name="lamp in socket",
            does="lamp",
            words="test lamp in place of the fuse: bright means a short behind it",
            seconds=300.0,
            source=PRACTICE,
            p="1",
            n="2",
            hazards=("hot-lamp", "fire", "unit-lines"),
        ),
    ),
    hazards=("fuse-rating",),
)
