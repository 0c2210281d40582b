"""Coils of valves and injectors, switched on and off."""

from __future__ import annotations

from typing import Final

from backprobe.kinds.power import ohm, watts
from backprobe.kinds.records import SEVERITY, Attribute, Attrs, Branch, Kind
from backprobe.kinds.usual import (
    JUDGED,
    RATE,
    VOLTS,
    drop,
    ohms,
    opens,
    shorted_turns,
    shorts,
    supply_volts,
    works,
)
from backprobe.kinds.values import num

_COIL_MODES: Final = "coil: open .42, short .42, value .16: MIL-HDBK-338B; total a judgement"


def coil_ohm(attrs: Attrs) -> float:
    """R = U^2 / P, or U / I when amperes were given: 12 V 18 W is 8 ohm."""
    volts = num(attrs, "volts")
    return volts / num(attrs, "amps") if "amps" in attrs else volts**2 / num(attrs, "watts")


def coil(
    name: str,
    words: tuple[str, ...],
    meaning: str,
    attributes: tuple[Attribute, ...],
    rate: float,
    *hazards: str,
) -> Kind:
    """A kind whose work is done by one coil."""
    return Kind(
        name=name,
        words=words,
        letter="M",
        meaning=meaning,
        attributes=attributes,
        pins=("1", "2"),
        aliases={"A": "1", "B": "2", "+": "1", "-": "2"},
        branches=(Branch(name="coil", p="1", n="2", ohm="ohm", warms=True),),
        failures=(
            opens("coil", "coil broken", 0.45 * rate, _COIL_MODES, hot=2.0, moved=2.0),
            shorted_turns("coil", "ohm", 0.35, 0.35 * rate, _COIL_MODES),
            shorts(
                "to body",
                "1",
                "@body",
                "coil leaks to its body",
                SEVERITY,
                0.2 * rate,
                RATE,
                wet=3.0,
            ),
        ),
        tasks=(
            works("does it click when commanded?", *hazards),
            supply_volts("1", "volts at its feed pin, commanded", *hazards),
            drop("2", "@minus", "volts from its other pin to battery minus, commanded", *hazards),
            ohms("1", "2", "coil ohms, unplugged", *hazards),
        ),
        load="coil",
        hazards=hazards,
    )


SOLENOID: Final = coil(
    "solenoid",
    ("solenoid", "solenoid valve", "valve", "hydraulic valve", "lock valve", "coil"),
    "on-off solenoid valve; pin 1 feed, 2 ground or driver",
    (
        VOLTS,
        watts(18.0, "rated power", 500.0),
        Attribute(
            name="amps",
            unit="A",
            default=None,
            low=0.05,
            high=100.0,
            meaning="current at nominal volts, instead of watts",
            source=JUDGED,
            bare=True,
        ),
        ohm(coil_ohm, "Ohm's law; 18 W is a usual hydraulic coil (judgement)", high=1000.0),
    ),
    1.6,
    "raised-arms",
)

INJECTOR: Final = coil(
    "injector",
    ("injector", "fuel injector"),
    "solenoid injector; its driver boosts to tens of volts",
    (ohm(0.4, "common-rail solenoid injectors 0.2-0.6 ohm, from memory", high=1e6),),
    2.0,
    "injector-drive",
    "high-pressure-fuel",
)
