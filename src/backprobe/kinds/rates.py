"""Base rates of what is not a part: wires, contacts, lugs, plugs, loom sections.

Rates are expected failures per 1000 machine years; only their relative size counts. No field
statistics for compact machines were found, so the levels are a judgement: they are balanced so
that a machine of about 150 wires shows the shares of root causes that practice expects among
machines with several codes at once (battery and charging .15, wire chafe .22, contacts and plugs
.24, grounds .12, fuse, relay, key .08, sensors and actuators .08, CAN .04, unit .01). A shop's own
counts replace them. Studs and straps carry their own rates in `joints`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import inf
from types import MappingProxyType
from typing import Final, Literal

from backprobe.kinds.records import Cell

JUDGEMENT: Final = "judgement: balanced to the shares of root causes expected in practice"

MEND_WIRE_S: Final = 1500.0
MEND_CONTACT_S: Final = 900.0
MEND_RUBBED_S: Final = 2250.0
MEND_LOOM_S: Final = 5400.0
"""Seconds to mend and prove one wire, one contact, two wires rubbed against each other (the loom
opened along its section), a torn loom, without access. Judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """How often one thing goes wrong: `value` failures per 1000 machine years of one `per`.

    The rest as in `records.Failure`.
    """

    value: float
    per: Literal["metre", "contact", "lug", "plug"]
    source: str = JUDGEMENT
    sometimes: float = 0.2
    wet: float = 1.0
    hot: float = 1.0
    moved: float = 1.0
    visible: float = 0.2


# -- wires, per metre of one wire in its loom ------------------------------------------------
WIRE_PER_METRE: Final = 0.44
"""All damage to one metre of one wire without special exposure."""

CHAFE: Final[Mapping[str, float]] = MappingProxyType(
    {"to ground": 0.65, "open": 0.20, "to wire": 0.10, "high resistance": 0.05}
)
"""What a chafed live wire becomes. Judgement."""

WIRE_TO_GROUND: Final = Rate(
    value=WIRE_PER_METRE * CHAFE["to ground"],
    per="metre",
    sometimes=0.4,
    wet=4.0,
    moved=3.0,
    visible=0.5,
)
WIRE_OPEN: Final = Rate(
    value=WIRE_PER_METRE * CHAFE["open"], per="metre", sometimes=0.35, moved=4.0, visible=0.3
)
WIRE_TO_WIRE: Final = Rate(
    value=WIRE_PER_METRE * CHAFE["to wire"] / 2.0,
    per="metre",
    sometimes=0.4,
    wet=4.0,
    moved=3.0,
    visible=0.4,
)
"""Half of the share: each touching pair is met from both of its wires."""
WIRE_TO_FEED: Final = Rate(
    value=WIRE_PER_METRE * CHAFE["to wire"],
    per="metre",
    sometimes=0.4,
    wet=4.0,
    moved=3.0,
    visible=0.4,
)
"""To a live wire, for a run whose neighbours nobody typed."""
WIRE_THIN: Final = Rate(
    value=WIRE_PER_METRE * CHAFE["high resistance"],
    per="metre",
    sometimes=0.4,
    wet=2.0,
    moved=3.0,
    visible=0.3,
)
"""Down to a few strands or green inside."""

SHORT_CELLS: Final = (
    Cell(ohm=0.02, spread=3.0, weight=0.50),
    Cell(ohm=1.0, spread=3.0, weight=0.14),
    Cell(ohm=20.0, spread=3.0, weight=0.14),
    Cell(ohm=300.0, spread=4.0, weight=0.12),
    Cell(ohm=5e3, spread=4.0, weight=0.10),
)
"""Resistance of a rubbed-through place: bare copper on metal to a wet scrape. Judgement."""

PAIR_CELLS: Final = (
    Cell(ohm=0.1, spread=5.0, weight=0.60),
    Cell(ohm=20.0, spread=5.0, weight=0.22),
    Cell(ohm=1e3, spread=8.0, weight=0.18),
)
"""The same for two bare wires against each other, coarser: there are many pairs. Judgement."""

THIN_CELLS: Final = (
    Cell(ohm=0.1, spread=2.5, weight=0.30),
    Cell(ohm=1.0, spread=3.0, weight=0.30),
    Cell(ohm=15.0, spread=3.0, weight=0.25),
    Cell(ohm=300.0, spread=4.0, weight=0.15),
)
"""Resistance of a thinned or corroded wire. Judgement."""

SPOT_METRES: Final = 0.3
"""Metres of ordinary loom a weak spot counts for, before its exposure factor. Judgement."""

EXPOSURE: Final[Mapping[str, float]] = MappingProxyType(
    {
        "edge": 5.0,
        "clip": 5.0,
        "hinge": 5.0,
        "splice": 5.0,
        "hot": 3.0,
        "wet": 3.0,
        "floor": 3.0,
    }
)
"""How much likelier damage is at a spot. Judgement: edge, missing clip, hinge and earlier splice
x5, exhaust closer than 20 cm x3, washed or rained on x3."""

_CONDITION: Final[Mapping[tuple[str, str], float]] = MappingProxyType(
    {
        ("wet", "wet"): 2.0,
        ("floor", "wet"): 1.5,
        ("hot", "hot"): 3.0,
        ("hinge", "moved"): 2.0,
        ("clip", "moved"): 1.5,
        ("edge", "moved"): 1.5,
        ("splice", "wet"): 1.5,
    }
)


def exposure_factor(exposure: str) -> float:
    """How much likelier damage is at a spot of that exposure; 1 for an unknown word."""
    return EXPOSURE.get(exposure, 1.0)


def condition_factor(exposure: str, of: str) -> float:
    """How much more a sometimes-fault at such a spot shows when `of` ("wet", "hot", "moved")
    holds, on top of its own factor. Judgement."""
    return _CONDITION.get((exposure, of), 1.0)


SECTION_CUT: Final = Rate(value=0.3, per="metre", sometimes=0.05, visible=0.9)
"""Per metre of loom section: all its wires torn or cut at once."""

# -- contacts ----------------------------------------------------------------------------------
CONTACT: Final = Rate(
    value=0.42,
    per="contact",
    source="contacts 45 % of harness failures (trade article), connector modes open .61, "
    "intermittent .23, short .16 (MIL-HDBK-338B); level a judgement",
    sometimes=0.5,
    wet=3.0,
    moved=3.0,
    visible=0.5,
)
"""Per mated contact of a plug, a fuse socket or a relay socket: corroded, loose, pushed out."""
CRIMP: Final = Rate(value=0.25, per="contact", sometimes=0.45, wet=2.0, moved=3.0, visible=0.3)
"""Per wire at a splice."""
LUG: Final = Rate(value=1.4, per="lug", sometimes=0.45, wet=2.5, moved=2.5, visible=0.5)
"""Per lug on a stud, a body or a bolted terminal."""
POST: Final = Rate(value=12.0, per="lug", sometimes=0.5, wet=1.5, moved=2.0, visible=0.6)
"""Per clamp on a battery post."""


def contact_at(kind: str, joint: str) -> Rate:
    """The rate of one contact by the kind of its part ("battery") and how wires meet it ("plug",
    "stud", "crimp"); a body counts as a stud."""
    if kind == "battery":
        return POST
    return {"plug": CONTACT, "crimp": CRIMP}.get(joint, LUG)


# -- whole plugs -------------------------------------------------------------------------------
PLUG_OFF: Final = Rate(value=0.35, per="plug", sometimes=0.05, visible=0.95)
PLUG_HALF: Final = Rate(value=0.45, per="plug", sometimes=0.6, moved=5.0, visible=0.7)
PLUG_WET: Final = Rate(value=1.2, per="plug", sometimes=0.6, wet=6.0, visible=0.7)
"""Events that take all ways of one plug."""

SOCKETED: Final = ("fuse", "relay", "changeover relay", "suppressed relay")
"""Kinds that are pushed into a socket under a cover."""
SOCKET_SHARE: Final = 0.15
"""How often whole-plug events take such a socket, against a plug in the loom. Judgement."""


def whole_plug_at(rate: Rate, kind: str) -> Rate:
    """The rate of a whole-plug event at a part of that kind."""
    return replace(rate, value=rate.value * SOCKET_SHARE) if kind in SOCKETED else rate


HALF_MATED_CELLS: Final = (
    Cell(ohm=0.3, spread=3.0, weight=0.25),
    Cell(ohm=5.0, spread=4.0, weight=0.25),
    Cell(ohm=200.0, spread=5.0, weight=0.15),
    Cell(ohm=inf, spread=1.0, weight=0.35),
)
"""Resistance of every contact of a half mated plug. Judgement."""

WET_CELLS: Final = (
    Cell(ohm=15.0, spread=1.7, weight=0.10),
    Cell(ohm=50.0, spread=1.9, weight=0.15),
    Cell(ohm=300.0, spread=3.0, weight=0.40),
    Cell(ohm=5e3, spread=4.0, weight=0.35),
)
"""Water between neighbouring ways. On a 5 V group it moves signals, seldom the rail: the wettest
across two gaps takes more than the 100 mA it gives, all others less. Judgement."""

# -- modifiers a job may bring ------------------------------------------------------------------
ADD_ON: Final = 4.0
"""Factor on what was worked on lately or carries an add-on (x3-5). Judgement."""
UNSEALED: Final = 3.0
"""Factor on water in a plug without seals. Judgement."""
