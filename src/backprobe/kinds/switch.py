"""Switches moved by hand, seat or pressure."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from backprobe.kinds.records import CONTACT_CELLS, SEVERITY, Branch, Bridge, Failure, Kind, Series
from backprobe.kinds.switching import OHM, POSITION, SOURCE
from backprobe.kinds.usual import IN, KEY, WITH, drop, sticks, supply_volts, worn


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
    states = changes.pop("states", (POSITION,))
    when = changes.pop("when", {"position": (closed,)})
    kind = Kind(
        name=name,
        words=words,
        letter="S",
        meaning=meaning,
        attributes=(OHM, IN, WITH),
        pins=("1",) if body else ("1", "2"),
        states=states,  # type: ignore[arg-type]
        branches=(
            Branch(name="contact", p="1", n=far, ohm="ohm", when=when, contact=True),  # type: ignore[arg-type]
        ),
        failures=(
            worn("contact", "does not close properly", 0.65 * rate, SOURCE, wet=2.0, moved=2.0),
            sticks("1", far, "stuck closed or shorted inside", 0.35 * rate, SOURCE, wet=2.0),
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
    attributes=(OHM, replace(IN, default="on crank run"), WITH),
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
    attributes=(OHM,),
    operated="",
)

CHANGEOVER_SWITCH: Final = Kind(
    name="changeover switch",
    words=("changeover switch", "two-way switch", "selector switch"),
    letter="S",
    meaning="1 common; 2 closes and 3 opens when operated",
    attributes=(OHM, IN, WITH),
    pins=("1", "2", "3"),
    aliases={"C": "1", "COM": "1", "NO": "2", "NC": "3"},
    states=(POSITION,),
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
            source=SOURCE,
            cells=CONTACT_CELLS,
            sometimes=0.4,
            wet=2.0,
        ),
        Failure(
            name="bad contact break",
            words="does not close 1 to 3 properly",
            changes=(Series(branch="break", ohm=SEVERITY),),
            rate=0.8,
            source=SOURCE,
            cells=CONTACT_CELLS,
            sometimes=0.4,
            wet=2.0,
        ),
        Failure(
            name="shorted",
            words="shorted between 2 and 3",
            changes=(Bridge(p="2", n="3", ohm=0.1),),
            rate=0.5,
            source=SOURCE,
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
