"""Sensors that are a resistance: thermistors and one-wire senders."""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.records import SEVERITY, Attribute, Branch, Bridge, Failure, Kind, Series
from backprobe.kinds.usual import DRIFT, KEY, LEAK_CELLS, RATE, look, ohms, supply_volts
from backprobe.kinds.values import num


def _resistive(
    name: str,
    words: tuple[str, ...],
    meaning: str,
    rest: float,
    running: float,
    source: str,
    far: str,
) -> Kind:
    """A sensor that is one resistance, different when the engine runs warm."""
    pins = ("1",) if far == "@body" else ("1", "2")
    return Kind(
        name=name,
        words=words,
        letter="B",
        meaning=meaning,
        attributes=(
            Attribute(
                name="rest",
                unit="ohm",
                default=rest,
                low=1.0,
                high=1e6,
                meaning="resistance cold or at rest",
                source=source,
                bare=True,
            ),
            Attribute(
                name="running",
                unit="ohm",
                default=running,
                low=1.0,
                high=1e6,
                meaning="resistance with the engine running warm",
                source=source,
            ),
        ),
        pins=pins,
        aliases={} if far == "@body" else {"signal": "1", "ground": "2", "A": "1", "B": "2"},
        states=(KEY,),
        branches=(
            Branch(name="lead", p="1", n="inside", ohm=0.05),
            Branch(
                name="cold",
                p="inside",
                n=far,
                ohm="rest",
                when={"key": ("off", "on", "crank")},
            ),
            Branch(name="warm", p="inside", n=far, ohm="running", when={"key": ("run",)}),
        ),
        failures=(
            Failure(
                name="open",
                words="open inside",
                changes=(Series(branch="lead", ohm=inf),),
                rate=1.0,
                source=RATE,
                sometimes=0.35,
                hot=2.0,
                moved=2.0,
            ),
            Failure(
                name="shorted",
                words="shorted or wet inside",
                changes=(Bridge(p="1", n=far, ohm=SEVERITY),),
                rate=0.7,
                source=RATE,
                cells=LEAK_CELLS,
                wet=3.0,
            ),
            Failure(
                name="reads cold",
                words="drifted, too many ohms",
                changes=(Series(branch="lead", ohm=lambda a: 2.0 * num(a, "rest")),),
                rate=0.4,
                source=RATE,
                cells=DRIFT,
                sometimes=0.1,
            ),
        ),
        tasks=(
            supply_volts("1", "volts at the signal pin, key on", "unit-lines"),
            ohms("1", "@body" if far == "@body" else "2", "sensor ohms, unplugged"),
            look("sensor plug dry and locked"),
        ),
        hazards=("unit-lines", "hot-parts"),
    )


THERMISTOR: Final = _resistive(
    "thermistor",
    (
        "thermistor",
        "temperature sensor",
        "coolant sensor",
        "coolant temperature sensor",
        "air temperature sensor",
        "fuel temperature sensor",
        "oil temperature sensor",
        "intake air sensor",
    ),
    "temperature sensor with falling resistance; pin 1 signal, 2 ground",
    2450.0,
    320.0,
    "usual engine NTC: 2.45 kohm at 20 C, 0.32 kohm at 80 C, from memory",
    "2",
)

ONE_WIRE: Final = _resistive(
    "one-wire sensor",
    (
        "one-wire sensor",
        "temperature sender",
        "sender",
        "fuel level sender",
        "level sender",
        "oil pressure sender",
        "gauge sender",
    ),
    "one-wire sender, grounded through its body",
    120.0,
    90.0,
    "fuel and pressure senders 10-180 ohm, from memory",
    "@body",
)
