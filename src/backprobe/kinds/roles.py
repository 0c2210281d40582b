"""What stands behind a pin of a unit: supply, ground, 5 V, and the inputs.

Nodes: "pin", the unit's rails "supply" and "ground", "group" the 5 V rail the pin hangs on,
"can high" and "can low" the two ends of its CAN driver.
"""

from __future__ import annotations

from typing import Final

from backprobe.kinds.records import (
    ABSENT,
    Attribute,
    Attrs,
    Branch,
    Role,
    Task,
    Value,
)
from backprobe.kinds.usual import PRACTICE, RATE, shorts
from backprobe.kinds.values import num

_PIN_VOLTS: Final = Task(
    name="volts at pin",
    does="volts",
    words="volts at the pin, plug on, probed from the back",
    seconds=120.0,
    source=PRACTICE,
    p="pin",
    needs="on",
    hazards=("unit-lines", "no-piercing"),
)

SUPPLY: Final = Role(
    name="supply",
    words=("supply", "feed", "battery supply", "power supply", "power"),
    meaning="feeds the unit; all supply pins are joined inside",
    attributes=(),
    branches=(Branch(name="inside", p="pin", n="supply", ohm=0.01),),
    tasks=(_PIN_VOLTS,),
    senses=True,
)

GROUND: Final = Role(
    name="ground",
    words=("ground", "sensor ground", "power ground", "earth", "return"),
    meaning="ground of the unit and of its sensors; all ground pins are joined inside",
    attributes=(),
    branches=(Branch(name="inside", p="pin", n="ground", ohm=0.005),),
    tasks=(_PIN_VOLTS,),
)

FIVE_VOLT: Final = Role(
    name="5 V group",
    words=("5 V group", "5V group", "sensor supply", "5 V", "group", "sensor supply group"),
    meaning="5 V for sensors; the pins of one group are joined inside the unit",
    attributes=(),
    branches=(Branch(name="inside", p="group", n="pin", ohm=0.05),),
    tasks=(_PIN_VOLTS,),
    senses=True,
)


def pull_up(target: str) -> Value:
    """Ohms of the pull-up towards `target`, absent unless the pin's pull goes there."""

    def ohms(attrs: Attrs) -> float:
        if "pull up" not in attrs or attrs["to"] != target:
            return ABSENT
        return num(attrs, "pull up")

    return ohms


def pull_down(attrs: Attrs) -> float:
    """Ohms of the pull-down, absent when none is given."""
    return num(attrs, "pull down") if "pull down" in attrs else ABSENT


def _pull(name: str, meaning: str, default: Value | None) -> Attribute:
    return Attribute(
        name=name,
        unit="ohm",
        default=default,
        low=100.0,
        high=1e7,
        meaning=meaning,
        source="a fact of the unit; makers differ, so it decides which way an open wire reads",
    )


FILTER_OHM: Final = 1e6
"""What an input's filter leaks to the unit's ground. Judgement; it is told in docs/wiring-book.md."""


def input_role(
    name: str,
    words: tuple[str, ...],
    meaning: str,
    *,
    up: Value | None = None,
    down: Value | None = None,
    filter_ohm: float = FILTER_OHM,
) -> Role:
    """An input with pulls to where the book says and a filter's leakage to the unit's ground."""
    return Role(
        name=name,
        words=words,
        meaning=meaning,
        attributes=(
            _pull("pull up", "resistor from the pin upwards", up),
            _pull("pull down", "resistor from the pin to the unit's ground", down),
            Attribute(
                name="to",
                unit="word",
                default="logic",
                words=("logic", "group", "supply"),
                meaning="where the pull-up goes: a 5 V group, the unit's supply, or its own 5 V",
                source="a fact of the unit",
            ),
        ),
        branches=(
            Branch(name="pull up group", p="group", n="pin", ohm=pull_up("group")),
            Branch(name="pull up supply", p="supply", n="pin", ohm=pull_up("supply")),
            Branch(
                name="pull up logic",
                p="pin",
                n="ground",
                emf=5.0,
                ohm=pull_up("logic"),
                when={"power": ("on",)},
            ),
            Branch(name="pull down", p="pin", n="ground", ohm=pull_down),
            Branch(name="filter", p="pin", n="ground", ohm=filter_ohm),
        ),
        failures=(
            shorts(
                "input shorted",
                "pin",
                "ground",
                "input shorted to ground inside",
                10.0,
                0.03,
                RATE,
                mend_s=7200.0,
            ),
        ),
        tasks=(_PIN_VOLTS,),
        senses=True,
    )


def _down_without_up(ohms: float) -> Value:
    def value(attrs: Attrs) -> float:
        return ABSENT if "pull up" in attrs else ohms

    return value


ANALOGUE: Final = input_role(
    "analogue input",
    ("analogue input", "analog input", "sensor input", "signal input", "analogue", "analog"),
    "measures volts; `pull up 4.7 kohm to group A`, `pull down 100 kohm`, or neither",
)

DIGITAL: Final = input_role(
    "digital input",
    ("digital input", "switch input", "key input", "wake input", "digital"),
    "senses on or off; pulled down by 10 kohm unless a pull-up is given (judgement)",
    down=_down_without_up(10e3),
)

FREQUENCY: Final = input_role(
    "frequency input",
    ("frequency input", "speed input", "pulse input", "frequency"),
    "counts pulses; pulled down by 20 kohm unless a pull-up is given (judgement)",
    down=_down_without_up(20e3),
)

INPUTS: Final = (SUPPLY, GROUND, FIVE_VOLT, ANALOGUE, DIGITAL, FREQUENCY)
