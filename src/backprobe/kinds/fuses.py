"""Fuse, fusible link, circuit breaker."""

from __future__ import annotations

from math import exp, inf, log
from typing import Final

from backprobe.kinds.records import (
    Attribute,
    Attrs,
    Branch,
    Failure,
    Kind,
    Move,
    Series,
    State,
    Task,
    Through,
)
from backprobe.kinds.usual import JUDGED, PRACTICE, RATE, look
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


def link_ohm(attrs: Attrs) -> float:
    """Ohms of a fusible link or bolted main fuse: 60 mV at rated current, judgement."""
    return 0.06 / num(attrs, "amps")


def blows_at(attrs: Attrs) -> float:
    """Lasting amperes that open the fuse: 135 % of the rating (ISO 8820-3)."""
    return BLOWS_AT * num(attrs, "amps")


def link_blows_at(attrs: Attrs) -> float:
    """Lasting amperes that open a slow fuse or link: twice the rating (2-50 s at 200 %,
    Littelfuse 299 sheet)."""
    return 2.0 * num(attrs, "amps")


BLADE_TIMES: Final = (
    (1.10, 360e3, inf),
    (1.35, 0.75, 600.0),
    (1.60, 0.25, 50.0),
    (2.00, 0.15, 5.0),
    (3.50, 0.08, 0.5),
    (6.00, 0.0, 0.15),
)
"""Share of the rating, and the shortest and longest seconds a blade fuse of ISO 8820-3 may take to
open there. 135, 200, 350 and 600 % as on the Littelfuse 287 sheets of 35 and 40 A, 160 % as on the
10 A one; 110 % from memory. The standard's own 135 % runs to 1800 s for some sizes (from memory)."""

SLOW_TIMES: Final = (
    (1.00, 360e3, inf),
    (1.35, 60.0, 1800.0),
    (2.00, 2.0, 50.0),
    (3.50, 0.2, 7.0),
    (6.00, 0.04, 1.0),
)
"""The same for slow fuses: Littelfuse 299 sheet. Bolted links are taken alike (judgement)."""


def opens_within(share: float, *, slow: bool = False) -> tuple[float, float]:
    """The shortest and the longest seconds until a fuse opens at a lasting share of its rating.

    Time falls with current, so between two rows of the table it lies between the shortest of the
    row above and the longest of the row below. Below the first row it holds: (inf, inf).
    """
    rows = SLOW_TIMES if slow else BLADE_TIMES
    if share <= rows[0][0]:
        return inf, inf
    shortest = next((least for at, least, _ in rows if at >= share), 0.0)
    longest = [most for at, _, most in rows if at <= share][-1]
    return shortest, longest


def _rating(default: float, high: float) -> Attribute:
    return Attribute(
        name="amps",
        unit="A",
        default=default,
        low=1.0,
        high=high,
        meaning="rating printed on it",
        source=PRACTICE,
        bare=True,
    )


_ELEMENT: Final = State(name="element", words=("good", "blown"), rest="good", set_by="circuit")

_BOTH_SIDES: Final = tuple(
    Task(
        name=f"volts at {pin}",
        does="volts",
        words=f"volts at side {pin} of the fuse, fuse in, load on",
        seconds=45.0,
        source=PRACTICE,
        p=pin,
        needs="on",
        hazards=("short-circuit",),
    )
    for pin in ("1", "2")
)

FUSE: Final = Kind(
    name="fuse",
    words=("fuse", "blade fuse", "mini fuse", "maxi fuse"),
    letter="F",
    meaning="blade fuse in a holder; pin 1 towards the battery",
    attributes=(
        _rating(10.0, 120.0),
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
    states=(_ELEMENT,),
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
        *_BOTH_SIDES,
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
            hazards=("fuse-rating", "unit-lines"),
        ),
    ),
    hazards=("fuse-rating",),
)

FUSIBLE_LINK: Final = Kind(
    name="fusible link",
    words=("fusible link", "main fuse", "bolted fuse", "strip fuse", "link"),
    letter="F",
    meaning="slow main protection near the battery; pin 1 towards the battery",
    attributes=(
        _rating(80.0, 750.0),
        Attribute(
            name="ohm",
            unit="ohm",
            default=link_ohm,
            low=1e-5,
            high=0.1,
            meaning="resistance",
            source=JUDGED,
        ),
    ),
    pins=("1", "2"),
    aliases={"in": "1", "out": "2", "30": "1", "a": "1", "b": "2"},
    joint="stud",
    states=(_ELEMENT,),
    branches=(Branch(name="element", p="1", n="2", ohm="ohm", when={"element": ("good",)}),),
    moves=(
        Move(
            state="element",
            leaves="good",
            to="blown",
            quantity=Through(branch="element"),
            above=link_blows_at,
            size=True,
            pace=1,
            lasting=True,
        ),
    ),
    failures=(
        Failure(
            name="open",
            words="open, with nothing wrong behind it any more (reversed boost, surge, age)",
            changes=(Series(branch="element", ohm=inf),),
            rate=1.5,
            source=RATE,
            sometimes=0.15,
            visible=0.5,
            mend_s=900.0,
        ),
    ),
    tasks=(*_BOTH_SIDES, look("link melted, swollen or loose at its nuts")),
    hazards=("short-circuit", "fuse-rating"),
)


def _trips_by_hand(attrs: Attrs) -> float:
    """135 % of the rating (as ISO 8820-3 for fuses, judgement) if it is reset by hand."""
    return blows_at(attrs) if attrs["reset"] == "by hand" else inf


def _trips_by_itself(attrs: Attrs) -> float:
    """135 % of the rating (as ISO 8820-3 for fuses, judgement) if it resets by itself."""
    return blows_at(attrs) if attrs["reset"] == "by itself" else inf


BREAKER: Final = Kind(
    name="circuit breaker",
    words=("circuit breaker", "breaker", "thermal breaker"),
    letter="F",
    meaning="breaker that opens on overload; resets by itself when cool, or by hand",
    attributes=(
        _rating(20.0, 250.0),
        Attribute(
            name="reset",
            unit="word",
            default="by hand",
            words=("by hand", "by itself"),
            meaning="how it closes again",
            source="SAE J553 types I and III, from memory",
        ),
        Attribute(
            name="ohm",
            unit="ohm",
            default=lambda a: 0.1 / num(a, "amps"),
            low=1e-4,
            high=1.0,
            meaning="resistance; 100 mV at rated current",
            source=JUDGED,
        ),
    ),
    pins=("1", "2"),
    aliases={"in": "1", "out": "2", "30": "1"},
    joint="stud",
    states=(
        State(
            name="element",
            words=("closed", "tripped", "cycling"),
            rest="closed",
            set_by="circuit",
        ),
    ),
    branches=(Branch(name="element", p="1", n="2", ohm="ohm", when={"element": ("closed",)}),),
    moves=(
        Move(
            state="element",
            leaves="closed",
            to="tripped",
            quantity=Through(branch="element"),
            above=_trips_by_hand,
            size=True,
            pace=1,
            lasting=True,
        ),
        Move(
            state="element",
            leaves="closed",
            to="cycling",
            quantity=Through(branch="element"),
            above=_trips_by_itself,
            size=True,
            pace=1,
        ),
    ),
    failures=(
        Failure(
            name="open",
            words="tripped or worn out with nothing wrong behind it",
            changes=(Series(branch="element", ohm=inf),),
            rate=2.0,
            source=RATE,
            sometimes=0.4,
            hot=3.0,
            moved=2.0,
            visible=0.3,
            mend_s=300.0,
        ),
    ),
    tasks=(*_BOTH_SIDES, look("button out? press once; trips again: stop, find the cause")),
    hazards=("fuse-rating",),
)
