"""Base rates of what is not a part: wires, contacts, plugs, lugs, loom sections.

Rates are expected failures per 1000 machine years of the unit named in `per`; only their relative
size counts. No field statistics for compact machines were found, so the levels are a judgement:
they are balanced so that a machine of about 150 wires shows the shares of root causes that
practice expects among machines with several codes at once (battery and charging .15, wire chafe
.22, contacts and plugs .24, grounds .12, fuse, relay, key .08, sensors and actuators .08, CAN
.04, unit .01). A shop's own counts replace them. Studs and straps carry their own rates in
`joints`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from types import MappingProxyType
from typing import Final, Literal

from backprobe.kinds.records import CONTACT_CELLS, Cell

JUDGEMENT: Final = "judgement: balanced to the shares of root causes expected in practice"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """How often one thing goes wrong, per metre, contact, plug, lug or section.

    The rest as in `records.Failure`.
    """

    name: str
    words: str
    per: Literal["metre", "contact", "crimp", "lug", "plug", "section"]
    rate: float
    source: str = JUDGEMENT
    cells: tuple[Cell, ...] = ()
    sometimes: float = 0.2
    wet: float = 1.0
    hot: float = 1.0
    moved: float = 1.0
    visible: float = 0.2
    mend_s: float = 900.0


WIRE_PER_METRE: Final = 0.5
"""All damage to one metre of one wire in its loom, without special exposure."""

WIRE_SHARES: Final[Mapping[str, float]] = MappingProxyType(
    {"to ground": 0.65, "open": 0.20, "to wire": 0.10, "high resistance": 0.05}
)
"""What a chafed live wire becomes. Judgement."""

SHORT_CELLS: Final = (
    Cell(ohm=0.02, spread=3.0, weight=0.50),
    Cell(ohm=1.0, spread=3.0, weight=0.14),
    Cell(ohm=20.0, spread=3.0, weight=0.14),
    Cell(ohm=300.0, spread=4.0, weight=0.12),
    Cell(ohm=5e3, spread=4.0, weight=0.10),
)
"""Resistance of a rubbed-through place: bare copper on metal to a wet scrape. Judgement."""

WIRE: Final = (
    Rate(
        name="to ground",
        words="rubbed through to ground",
        per="metre",
        rate=WIRE_PER_METRE * WIRE_SHARES["to ground"],
        cells=SHORT_CELLS,
        sometimes=0.4,
        wet=4.0,
        moved=3.0,
        visible=0.5,
        mend_s=1500.0,
    ),
    Rate(
        name="open",
        words="broken",
        per="metre",
        rate=WIRE_PER_METRE * WIRE_SHARES["open"],
        cells=(Cell(ohm=inf, spread=1.0, weight=1.0),),
        sometimes=0.35,
        moved=4.0,
        visible=0.3,
        mend_s=1500.0,
    ),
    Rate(
        name="to wire",
        words="rubbed through to another wire",
        per="metre",
        rate=WIRE_PER_METRE * WIRE_SHARES["to wire"],
        cells=SHORT_CELLS,
        sometimes=0.4,
        wet=4.0,
        moved=3.0,
        visible=0.4,
        mend_s=1500.0,
    ),
    Rate(
        name="high resistance",
        words="corroded or down to a few strands",
        per="metre",
        rate=WIRE_PER_METRE * WIRE_SHARES["high resistance"],
        cells=CONTACT_CELLS,
        sometimes=0.4,
        wet=2.0,
        moved=3.0,
        visible=0.3,
        mend_s=1500.0,
    ),
)
"""Damage per metre of wire. A wire to another wire: split evenly over its loom neighbours."""

SPOT_LENGTH_M: Final = 0.3
"""Metres of ordinary loom a weak spot counts for, before its exposure factor. Judgement."""

EXPOSURE: Final[Mapping[str, float]] = MappingProxyType(
    {
        "": 1.0,
        "edge": 5.0,
        "clip": 5.0,
        "hinge": 5.0,
        "hot": 3.0,
        "wet": 3.0,
        "splice": 5.0,
        "floor": 3.0,
    }
)
"""How much likelier damage is at a spot of that exposure. Judgement (edge, missing clip, hinge x5;
exhaust closer than 20 cm x3; earlier splice x5; washed or rained on x3)."""

CONTACT: Final = (
    Rate(
        name="bad contact",
        words="corroded or loose contact",
        per="contact",
        rate=0.42,
        source="contacts 45, insulation 25, wire open 18, housing 12 % of harness failures "
        "(trade article); level a judgement",
        cells=CONTACT_CELLS,
        sometimes=0.5,
        wet=3.0,
        moved=3.0,
        visible=0.5,
    ),
    Rate(
        name="pushed out",
        words="terminal pushed out of its plug",
        per="contact",
        rate=0.12,
        source="connector: open .61, intermittent .23, short .16 (MIL-HDBK-338B); a judgement",
        cells=(Cell(ohm=inf, spread=1.0, weight=1.0),),
        sometimes=0.4,
        moved=4.0,
        visible=0.6,
    ),
)
"""Per mated contact of a plug, a fuse socket or a relay socket."""

CRIMP: Final = Rate(
    name="bad crimp",
    words="bad joint of one wire",
    per="crimp",
    rate=0.3,
    cells=CONTACT_CELLS,
    sometimes=0.45,
    wet=2.0,
    moved=3.0,
    visible=0.3,
    mend_s=1200.0,
)
"""Per wire at a splice."""

LUG: Final = Rate(
    name="bad lug",
    words="loose or corroded lug",
    per="lug",
    rate=1.5,
    cells=CONTACT_CELLS,
    sometimes=0.45,
    wet=2.5,
    moved=2.5,
    visible=0.5,
)
"""Per lug on a stud, a body or a bolted terminal."""

POST: Final = Rate(
    name="bad clamp",
    words="loose or corroded battery clamp",
    per="lug",
    rate=12.0,
    cells=CONTACT_CELLS,
    sometimes=0.5,
    wet=1.5,
    moved=2.0,
    visible=0.6,
)
"""Per lug on a battery post."""

WET_CELLS: Final = (
    Cell(ohm=30.0, spread=3.0, weight=0.25),
    Cell(ohm=300.0, spread=3.0, weight=0.40),
    Cell(ohm=5e3, spread=4.0, weight=0.35),
)
"""Water between neighbouring ways of a plug. On a 5 V group it usually moves signals, seldom the
rail. Judgement."""

PLUG: Final = (
    Rate(
        name="off",
        words="plug off",
        per="plug",
        rate=0.4,
        sometimes=0.05,
        visible=0.95,
        mend_s=60.0,
    ),
    Rate(
        name="half mated",
        words="plug half mated, its lock open",
        per="plug",
        rate=0.5,
        cells=CONTACT_CELLS,
        sometimes=0.6,
        moved=5.0,
        visible=0.7,
        mend_s=120.0,
    ),
    Rate(
        name="wet",
        words="water in the plug",
        per="plug",
        rate=1.3,
        cells=WET_CELLS,
        sometimes=0.6,
        wet=6.0,
        visible=0.7,
        mend_s=1200.0,
    ),
)
"""Events that take many ways of one plug at once. A plug that is not sealed: wet x UNSEALED."""

UNSEALED: Final = 3.0
"""Factor on a wet plug without seals. Judgement."""

SECTION: Final = Rate(
    name="cut",
    words="loom torn or cut through",
    per="section",
    rate=0.25,
    sometimes=0.05,
    visible=0.9,
    mend_s=5400.0,
)
"""Per loom section, all its wires at once."""

ADD_ON: Final = 4.0
"""Factor on everything that was worked on lately or carries an add-on (x3-5). Judgement."""
