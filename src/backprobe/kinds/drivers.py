"""Outputs of a unit. The driver's current always runs through the branch "drive".

A driver that is overloaded limits: a resistance that would take the limit from 12 V comes into
its path until the overload is gone. So an over-current stays visible, as the unit sees it.
"""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.records import (
    Across,
    Attribute,
    Attrs,
    Branch,
    Failure,
    Move,
    Role,
    Series,
    State,
    Task,
    Through,
    Value,
)
from backprobe.kinds.usual import IN, JUDGED, PRACTICE, RATE, WITH, conducts, shorts
from backprobe.kinds.values import num

BIAS_OHM: Final = 100e3
"""What an idle driver's pin is held to ground with (diagnosis, leakage). Judgement."""

_LIMIT: Final = Attribute(
    name="limit",
    unit="A",
    default=5.0,
    low=0.1,
    high=100.0,
    meaning="current at which the driver limits",
    source=JUDGED,
    bare=True,
)
_OHM: Final = Attribute(
    name="ohm",
    unit="ohm",
    default=0.15,
    low=0.001,
    high=20.0,
    meaning="resistance of the closed driver",
    source="smart power switches 50-200 mohm, from memory",
)
_DUTY: Final = Attribute(
    name="duty",
    unit="%",
    default=0.4,
    low=0.02,
    high=0.98,
    meaning="share of time it is on",
    source=JUDGED,
)
_FREQUENCY: Final = Attribute(
    name="frequency",
    unit="Hz",
    default=200.0,
    low=10.0,
    high=20000.0,
    meaning="pulse frequency; readings are averages",
    source=JUDGED,
)

_COMMAND: Final = State(name="command", words=("off", "on"), rest="off")
_GUARD: Final = State(name="guard", words=("ok", "limiting"), rest="ok", set_by="circuit")
_ON: Final = {"command": ("on",), "power": ("on",)}

_GUARD_MOVES: Final = (
    Move(
        state="guard",
        leaves="ok",
        to="limiting",
        quantity=Through(branch="drive"),
        above="limit",
        size=True,
        pace=0,
    ),
    Move(
        state="guard",
        leaves="limiting",
        to="ok",
        quantity=Through(branch="drive"),
        below=lambda a: 0.3 * num(a, "limit"),
        size=True,
        pace=0,
    ),
)


def _limiting_ohm(attrs: Attrs) -> float:
    """Ohms that pass the limit from 12 V."""
    return 12.0 / num(attrs, "limit")


def _limiting_ohm_pulsed(attrs: Attrs) -> float:
    """As above; the mean voltage behind a pulsed driver is only duty x 12 V."""
    return num(attrs, "duty") * 12.0 / num(attrs, "limit")


def _guard(limiting: Value) -> tuple[Branch, Branch]:
    return (
        Branch(name="guard", p="pin", n="inside", ohm=0.001, when={"guard": ("ok",)}),
        Branch(name="limiter", p="pin", n="inside", ohm=limiting, when={"guard": ("limiting",)}),
    )


_BIAS: Final = Branch(name="bias", p="pin", n="ground", ohm=BIAS_OHM)

_TASKS: Final = (
    Task(
        name="volts at pin",
        does="volts",
        words="volts at the driver's pin, commanded, plug on, probed from the back",
        seconds=120.0,
        source=PRACTICE,
        p="pin",
        needs="on",
        hazards=("unit-lines", "no-piercing"),
    ),
)


def _failures(rail: str) -> tuple[Failure, ...]:
    return (
        Failure(
            name="driver dead",
            words="driver dead inside",
            changes=(Series(branch="drive", ohm=inf),),
            rate=0.08,
            source=RATE,
            sometimes=0.2,
            hot=2.0,
            mend_s=7200.0,
        ),
        shorts(
            "driver stuck on",
            "pin",
            rail,
            "driver shorted inside, always on",
            0.2,
            0.04,
            RATE,
            mend_s=7200.0,
        ),
    )


LOW_SIDE: Final = Role(
    name="low side driver",
    words=("low side driver", "low-side driver", "low side output", "low side", "sink driver"),
    meaning="connects the pin to the unit's ground when commanded",
    attributes=(_LIMIT, _OHM, IN, WITH),
    states=(_COMMAND, _GUARD),
    branches=(
        *_guard(_limiting_ohm),
        Branch(name="drive", p="inside", n="ground", ohm="ohm", when=_ON),
        _BIAS,
    ),
    moves=_GUARD_MOVES,
    failures=_failures("ground"),
    tasks=_TASKS,
    senses=True,
    operated="command",
)

BODY_V: Final = 0.7
"""Forward volts of the diode that every power transistor has across it (silicon; makers' notes on
smart high side switches, from memory)."""
_BODY: Final = State(
    name="body", words=("blocking", "conducting"), rest="blocking", set_by="circuit"
)
_BACK: Final = Branch(
    name="body", p="inside", n="supply", emf=BODY_V, ohm=0.05, when={"body": ("conducting",)}
)
_BACK_MOVES: Final = conducts("body", "inside", "supply", BODY_V)

HIGH_SIDE: Final = Role(
    name="high side driver",
    words=("high side driver", "high-side driver", "high side output", "high side", "driver"),
    meaning="connects the pin to the unit's supply when commanded; a pin fed from outside feeds a unit "
    "that has no supply",
    attributes=(_LIMIT, _OHM, IN, WITH),
    states=(_COMMAND, _GUARD, _BODY),
    branches=(
        *_guard(_limiting_ohm),
        Branch(name="drive", p="supply", n="inside", ohm="ohm", when=_ON),
        _BACK,
        _BIAS,
    ),
    moves=(*_GUARD_MOVES, *_BACK_MOVES),
    failures=_failures("supply"),
    tasks=_TASKS,
    senses=True,
    operated="command",
)

SWITCHED_OUTPUT: Final = Role(
    name="switched output",
    words=("switched output", "output", "supply output", "switched supply"),
    meaning="the unit's supply on a pin, on with the key unless the book says when",
    attributes=(
        _LIMIT,
        _OHM,
        Attribute(
            name="in",
            unit="word",
            default="on crank run",
            meaning=IN.meaning,
            source=IN.source,
        ),
        WITH,
    ),
    states=HIGH_SIDE.states,
    branches=HIGH_SIDE.branches,
    moves=HIGH_SIDE.moves,
    failures=HIGH_SIDE.failures,
    tasks=_TASKS,
    senses=True,
    operated="command",
)


def _off_share(attrs: Attrs) -> float:
    """Share of time the free-wheel path holds the pin at the supply."""
    return num(attrs, "duty") - 1.0


def _on_share(attrs: Attrs) -> float:
    """Share of time the pin is at ground, as the coefficient it gets."""
    return -num(attrs, "duty")


PWM_LOW_SIDE: Final = Role(
    name="PWM driver",
    words=("PWM driver", "PWM low side driver", "PWM low-side driver", "PWM output", "PWM"),
    meaning="pulses the pin to ground; between pulses the current free-wheels to the supply. "
    "Taken at the average: volts at the pin = (1 - duty) x supply",
    attributes=(_LIMIT, _OHM, _DUTY, _FREQUENCY, IN, WITH),
    states=(
        _COMMAND,
        _GUARD,
        State(name="flow", words=("flowing", "idle"), rest="flowing", set_by="circuit"),
    ),
    branches=(
        *_guard(_limiting_ohm_pulsed),
        Branch(
            name="drive",
            p="inside",
            n="ground",
            ohm="ohm",
            row=(("inside", 1.0), ("supply", _off_share), ("ground", _on_share)),
            column=(("inside", 1.0), ("supply", _off_share), ("ground", _on_share)),
            when={**_ON, "flow": ("flowing",)},
        ),
        _BIAS,
    ),
    moves=(
        *_GUARD_MOVES,
        Move(
            state="flow",
            leaves="idle",
            to="flowing",
            quantity=Across(p="supply", n="pin"),
            below=lambda a: 6.0 * num(a, "duty"),
            pace=2,
        ),
        Move(
            state="flow",
            leaves="flowing",
            to="idle",
            quantity=Through(branch="drive"),
            below=-1e-5,
            pace=0,
        ),
    ),
    failures=_failures("ground"),
    tasks=_TASKS,
    senses=True,
    operated="command",
)

DRIVERS: Final = (LOW_SIDE, HIGH_SIDE, SWITCHED_OUTPUT, PWM_LOW_SIDE)
