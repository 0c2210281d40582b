"""Motors, pumps and fans."""

from __future__ import annotations

from typing import Final

from backprobe.kinds.power import amps, ohm, ohm_from_amps, watts
from backprobe.kinds.records import Attrs, Branch, Failure, Kind, Series, Task
from backprobe.kinds.usual import RATE, VOLTS, drop, ohms, opens, shorts, supply_volts, works
from backprobe.kinds.values import num


def _stalls(attrs: Attrs) -> float:
    """A seized motor draws about four times its running current (judgement)."""
    return -0.75 * num(attrs, "ohm")


def _motor(
    name: str, words: tuple[str, ...], meaning: str, default_amps: float, *hazards: str
) -> Kind:
    return Kind(
        name=name,
        words=words,
        letter="M",
        meaning=meaning,
        attributes=(
            VOLTS,
            watts(None, "rated power, instead of amps"),
            amps(default_amps, "running current at nominal volts"),
            ohm(ohm_from_amps, "Ohm's law"),
        ),
        pins=("1", "2"),
        aliases={"+": "1", "-": "2", "31": "2"},
        branches=(Branch(name="motor", p="1", n="2", ohm="ohm"),),
        failures=(
            opens("motor", "dead (brushes, winding)", 3.0, RATE, sometimes=0.35, moved=2.0),
            Failure(
                name="seized",
                words="seized or dragging, draws too much",
                changes=(Series(branch="motor", ohm=_stalls),),
                rate=2.0,
                source=RATE,
                sometimes=0.25,
                mend_s=1800.0,
            ),
            shorts("shorted", "1", "2", "shorted inside", 0.05, 0.6, RATE, wet=2.0),
        ),
        tasks=(
            works("does it run? listen, feel", *hazards),
            supply_volts("1", "volts at its feed pin, running", *hazards),
            drop("2", "@minus", "drop from its ground pin to battery minus, running", *hazards),
            Task(
                name="amps",
                does="amps",
                words="clamp round its feed wire, running",
                seconds=60.0,
                source="common practice, no source",
                p="1",
                needs="on",
                hazards=hazards,
            ),
            ohms("1", "2", "motor ohms, unplugged"),
        ),
        load="motor",
        hazards=hazards,
    )


MOTOR: Final = _motor(
    "motor",
    ("motor", "wiper motor", "wiper", "actuator motor", "actuator"),
    "electric motor, at its running resistance; pin 1 feed, 2 ground",
    5.0,
    "moving-parts",
)

PUMP: Final = _motor(
    "pump",
    ("pump", "lift pump", "fuel pump", "feed pump", "washer pump", "water pump", "urea pump"),
    "electric pump; pin 1 feed, 2 ground",
    4.5,
    "fire",
)

FAN: Final = _motor(
    "fan",
    ("fan", "blower", "cab fan", "cooling fan", "radiator fan"),
    "electric fan; pin 1 feed, 2 ground",
    8.0,
    "moving-parts",
)
