"""The starter with its solenoid.

A solenoid that falls out under the motor's own load would pull in and fall out over and over. It
is held as "chattering": the motor then gets, on average, what three times its own resistance in
series leaves (judgement).
"""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.power import ohm
from backprobe.kinds.records import (
    CONTACT_CELLS,
    SEVERITY,
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
from backprobe.kinds.usual import RATE, VOLTS, look, sticks, supply_volts, works
from backprobe.kinds.values import num


def cranking_ohm(attrs: Attrs) -> float:
    """Ohms of the turning starter motor: 10 V per 12 V nominal over its cranking current (about
    10 V stay while cranking: engine maker's 8-10 V at 10-27 C, NAVEDTRA 14050 9.6 V)."""
    return num(attrs, "volts") * 10.0 / 12.0 / num(attrs, "amps")


def _pulls_in(attrs: Attrs) -> float:
    """Hold-in amperes that close the main contact: at 0.6 x nominal volts (judgement; a control
    circuit may lose 1.0 V of 12 V, US Army TM 5-2420-230-24-2). A broken winding pulls nothing."""
    return 0.6 * num(attrs, "volts") / num(attrs, "hold in")


def _drops_out(attrs: Attrs) -> float:
    """Hold-in amperes at which it opens: at 0.3 x nominal volts (judgement)."""
    return 0.3 * num(attrs, "volts") / num(attrs, "hold in")


def _released(attrs: Attrs) -> float:
    """Hold-in amperes at 1 V: the key is let go."""
    return 1.0 / num(attrs, "hold in")


def _dragging(attrs: Attrs) -> float:
    """A dragging starter takes twice its current (judgement)."""
    return -0.5 * num(attrs, "ohm")


STARTER: Final = Kind(
    name="starter",
    words=("starter", "starter motor", "starting motor"),
    letter="M",
    meaning="starter with its solenoid: 30 battery, 50 control, grounded through its housing",
    attributes=(
        VOLTS,
        Attribute(
            name="amps",
            unit="A",
            default=200.0,
            low=20.0,
            high=2000.0,
            meaning="cranking current",
            source="US Army TM 10-3930-671-24: 180-220 A typical",
            bare=True,
        ),
        ohm(cranking_ohm, "NAVEDTRA 14050; an engine maker's cranking table", bare=False),
        Attribute(
            name="pull in",
            unit="ohm",
            default=lambda a: 0.35 * (num(a, "volts") / 12.0) ** 2,
            low=0.05,
            high=20.0,
            meaning="pull-in winding, 50 to the motor terminal",
            source="US Army TM 5-2420-230-24-2: 69 A pull-in and hold-in together of a larger one",
        ),
        Attribute(
            name="hold in",
            unit="ohm",
            default=lambda a: 1.1 * (num(a, "volts") / 12.0) ** 2,
            low=0.1,
            high=50.0,
            meaning="hold-in winding, 50 to the housing",
            source="US Army TM 5-2420-230-24-2: 13-19 A hold-in",
        ),
    ),
    pins=("30", "50"),
    aliases={"B": "30", "B+": "30", "S": "50", "BAT": "30"},
    joint="stud",
    states=(
        State(
            name="contact", words=("open", "closed", "chattering"), rest="open", set_by="circuit"
        ),
    ),
    branches=(
        Branch(name="pull-in", p="50", n="motor", ohm="pull in", warms=True),
        Branch(name="hold-in", p="50", n="@body", ohm="hold in", warms=True),
        Branch(
            name="contact",
            p="30",
            n="motor",
            ohm=0.0005,
            when={"contact": ("closed",)},
            contact=True,
        ),
        Branch(
            name="chatter",
            p="30",
            n="motor",
            ohm=lambda a: 3.0 * num(a, "ohm"),
            when={"contact": ("chattering",)},
        ),
        Branch(name="motor", p="motor", n="@body", ohm="ohm"),
    ),
    moves=(
        Move(
            state="contact",
            leaves="open",
            to="closed",
            quantity=Through(branch="hold-in"),
            above=_pulls_in,
        ),
        Move(
            state="contact",
            leaves="closed",
            to="chattering",
            quantity=Through(branch="hold-in"),
            below=_drops_out,
        ),
        Move(
            state="contact",
            leaves="chattering",
            to="open",
            quantity=Through(branch="hold-in"),
            below=_released,
        ),
    ),
    failures=(
        Failure(
            name="main contact",
            words="main contact burnt",
            changes=(Series(branch="contact", ohm=SEVERITY),),
            rate=5.0,
            source=RATE,
            cells=CONTACT_CELLS,
            sometimes=0.5,
            mend_s=5400.0,
        ),
        Failure(
            name="brushes",
            words="brushes worn, motor open",
            changes=(Series(branch="motor", ohm=SEVERITY),),
            rate=3.5,
            source=RATE,
            cells=CONTACT_CELLS,
            sometimes=0.5,
            moved=2.0,
            mend_s=5400.0,
        ),
        Failure(
            name="coil open",
            words="solenoid winding broken",
            changes=(Series(branch="hold-in", ohm=inf), Series(branch="pull-in", ohm=inf)),
            rate=2.0,
            source=RATE,
            hot=2.0,
            mend_s=5400.0,
        ),
        Failure(
            name="dragging",
            words="dragging, draws too much",
            changes=(Series(branch="motor", ohm=_dragging),),
            rate=2.0,
            source=RATE,
            hot=2.0,
            mend_s=5400.0,
        ),
        sticks("30", "motor", "main contact welded, keeps cranking", 0.5, RATE, mend_s=5400.0),
    ),
    tasks=(
        supply_volts("50", "volts at 50, key held at start", "starter-bypass", "crank-limit"),
        supply_volts("30", "volts at 30 while cranking", "crank-limit", "short-circuit"),
        Task(
            name="amps",
            does="amps",
            words="clamp round the starter cable while cranking",
            seconds=60.0,
            source="US Army TM 10-3930-671-24: 180-220 A typical",
            p="30",
            needs="on",
            hazards=("crank-limit",),
        ),
        works("does it click, does it turn?", "crank-limit", "starter-bypass"),
        look("nuts at 30 and 50 tight, cable not rubbing on the block"),
    ),
    load="motor",
    hazards=("starter-bypass", "crank-limit", "short-circuit"),
)
