"""Ratiometric sensors on a 5 V group, one track or two: a potentiometer behind an output
resistance."""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.power import ohm
from backprobe.kinds.records import (
    SEVERITY,
    Attribute,
    Attrs,
    Branch,
    Failure,
    Kind,
    Lift,
    Series,
    Value,
)
from backprobe.kinds.sensing import ALIASES, SENSOR_TASKS, STOPPED
from backprobe.kinds.usual import DRIFT, JUDGED, KEY, RATE, shorts, supply_volts, unplug
from backprobe.kinds.values import num


def _share(name: str, default: Value, meaning: str, source: str) -> Attribute:
    return Attribute(
        name=name, unit="%", default=default, low=0.01, high=0.99, meaning=meaning, source=source
    )


def _half_way(attrs: Attrs) -> float:
    """While cranking the signal stands half way between rest and running (judgement)."""
    return (num(attrs, "rest") + num(attrs, "running")) / 2.0


def _above(name: str) -> Value:
    return lambda attrs: num(attrs, "ohm") * (1.0 - num(attrs, name))


def _below(name: str) -> Value:
    return lambda attrs: num(attrs, "ohm") * num(attrs, name)


def _track(
    ground: str, signal: str, supply: str, mark: str = "", scale: str = ""
) -> tuple[Branch, ...]:
    """One ratiometric track: a potentiometer per key state, and the output resistance."""
    wiper = f"wiper{mark}"
    parts: list[Branch] = []
    for name, keys in (("rest", STOPPED), ("cranking", ("crank",)), ("running", ("run",))):
        which = name + scale
        parts += [
            Branch(
                name=f"{name} upper{mark}",
                p=supply,
                n=wiper,
                ohm=_above(which),
                when={"key": keys},
            ),
            Branch(
                name=f"{name} lower{mark}",
                p=wiper,
                n=ground,
                ohm=_below(which),
                when={"key": keys},
            ),
        ]
    return (*parts, Branch(name=f"output{mark}", p=signal, n=wiper, ohm="output"))


THREE_WIRE: Final = Kind(
    name="three-wire sensor",
    words=(
        "three-wire sensor",
        "ratiometric sensor",
        "pressure sensor",
        "rail pressure sensor",
        "rail sensor",
        "boost sensor",
        "boost pressure sensor",
        "oil pressure sensor",
        "fuel pressure sensor",
        "position sensor",
        "angle sensor",
        "potentiometer",
        "hand throttle",
        "pedal",
        "joystick",
        "level sensor",
    ),
    letter="B",
    meaning="ratiometric sensor on a 5 V group: 1 ground, 2 signal, 3 supply",
    attributes=(
        _share("rest", 0.1, "signal over supply, engine stopped", "ratiometric window 0.5-4.5 V"),
        _share("running", 0.35, "signal over supply, engine running warm", JUDGED),
        _share("cranking", _half_way, "signal over supply while cranking", JUDGED),
        ohm(
            700.0,
            "7 mA at 5 V (judgement); engine maker's manual: supply to signal of a rail sensor "
            "up to 3 kohm, unpowered",
            high=1e5,
        ),
        Attribute(
            name="output",
            unit="ohm",
            default=100.0,
            low=1.0,
            high=1e5,
            meaning="output resistance of the signal",
            source=JUDGED,
        ),
    ),
    pins=("1", "2", "3"),
    aliases=ALIASES,
    states=(KEY,),
    branches=_track("1", "2", "3"),
    failures=(
        shorts(
            "drags its supply",
            "3",
            "1",
            "shorted inside, drags its supply down",
            SEVERITY,
            1.1,
            RATE,
            wet=3.0,
            hot=2.0,
            sometimes=0.3,
        ),
        shorts("stuck low", "2", "1", "signal stuck low", 5.0, 0.4, RATE, wet=2.0, hot=2.0),
        shorts("stuck high", "2", "3", "signal stuck high", 5.0, 0.3, RATE, wet=2.0, hot=2.0),
        Failure(
            name="no signal",
            words="signal open inside",
            changes=(Series(branch="output", ohm=inf),),
            rate=0.4,
            source=RATE,
            sometimes=0.4,
            hot=2.0,
            moved=2.0,
        ),
        Failure(
            name="reads high",
            words="drifted, reads high",
            changes=(Lift(branch="output", emf=0.4),),
            rate=0.3,
            source="sensor erratic .59, from memory of a military handbook; total a judgement",
            cells=DRIFT,
            sometimes=0.3,
            hot=2.0,
        ),
        Failure(
            name="reads low",
            words="drifted, reads low",
            changes=(Lift(branch="output", emf=-0.4),),
            rate=0.3,
            source="sensor erratic .59, from memory of a military handbook; total a judgement",
            cells=DRIFT,
            sometimes=0.3,
            hot=2.0,
        ),
    ),
    tasks=SENSOR_TASKS,
    hazards=("unit-lines",),
)

TWO_TRACK: Final = Kind(
    name="two-track sensor",
    words=("two-track sensor", "pedal sensor", "throttle pedal", "dual potentiometer"),
    letter="B",
    meaning="two ratiometric tracks in one housing: 1 2 3 first, 4 5 6 second (half the signal); "
    "each ground, signal, supply",
    attributes=(
        *THREE_WIRE.attributes[:3],
        _share("rest 2", lambda a: num(a, "rest") / 2.0, "second track, stopped", JUDGED),
        _share("running 2", lambda a: num(a, "running") / 2.0, "second track, running", JUDGED),
        _share("cranking 2", lambda a: num(a, "cranking") / 2.0, "second, cranking", JUDGED),
        *THREE_WIRE.attributes[3:],
    ),
    pins=("1", "2", "3", "4", "5", "6"),
    states=(KEY,),
    branches=(*_track("1", "2", "3"), *_track("4", "5", "6", mark=" 2", scale=" 2")),
    failures=(
        shorts(
            "drags its supply",
            "3",
            "1",
            "first track drags its supply",
            SEVERITY,
            0.6,
            RATE,
            wet=3.0,
        ),
        shorts(
            "drags its supply 2",
            "6",
            "4",
            "second track drags its supply",
            SEVERITY,
            0.6,
            RATE,
            wet=3.0,
        ),
        Failure(
            name="no signal",
            words="first signal open inside",
            changes=(Series(branch="output", ohm=inf),),
            rate=0.7,
            source=RATE,
            sometimes=0.5,
            moved=3.0,
        ),
        Failure(
            name="no signal 2",
            words="second signal open inside",
            changes=(Series(branch="output 2", ohm=inf),),
            rate=0.7,
            source=RATE,
            sometimes=0.5,
            moved=3.0,
        ),
    ),
    tasks=(
        supply_volts("3", "volts at the first supply pin", "unit-lines", "may-move"),
        supply_volts("2", "volts at the first signal pin", "unit-lines", "may-move"),
        supply_volts("6", "volts at the second supply pin", "unit-lines", "may-move"),
        supply_volts("5", "volts at the second signal pin", "unit-lines", "may-move"),
        unplug("unplug it, watch the 5 V come back"),
    ),
    hazards=("unit-lines", "may-move"),
)
