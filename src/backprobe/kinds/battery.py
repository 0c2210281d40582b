"""The battery.

It gives current through a few milliohms but takes charge through far more: two straight lines that
meet at its rest voltage, switched by the direction of the current.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from backprobe.kinds.records import (
    SEVERITY,
    SEVERITY_EMF,
    Attribute,
    Attrs,
    Branch,
    Cell,
    Failure,
    Kind,
    Lift,
    Move,
    Series,
    State,
    Task,
    Through,
)
from backprobe.kinds.usual import VOLTS, look, opens
from backprobe.kinds.values import between, num

FLOW_BAND_A: Final = 1e-3
"""Amperes the flow may reverse by before a state follows; keeps rounding from moving it."""

REST: Final = ((0.0, 11.89), (0.25, 12.06), (0.5, 12.24), (0.75, 12.45), (1.0, 12.65))
"""Charge and rested open-circuit volts of a 12 V battery at 26.7 C. BCI table."""

COLD: Final = ((-18.0, 4.1), (4.0, 3.3), (10.0, 3.2), (16.0, 3.1), (21.0, 3.0))
"""Celsius, and the volts a good 12 V battery of 12.6 V may lose under its test load: a load test
must leave 8.5, 9.3, 9.4, 9.5 and 9.6 V (two car makers, the same table)."""


def rest_volts(attrs: Attrs) -> float:
    """Rested open-circuit volts by charge, between the rows of the BCI table on straight lines.
    The usual 94 % rest at 12.6 V."""
    return between(REST, num(attrs, "charge")) * num(attrs, "volts") / 12.0


def cold_factor(attrs: Attrs) -> float:
    """Internal ohms in the cold over those at 21 C: what the load test's limits allow, 1.37 at -18 C.
    Beyond the rows on the line of the nearest two, never under 1."""
    return max(1.0, between(COLD, num(attrs, "temperature")) / COLD[-1][1])


def inner_ohm(attrs: Attrs) -> float:
    """Internal ohms from the cold cranking amperes: 0.45 x nominal / amps, times cold_factor.

    The cold cranking test takes a 12.6 V battery down to 7.2 V in 30 s at -18 C (SAE J537, from
    memory): 5.4 V. A warm new battery has less, an aged one more, so the figure stands for one in
    use. 650 A gives 8.3 mohm, and 10.8 V at the posts for a 220 A starter.
    """
    return 0.45 * num(attrs, "volts") / num(attrs, "amps") * cold_factor(attrs)


def charge_ohm(attrs: Attrs) -> float:
    """Ohms while taking charge: 0.16 ohm at 12 V, so 14.2 V puts 10 A into a full battery.

    Judgement.
    """
    return 0.16 * num(attrs, "volts") / 12.0


def _low(attrs: Attrs) -> float:
    """A quarter charged, it rests 0.6 V lower per 12 V (BCI table: 12.06 V)."""
    return -0.05 * num(attrs, "volts")


def _drained(volts: float) -> Callable[[Attrs], float]:
    """Volts that one rests lower which was drained on when it was empty, for 12 V. The BCI table
    ends at 11.89 V, empty; below that judgement, down to next to nothing as its acid turns to water."""
    return lambda attrs: -volts * num(attrs, "volts") / 12.0


DISCHARGED: Final = (
    Cell(ohm=0.005, spread=2.0, weight=0.25, emf=_low),
    Cell(ohm=0.02, spread=2.0, weight=0.33, emf=_low),
    Cell(ohm=0.08, spread=2.0, weight=0.22, emf=_low),
    Cell(ohm=0.3, spread=2.2, weight=0.06, emf=_drained(2.0)),
    Cell(ohm=1.5, spread=2.5, weight=0.06, emf=_drained(5.0)),
    Cell(ohm=10.0, spread=2.6, weight=0.05, emf=_drained(9.5)),
    Cell(ohm=60.0, spread=2.6, weight=0.03, emf=_drained(11.9)),
)
"""How far down it is: a quarter charged or worn out, then drained to 10.6, 7.6, 3.1 and 0.7 V at rest.
The flatter the less current it gives or takes. Ohms and weights: judgement."""

_ONE_CELL_V: Final = -2.1
"""What a shorted cell takes away: 12.6 V / 6 cells."""

BATTERY: Final = Kind(
    name="battery",
    words=("battery", "accumulator", "batteries"),
    letter="G",
    meaning="lead-acid battery; its minus post is the place all voltages are measured from",
    attributes=(
        VOLTS,
        Attribute(
            name="amps",
            unit="A",
            default=650.0,
            low=100.0,
            high=2500.0,
            meaning="cold cranking amperes printed on the battery",
            source="SAE J537, from memory",
            bare=True,
        ),
        Attribute(
            name="charge",
            unit="%",
            default=0.9375,
            low=0.0,
            high=1.0,
            meaning="how full it is; a battery in use is seldom full",
            source="BCI open-circuit voltage table; the usual 94 % a judgement",
        ),
        Attribute(
            name="temperature",
            unit="C",
            default=21.0,
            low=-40.0,
            high=80.0,
            meaning="how warm it is; the cold raises its internal resistance",
            source="load test limits by temperature, two car makers",
        ),
        Attribute(
            name="rest",
            unit="V",
            default=rest_volts,
            low=5.0,
            high=60.0,
            meaning="volts after standing, nothing switched on",
            source="BCI open-circuit voltage table",
        ),
        Attribute(
            name="ohm",
            unit="ohm",
            default=inner_ohm,
            low=1e-4,
            high=0.5,
            meaning="internal resistance while giving current",
            source="SAE J537 end voltage, from memory",
        ),
    ),
    pins=("+", "-"),
    aliases={"30": "+", "31": "-", "plus": "+", "minus": "-", "B+": "+", "B-": "-"},
    joint="stud",
    states=(State(name="flow", words=("giving", "taking"), rest="giving", set_by="circuit"),),
    branches=(
        Branch(name="cells", p="+", n="-", emf="rest", ohm="ohm", when={"flow": ("giving",)}),
        Branch(name="charge", p="+", n="-", emf="rest", ohm=charge_ohm, when={"flow": ("taking",)}),
    ),
    moves=(
        Move(
            state="flow",
            leaves="giving",
            to="taking",
            quantity=Through(branch="cells"),
            above=FLOW_BAND_A,
            pace=0,
        ),
        Move(
            state="flow",
            leaves="taking",
            to="giving",
            quantity=Through(branch="charge"),
            below=-FLOW_BAND_A,
            pace=0,
        ),
    ),
    failures=(
        Failure(
            name="discharged",
            words="discharged or worn out",
            changes=(
                Lift(branch="cells", emf=SEVERITY_EMF),
                Lift(branch="charge", emf=SEVERITY_EMF),
                Series(branch="cells", ohm=SEVERITY),
                Series(branch="charge", ohm=SEVERITY),
            ),
            rate=32.0,
            source="lead-acid: degraded 70 %, reliability handbook mode table; total a judgement",
            cells=DISCHARGED,
            sometimes=0.1,
            mend_s=1200.0,
        ),
        Failure(
            name="shorted cell",
            words="one cell shorted",
            changes=(Lift(branch="cells", emf=_ONE_CELL_V), Lift(branch="charge", emf=_ONE_CELL_V)),
            rate=9.0,
            source="lead-acid: short 20 %, reliability handbook mode table; total a judgement",
            sometimes=0.05,
            mend_s=1200.0,
        ),
        opens(
            "cells",
            "broken inside, drops out under load",
            4.5,
            "lead-acid: intermittent 10 %, reliability handbook mode table; total a judgement",
            sometimes=0.6,
            moved=3.0,
            mend_s=1200.0,
        ),
    ),
    tasks=(
        Task(
            name="rest volts",
            does="volts",
            words="battery volts at the posts, key off",
            seconds=60.0,
            source="BCI open-circuit voltage table: 12.65 V full, 12.24 V half",
            p="+",
            needs="off",
            hazards=("battery-gas",),
        ),
        Task(
            name="crank volts",
            does="volts",
            words="battery volts at the posts while cranking",
            seconds=90.0,
            source="NAVEDTRA 14050: 9.6 V or more (12 V), 18 V (24 V)",
            p="+",
            needs="on",
            hazards=("battery-gas", "crank-limit", "frozen-battery"),
        ),
        look("battery posts and clamps: tight, clean, dry, no white or green growth"),
    ),
    hazards=("battery-gas", "short-circuit", "battery-off-running", "frozen-battery"),
    mend="Charge it and test it under load before it is renewed. When it holds: see that it is charged "
    "with the engine running, and what drains it with the key off.",
)
