"""The 5 V supply of a unit: one regulator per group, all its pins joined inside.

It holds its volts against the unit's ground and takes its current from the unit's supply. Above
its limit it gives just the limit; a latching one goes off until the key is cycled. Fed from
outside (a short to battery) it lets go.
"""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.records import (
    SEVERITY,
    Across,
    Attribute,
    Attrs,
    Branch,
    Cell,
    Failure,
    Injection,
    Lift,
    Move,
    Role,
    Series,
    State,
    Task,
    Through,
)
from backprobe.kinds.usual import RATE
from backprobe.kinds.values import num


def _limits(attrs: Attrs) -> float:
    """Current at which a regulator that recovers by itself starts to limit."""
    return inf if attrs["latches"] == "yes" else num(attrs, "limit")


def _latches(attrs: Attrs) -> float:
    """Current at which a latching regulator goes off."""
    return num(attrs, "limit") if attrs["latches"] == "yes" else inf


DRIFTS: Final = (
    Cell(ohm=0.35, spread=1.7, weight=0.6),
    Cell(ohm=1.0, spread=1.7, weight=0.4),
)
"""Volts by which a supply has drifted: from out of tolerance to where its sensors are lost. Judgement."""

_RAIL: Final = Across(p="group", n="ground")

GROUP: Final = Role(
    name="5 V supply",
    words=("5 V supply", "sensor supply regulator"),
    meaning="regulator of one 5 V group",
    attributes=(
        Attribute(
            name="volts",
            unit="V",
            default=5.0,
            low=3.0,
            high=24.0,
            meaning="what it holds; some groups are 8 V or 12 V",
            source="makers' manuals: 5.0 +/- 0.2 V, 8.0 +/- 0.4 V",
        ),
        Attribute(
            name="limit",
            unit="A",
            default=0.1,
            low=0.005,
            high=5.0,
            meaning="current it cannot exceed",
            source="usual 5 V sensor supply 50-200 mA, from memory",
        ),
        Attribute(
            name="latches",
            unit="word",
            default="no",
            words=("yes", "no"),
            meaning="whether it stays off after an overload until the key is cycled",
            source="a fact of the unit",
        ),
    ),
    states=(
        State(
            name="output",
            words=("holding", "limiting", "latched off", "fed from outside"),
            rest="holding",
            set_by="circuit",
        ),
    ),
    branches=(
        Branch(
            name="regulator",
            p="supply",
            n="group",
            emf=lambda a: -num(a, "volts"),
            ohm=0.05,
            row=(("ground", 1.0), ("group", -1.0)),
            column=(("supply", 1.0), ("group", -1.0)),
            when={"power": ("on",), "output": ("holding",)},
        ),
        Branch(name="bleed", p="group", n="ground", ohm=20e3),
    ),
    injections=(
        Injection(
            name="limited",
            p="supply",
            n="group",
            amps="limit",
            when={"power": ("on",), "output": ("limiting",)},
        ),
    ),
    moves=(
        Move(
            state="output",
            leaves="holding",
            to="limiting",
            quantity=Through(branch="regulator"),
            above=_limits,
            pace=0,
        ),
        Move(
            state="output",
            leaves="holding",
            to="latched off",
            quantity=Through(branch="regulator"),
            above=_latches,
            pace=0,
        ),
        Move(
            state="output",
            leaves="holding",
            to="fed from outside",
            quantity=Through(branch="regulator"),
            below=-1e-4,
            pace=0,
        ),
        Move(
            state="output",
            leaves="limiting",
            to="holding",
            quantity=_RAIL,
            above="volts",
            pace=0,
        ),
        Move(
            state="output",
            leaves="fed from outside",
            to="holding",
            quantity=_RAIL,
            below=lambda a: 0.995 * num(a, "volts"),
            pace=0,
        ),
    ),
    failures=(
        Failure(
            name="5 V dead",
            words="5 V supply dead inside the unit",
            changes=(Series(branch="regulator", ohm=inf),),
            rate=0.4,
            source=RATE,
            sometimes=0.2,
            hot=2.0,
            mend_s=7200.0,
        ),
        Failure(
            name="5 V drifted",
            words="5 V supply drifted down inside the unit",
            changes=(Lift(branch="regulator", emf=SEVERITY),),
            rate=0.15,
            source=RATE,
            cells=DRIFTS,
            hot=2.0,
            mend_s=7200.0,
        ),
    ),
    tasks=(
        Task(
            name="unplug one by one",
            does="unplug",
            words="unplug the group's sensors one at a time, key off between, watch the 5 V",
            seconds=180.0,
            source="common practice: 3-6 minutes each; a latched output needs a key cycle",
            hazards=("unplug-live", "unit-lines"),
        ),
    ),
    senses=True,
)
