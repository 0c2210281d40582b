"""Isolator, key switch and the switches of the machine."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import Final

from backprobe.kinds.records import (
    CONTACT_CELLS,
    SEVERITY,
    Attribute,
    Branch,
    Bridge,
    Failure,
    Kind,
    Series,
    State,
    Task,
)
from backprobe.kinds.usual import (
    IN,
    JUDGED,
    KEY,
    MODES,
    PRACTICE,
    RATE,
    WITH,
    drop,
    look,
    sticks,
    supply_volts,
    worn,
)

_OHM: Final = Attribute(
    name="ohm",
    unit="ohm",
    default=0.01,
    low=1e-4,
    high=10.0,
    meaning="resistance of the closed contact",
    source="SAE limits as given in the trade: 0.1-0.2 V at 20 A; value a judgement",
)

ISOLATOR: Final = Kind(
    name="isolator",
    words=("isolator", "battery isolator", "battery switch", "disconnect switch"),
    letter="Q",
    meaning="main switch at the battery, taken as on",
    attributes=(replace(_OHM, default=0.0005, source="TE relay contact 2 mohm; judgement"),),
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

_KEY_OHM: Final = replace(_OHM, default=0.005)


def _key_failure(branch: str, words: str, rate: float) -> Failure:
    return replace(worn(branch, words, rate, MODES, moved=2.0), name=f"bad contact {branch}")


KEY_SWITCH: Final = Kind(
    name="key switch",
    words=("key switch", "ignition switch", "ignition", "start switch"),
    letter="S",
    meaning="key switch by DIN 72552: 30 feed, 15 on, 50 start, 19 glow (held)",
    attributes=(_KEY_OHM, IN, WITH),
    pins=("30", "15", "50", "19"),
    aliases={"B": "30", "BAT": "30", "IG": "15", "ON": "15", "ST": "50", "17": "19", "GLOW": "19"},
    states=(
        KEY,
        State(name="glow", words=("released", "held"), rest="released"),
    ),
    branches=(
        Branch(
            name="15",
            p="30",
            n="15",
            ohm="ohm",
            when={"key": ("on", "crank", "run")},
            contact=True,
        ),
        Branch(name="50", p="30", n="50", ohm="ohm", when={"key": ("crank",)}, contact=True),
        Branch(name="19", p="30", n="19", ohm="ohm", when={"glow": ("held",)}, contact=True),
    ),
    failures=(
        _key_failure("15", "contact 15 (on) burnt or worn", 3.5),
        _key_failure("50", "contact 50 (start) burnt or worn", 2.0),
        _key_failure("19", "contact 19 (glow) burnt or worn", 0.7),
        replace(
            sticks("30", "15", "contact 15 stuck, stays on", 0.7, MODES),
            name="15 stuck closed",
        ),
        replace(
            sticks("30", "50", "contact 50 stuck, keeps cranking", 0.5, MODES),
            name="50 stuck closed",
        ),
    ),
    tasks=(
        supply_volts("30", "volts at 30 of the key switch"),
        supply_volts("15", "volts at 15, key on"),
        supply_volts("50", "volts at 50, key held at start", "crank-limit"),
    ),
    operated="glow",
)

_POSITION: Final = State(name="position", words=("rest", "operated"), rest="rest")
_SOURCE: Final = "open .65, sticks .19, short .16: MIL-HDBK-338B; total a judgement"


def _switch(
    name: str,
    words: tuple[str, ...],
    meaning: str,
    *,
    closed: str,
    rate: float = 2.0,
    body: bool = False,
    **changes: object,
) -> Kind:
    """A switch that conducts in the position word `closed`; with `body` its second end is metal."""
    far = "@body" if body else "2"
    states = changes.pop("states", (_POSITION,))
    when = changes.pop("when", {"position": (closed,)})
    kind = Kind(
        name=name,
        words=words,
        letter="S",
        meaning=meaning,
        attributes=(_OHM, IN, WITH),
        pins=("1",) if body else ("1", "2"),
        states=states,  # type: ignore[arg-type]
        branches=(
            Branch(name="contact", p="1", n=far, ohm="ohm", when=when, contact=True),  # type: ignore[arg-type]
        ),
        failures=(
            worn("contact", "does not close properly", 0.65 * rate, _SOURCE, wet=2.0, moved=2.0),
            sticks("1", far, "stuck closed or shorted inside", 0.35 * rate, _SOURCE, wet=2.0),
        ),
        tasks=(
            supply_volts("1", "volts at the feed side of the switch"),
            *(() if body else (supply_volts("2", "volts behind the switch, switch closed"),)),
            *(() if body else (drop("1", "2", "drop across the closed switch, load on"),)),
        ),
        operated="position",
    )
    return replace(kind, **changes)  # type: ignore[arg-type]


SWITCH: Final = _switch(
    "switch",
    (
        "switch",
        "rocker switch",
        "rocker",
        "toggle switch",
        "push button",
        "button",
        "lever switch",
        "limit switch",
        "normally open switch",
        "light switch",
        "horn button",
        "pedal switch",
    ),
    "closes when operated",
    closed="operated",
)

BREAK_SWITCH: Final = _switch(
    "normally closed switch",
    (
        "normally closed switch",
        "break switch",
        "neutral switch",
        "park switch",
        "arm lock switch",
        "emergency stop",
    ),
    "closed at rest, opens when operated",
    closed="rest",
)

SEAT_SWITCH: Final = _switch(
    "seat switch",
    ("seat switch", "operator presence switch", "seat bar switch"),
    "closes when the operator sits; taken as seated whenever the key is on",
    closed="operated",
    rate=4.0,
    attributes=(_OHM, replace(IN, default="on crank run"), WITH),
    hazards=("interlock",),
)

PRESSURE_SWITCH: Final = _switch(
    "pressure switch",
    (
        "pressure switch",
        "brake switch",
        "brake light switch",
        "temperature switch",
        "thermal switch",
        "level switch",
        "float switch",
        "filter switch",
        "restriction switch",
        "water switch",
    ),
    "closes when the pressure, temperature or level it watches for is reached",
    closed="operated",
    rate=3.0,
)

OIL_PRESSURE_SWITCH: Final = _switch(
    "oil pressure switch",
    ("oil pressure switch", "oil switch", "one-wire switch"),
    "one wire, grounded through its thread: closed with the engine stopped, open when it runs",
    closed="",
    rate=3.0,
    body=True,
    states=(KEY,),
    when={"key": ("off", "on", "crank")},
    attributes=(_OHM,),
    operated="",
)

CHANGEOVER_SWITCH: Final = Kind(
    name="changeover switch",
    words=("changeover switch", "two-way switch", "selector switch"),
    letter="S",
    meaning="1 common; 2 closes and 3 opens when operated",
    attributes=(_OHM, IN, WITH),
    pins=("1", "2", "3"),
    aliases={"C": "1", "COM": "1", "NO": "2", "NC": "3"},
    states=(_POSITION,),
    branches=(
        Branch(
            name="make", p="1", n="2", ohm="ohm", when={"position": ("operated",)}, contact=True
        ),
        Branch(name="break", p="1", n="3", ohm="ohm", when={"position": ("rest",)}, contact=True),
    ),
    failures=(
        Failure(
            name="bad contact make",
            words="does not close 1 to 2 properly",
            changes=(Series(branch="make", ohm=SEVERITY),),
            rate=0.8,
            source=_SOURCE,
            cells=CONTACT_CELLS,
            sometimes=0.4,
            wet=2.0,
        ),
        Failure(
            name="bad contact break",
            words="does not close 1 to 3 properly",
            changes=(Series(branch="break", ohm=SEVERITY),),
            rate=0.8,
            source=_SOURCE,
            cells=CONTACT_CELLS,
            sometimes=0.4,
            wet=2.0,
        ),
        Failure(
            name="shorted",
            words="shorted between 2 and 3",
            changes=(Bridge(p="2", n="3", ohm=0.1),),
            rate=0.5,
            source=_SOURCE,
            wet=3.0,
        ),
    ),
    tasks=(
        supply_volts("1", "volts at the common pin"),
        supply_volts("2", "volts at 2, operated"),
        supply_volts("3", "volts at 3, at rest"),
    ),
    operated="position",
)

PROXIMITY_SWITCH: Final = Kind(
    name="proximity switch",
    words=("proximity switch", "proximity sensor", "inductive switch"),
    letter="B",
    meaning="three wires: 1 ground, 2 output, 3 supply; switches the supply to its output",
    attributes=(
        Attribute(
            name="ohm",
            unit="ohm",
            default=8.0,
            low=0.1,
            high=1000.0,
            meaning="ohms from supply to output when it sees metal (about 1.6 V at 200 mA)",
            source="IEC 60947-5-2 drop for three-wire types, from memory",
        ),
        Attribute(
            name="amps",
            unit="A",
            default=0.01,
            low=1e-3,
            high=0.1,
            meaning="its own current at 12 V",
            source=JUDGED,
        ),
        IN,
        WITH,
    ),
    pins=("1", "2", "3"),
    aliases={
        "ground": "1",
        "signal": "2",
        "output": "2",
        "supply": "3",
        "BU": "1",
        "BK": "2",
        "BN": "3",
    },
    states=(_POSITION,),
    branches=(
        Branch(name="supply", p="3", n="1", ohm=lambda a: 12.0 / float(a["amps"])),
        Branch(name="output", p="3", n="2", ohm="ohm", when={"position": ("operated",)}),
        Branch(name="leak", p="2", n="1", ohm=1e5),
    ),
    failures=(
        Failure(
            name="open",
            words="output dead",
            changes=(Series(branch="output", ohm=inf),),
            rate=1.6,
            source=RATE,
            sometimes=0.35,
            hot=2.0,
        ),
        sticks("3", "2", "output stuck on", 0.6, RATE),
        Failure(
            name="shorted",
            words="shorted from supply to ground",
            changes=(Bridge(p="3", n="1", ohm=1.0),),
            rate=0.5,
            source=RATE,
            wet=3.0,
        ),
    ),
    tasks=(
        supply_volts("3", "volts at its supply pin"),
        supply_volts("2", "volts at its output, metal in front"),
        Task(
            name="volts at 1",
            does="volts",
            words="volts at its ground pin",
            seconds=90.0,
            source=PRACTICE,
            p="1",
            needs="on",
        ),
    ),
    operated="position",
)

SWITCHES: Final = (
    ISOLATOR,
    KEY_SWITCH,
    SWITCH,
    BREAK_SWITCH,
    SEAT_SWITCH,
    PRESSURE_SWITCH,
    OIL_PRESSURE_SWITCH,
    CHANGEOVER_SWITCH,
    PROXIMITY_SWITCH,
)
