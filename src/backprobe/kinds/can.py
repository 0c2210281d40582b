"""CAN pins of a unit.

Direct-current picture of the pair: 2.5 V behind 15 kohm on each line while the unit is on, and a
weak drive from low to high that stands for the mean of its messages. Two units on a terminated
pair give about 2.6 and 2.4 V, as a voltmeter shows (a meter averages).
"""

from __future__ import annotations

from typing import Final

from backprobe.kinds.records import (
    ABSENT,
    Across,
    Attribute,
    Attrs,
    Branch,
    Move,
    Role,
    State,
    Task,
)
from backprobe.kinds.usual import RATE, shorts

LINE_OHM: Final = 15e3
"""Each line to 2.5 V. Published node ohms of an unplugged unit: 10-50 kohm between the lines."""

TALK_V: Final = 1.8
TALK_OHM: Final = 1000.0
"""Mean drive of one unit. 2 V dominant for a tenth of the time on 60 ohm is 0.2 V, the work of
two units; without terminators it cannot exceed its own 1.8 V. Judgement, from the levels 3.5 and
1.5 V dominant, 2.5 V recessive (car maker's manual)."""

_LOW: Final = Across(p="can low", n="ground")
_HIGH: Final = Across(p="can high", n="ground")
"""The drive pulls neither line below ground nor above its own 5 V: a bus held there is not driven.
It is let go at what the 1.8 V of a drive cannot have caused, so that it does not chatter."""


def terminator(attrs: Attrs) -> float:
    """120 ohm inside the unit, or nothing (ISO 11898-2, from memory)."""
    return 120.0 if attrs["terminated"] == "yes" else ABSENT


_TASKS: Final = (
    Task(
        name="volts at pin",
        does="volts",
        words="volts on the line, key on: high 2.5-3.5, low 1.5-2.5; a meter shows the mean",
        seconds=120.0,
        source="car maker's CAN table",
        p="pin",
        needs="on",
        hazards=("unit-lines", "no-piercing"),
    ),
    Task(
        name="ohms of the pair",
        does="ohms",
        words="ohms between high and low, battery minus off: 60 both terminators, 120 one, 40 three",
        seconds=120.0,
        source="ISO 11898-2, from memory; 2 x 120 ohm in parallel",
        p="pin",
        n="can low",
        needs="dead",
        hazards=("ohms-live", "battery-off-running"),
    ),
)


def _lines(line: str) -> tuple[Branch, ...]:
    return (
        Branch(name="line", p="pin", n=line, ohm=0.5),
        Branch(
            name="bias on",
            p=line,
            n="ground",
            emf=2.5,
            ohm=LINE_OHM,
            when={"power": ("on",)},
        ),
        Branch(
            name="bias off",
            p=line,
            n="ground",
            ohm=LINE_OHM,
            when={"power": ("off", "resetting")},
        ),
    )


CAN_HIGH: Final = Role(
    name="CAN high",
    words=("CAN high", "CAN H", "CAN-H", "CANH", "CAN+"),
    meaning="upper line of the bus; `terminated yes` when 120 ohm sit inside the unit",
    attributes=(
        Attribute(
            name="terminated",
            unit="word",
            default="no",
            words=("yes", "no"),
            meaning="whether a 120 ohm terminator sits inside the unit",
            source="a fact of the machine",
        ),
    ),
    branches=(
        *_lines("can high"),
        Branch(
            name="talk",
            p="can high",
            n="can low",
            emf=TALK_V,
            ohm=TALK_OHM,
            when={"power": ("on",), "bus": ("free",)},
        ),
        Branch(name="terminator", p="can high", n="can low", ohm=terminator),
    ),
    states=(
        State(
            name="bus",
            words=("free", "held low", "held high"),
            rest="free",
            set_by="circuit",
        ),
    ),
    moves=(
        Move(state="bus", leaves="free", to="held low", quantity=_LOW, below=-0.05, pace=0),
        Move(state="bus", leaves="held low", to="free", quantity=_HIGH, above=1.9, pace=0),
        Move(state="bus", leaves="free", to="held high", quantity=_HIGH, above=5.5, pace=0),
        Move(state="bus", leaves="held high", to="free", quantity=_LOW, below=3.6, pace=0),
    ),
    failures=(
        shorts(
            "line shorted",
            "can high",
            "ground",
            "CAN high shorted inside",
            20.0,
            1.2,
            RATE,
            mend_s=7200.0,
        ),
        shorts(
            "pair shorted",
            "can high",
            "can low",
            "CAN pair shorted inside",
            5.0,
            1.2,
            RATE,
            mend_s=7200.0,
        ),
    ),
    tasks=_TASKS,
)

CAN_LOW: Final = Role(
    name="CAN low",
    words=("CAN low", "CAN L", "CAN-L", "CANL", "CAN-"),
    meaning="lower line of the bus",
    attributes=(),
    branches=_lines("can low"),
    failures=(
        shorts(
            "line shorted",
            "can low",
            "ground",
            "CAN low shorted inside",
            20.0,
            1.2,
            RATE,
            mend_s=7200.0,
        ),
    ),
    tasks=_TASKS[:1],
)

CAN: Final = (CAN_HIGH, CAN_LOW)
