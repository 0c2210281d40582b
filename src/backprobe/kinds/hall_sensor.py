"""Hall sensors: a switching sensor is its mean output while the wheel turns."""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.records import (
    SEVERITY,
    Across,
    Attribute,
    Attrs,
    Branch,
    Failure,
    Kind,
    Move,
    Series,
    State,
)
from backprobe.kinds.sensing import ALIASES, SENSOR_TASKS, STOPPED, TURNING
from backprobe.kinds.usual import JUDGED, KEY, RATE, shorts
from backprobe.kinds.values import num


def _pull_at_rest(attrs: Attrs) -> float:
    """Inside ohms from supply to signal of a switching sensor that stands still."""
    return 10e3 if attrs["stopped"] == "high" else inf


def _sink_at_rest(attrs: Attrs) -> float:
    """Inside ohms from signal to ground of a switching sensor that stands still."""
    return 30.0 if attrs["stopped"] == "low" else inf


HALL: Final = Kind(
    name="hall sensor",
    words=("hall sensor", "speed sensor", "cam sensor", "crank sensor", "wheel speed sensor"),
    letter="B",
    meaning="switching sensor: 1 ground, 2 signal, 3 supply; its signal is the mean of the pulses",
    attributes=(
        Attribute(
            name="amps",
            unit="A",
            default=0.008,
            low=1e-3,
            high=0.1,
            meaning="its own current at 5 V",
            source="usual hall switch, from memory",
        ),
        Attribute(
            name="stopped",
            unit="word",
            default="high",
            words=("high", "low"),
            meaning="signal with the engine stopped (depends on where the wheel stands)",
            source=JUDGED,
        ),
    ),
    pins=("1", "2", "3"),
    aliases=ALIASES,
    states=(
        KEY,
        State(name="power", words=("off", "on"), rest="off", set_by="circuit"),
    ),
    branches=(
        Branch(name="supply", p="3", n="1", ohm=lambda a: 5.0 / num(a, "amps")),
        Branch(name="leak", p="2", n="1", ohm=1e6),
        Branch(
            name="rest pull",
            p="3",
            n="2",
            ohm=_pull_at_rest,
            when={"key": STOPPED, "power": ("on",)},
        ),
        Branch(
            name="rest sink",
            p="2",
            n="1",
            ohm=_sink_at_rest,
            when={"key": STOPPED, "power": ("on",)},
        ),
        Branch(
            name="pulses",
            p="2",
            n="1",
            ohm=200.0,
            row=(("2", 1.0), ("3", -0.5), ("1", -0.5)),
            column=(("2", 1.0), ("3", -0.5), ("1", -0.5)),
            when={"key": TURNING, "power": ("on",)},
        ),
    ),
    moves=(
        Move(state="power", leaves="off", to="on", quantity=Across(p="3", n="1"), above=3.8),
        Move(state="power", leaves="on", to="off", quantity=Across(p="3", n="1"), below=3.5),
    ),
    failures=(
        shorts(
            "drags its supply",
            "3",
            "1",
            "shorted inside, drags its supply down",
            SEVERITY,
            0.9,
            RATE,
            wet=3.0,
            hot=2.0,
            sometimes=0.3,
        ),
        Failure(
            name="no pulses",
            words="dead, no pulses",
            changes=(Series(branch="pulses", ohm=inf),),
            rate=1.0,
            source=RATE,
            sometimes=0.4,
            hot=3.0,
        ),
        shorts("stuck low", "2", "1", "signal stuck low", 20.0, 0.5, RATE, hot=2.0),
    ),
    tasks=SENSOR_TASKS,
    hazards=("unit-lines", "moving-parts"),
)
