"""Relays by DIN 72552: coil 86 to 85, contact 30 to 87, at rest 30 to 87a.

Suppression (a diode or a resistor across the coil) is an attribute: the diode has its cathode at
86, so it only conducts when the coil is fed the wrong way round.

A relay that falls out under the load it switched on itself would buzz. It is held as "buzzing",
its contact open, until the next key cycle.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf
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
from backprobe.kinds.usual import (
    PRACTICE,
    VOLTS,
    conducts,
    drop,
    ohms,
    shorted_turns,
    sticks,
    supply_volts,
    worn,
)
from backprobe.kinds.values import num

SUPPRESSOR_OHM_PER_COIL_OHM: Final = 8.75
"""Parallel resistor over coil ohms: 2.8 kohm over 320 ohm (Panasonic CB1R, 24 V)."""


def coil_ohm(attrs: Attrs) -> float:
    """Coil ohms at 20 C: 90 ohm at 12 V (TE V23134 sheet, 81-99), 320 ohm at 24 V (Panasonic CB1R
    sheet: 287 ohm with 2.8 kohm in parallel); between and beyond on the power law through both."""
    return float(90.0 * (num(attrs, "volts") / 12.0) ** 1.83)


def pull_in_volts(attrs: Attrs) -> float:
    """Must-operate volts: 7.2 V of 12 V (TE V23134 sheet)."""
    return 0.6 * num(attrs, "volts")


def drop_out_volts(attrs: Attrs) -> float:
    """Must-release volts: 1.6 V of 12 V (TE V23134 sheet; Panasonic CB 1.2 V)."""
    return 1.6 / 12.0 * num(attrs, "volts")


def coil_with_suppressor(attrs: Attrs) -> float:
    """Ohms from 86 to 85: the coil, in parallel with its resistor when it has one."""
    ohm = num(attrs, "coil")
    if attrs["suppressed"] != "resistor":
        return ohm
    return ohm * SUPPRESSOR_OHM_PER_COIL_OHM / (1.0 + SUPPRESSOR_OHM_PER_COIL_OHM)


def pull_in_amps(attrs: Attrs) -> float:
    """Coil current at the must-operate volts: 80 mA for 7.2 V on 90 ohm (Ohm's law)."""
    return num(attrs, "pull in") / coil_with_suppressor(attrs)


def drop_out_amps(attrs: Attrs) -> float:
    """Coil current at the must-release volts: 18 mA for 1.6 V on 90 ohm (Ohm's law)."""
    return num(attrs, "drop out") / coil_with_suppressor(attrs)


def _broken_coil(attrs: Attrs) -> float:
    """A broken coil leaves its suppression resistor, if any."""
    if attrs["suppressed"] != "resistor":
        return inf
    return SUPPRESSOR_OHM_PER_COIL_OHM * num(attrs, "coil") - coil_with_suppressor(attrs)


def _diode_volts(attrs: Attrs) -> float:
    """Forward volts of the suppression diode; never reached without one."""
    return 0.7 if attrs["suppressed"] == "diode" else inf


_MODES: Final = "fails to trip .55, spurious .26, short .19: MIL-HDBK-338B; total a judgement"
_CONTACT: Final = State(
    name="contact", words=("open", "closed", "buzzing"), rest="open", set_by="circuit"
)
_DIODE: Final = State(
    name="diode", words=("blocking", "conducting"), rest="blocking", set_by="circuit"
)
_COIL: Final = Through(branch="coil")
"""A coil pulls by its current: broken, it pulls nothing, whatever the volts at its pins."""

RELAY: Final = Kind(
    name="relay",
    words=("relay", "power relay", "make relay", "contactor", "main relay"),
    letter="K",
    meaning="relay that closes 30 to 87 when its coil is fed",
    attributes=(
        VOLTS,
        Attribute(
            name="coil",
            unit="ohm",
            default=coil_ohm,
            low=3.0,
            high=2000.0,
            meaning="coil resistance",
            source="TE V23134 sheet; Panasonic CB sheet",
            bare=True,
        ),
        Attribute(
            name="suppressed",
            unit="word",
            default="no",
            words=("no", "diode", "resistor"),
            meaning="what lies across the coil; swap only like for like",
            source="ISO 7588, from memory",
        ),
        Attribute(
            name="pull in",
            unit="V",
            default=pull_in_volts,
            low=1.0,
            high=48.0,
            meaning="coil volts at which it closes",
            source="TE V23134 sheet: 7.2 V",
        ),
        Attribute(
            name="drop out",
            unit="V",
            default=drop_out_volts,
            low=0.1,
            high=24.0,
            meaning="coil volts below which it opens again",
            source="TE V23134 sheet: 1.6 V",
        ),
        Attribute(
            name="contact",
            unit="ohm",
            default=0.002,
            low=1e-4,
            high=0.1,
            meaning="resistance of the closed contact",
            source="TE Power Relay K sheet: 20 mV at 10 A",
        ),
    ),
    pins=("30", "87", "85", "86"),
    aliases={"3": "30", "5": "87", "2": "85", "1": "86"},
    states=(_CONTACT, _DIODE),
    branches=(
        Branch(name="coil", p="86", n="85", ohm=coil_with_suppressor, warms=True),
        Branch(
            name="diode",
            p="85",
            n="86",
            emf=0.65,
            ohm=0.1,
            when={"diode": ("conducting",)},
        ),
        Branch(
            name="contact",
            p="30",
            n="87",
            ohm="contact",
            when={"contact": ("closed",)},
            contact=True,
        ),
    ),
    moves=(
        Move(
            state="contact",
            leaves="open",
            to="closed",
            quantity=_COIL,
            above=pull_in_amps,
            size=True,
        ),
        Move(
            state="contact",
            leaves="closed",
            to="buzzing",
            quantity=_COIL,
            below=drop_out_amps,
            size=True,
        ),
        *conducts("diode", "85", "86", _diode_volts),
    ),
    failures=(
        worn("contact", "contact 30-87 burnt", 0.75, _MODES, moved=2.0, mend_s=180.0),
        Failure(
            name="coil open",
            words="coil broken",
            changes=(Series(branch="coil", ohm=_broken_coil),),
            rate=0.63,
            source=_MODES,
            sometimes=0.2,
            hot=2.0,
            mend_s=180.0,
        ),
        sticks("30", "87", "contact welded, stays on", 0.65, _MODES, mend_s=180.0),
        replace(shorted_turns("coil", "coil", 0.2, 0.47, _MODES), mend_s=180.0),
    ),
    tasks=(
        Task(
            name="swap",
            does="swap",
            words="swap with an equal relay (same pins, same diode or resistor)",
            seconds=120.0,
            source=PRACTICE,
            needs="off",
        ),
        supply_volts("30", "volts at 30 of the relay"),
        supply_volts("87", "volts at 87, relay commanded, load on"),
        supply_volts("86", "volts at 86, relay commanded"),
        supply_volts("85", "volts at 85, relay commanded (near 0 when driven from the low side)"),
        drop("30", "87", "drop across the closed contact, load on"),
        ohms("86", "85", "coil ohms, relay out"),
    ),
    load="coil",
)

CHANGEOVER_RELAY: Final = replace(
    RELAY,
    name="changeover relay",
    words=("changeover relay", "two-way relay", "five-pin relay"),
    meaning="relay that switches 30 from 87a (at rest) to 87",
    pins=("30", "87", "87a", "85", "86"),
    aliases={**RELAY.aliases, "4": "87a"},
    branches=(
        *RELAY.branches,
        Branch(
            name="rest contact",
            p="30",
            n="87a",
            ohm="contact",
            when={"contact": ("open", "buzzing")},
            contact=True,
        ),
    ),
    failures=(
        *RELAY.failures,
        replace(
            worn("rest contact", "contact 30-87a burnt", 0.5, _MODES, moved=2.0, mend_s=180.0),
            name="bad rest contact",
        ),
    ),
    tasks=(*RELAY.tasks, supply_volts("87a", "volts at 87a, relay at rest")),
)

SUPPRESSED_RELAY: Final = replace(
    RELAY,
    name="suppressed relay",
    words=("suppressed relay", "relay with diode", "relay with resistor"),
    meaning="relay with a diode (or a resistor) across its coil; closes 30 to 87",
    attributes=tuple(
        replace(one, default="diode") if one.name == "suppressed" else one
        for one in RELAY.attributes
    ),
)

RELAYS: Final = (RELAY, CHANGEOVER_RELAY, SUPPRESSED_RELAY)
