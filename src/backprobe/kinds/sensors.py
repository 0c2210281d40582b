"""Sensors. Three-wire ones: pin 1 ground, 2 signal, 3 supply.

A ratiometric sensor is a potentiometer behind an output resistance; a switching sensor is its
mean output while the wheel turns; an inductive sensor's alternating signal is written as a steady
voltage of its mean size.
"""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.loads import ohm
from backprobe.kinds.records import (
    SEVERITY,
    Across,
    Attribute,
    Attrs,
    Branch,
    Bridge,
    Failure,
    Kind,
    Lift,
    Move,
    Series,
    State,
    Task,
    Value,
)
from backprobe.kinds.usual import (
    JUDGED,
    KEY,
    LEAK_CELLS,
    PRACTICE,
    RATE,
    look,
    ohms,
    shorts,
    supply_volts,
    unplug,
)
from backprobe.kinds.values import num

_ALIASES: Final = {
    "ground": "1",
    "signal": "2",
    "supply": "3",
    "GND": "1",
    "SIG": "2",
    "VCC": "3",
    "5V": "3",
    "-": "1",
    "S": "2",
    "+": "3",
}
_STOPPED: Final = ("off", "on")
_TURNING: Final = ("crank", "run")


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
    for name, keys in (("rest", _STOPPED), ("cranking", ("crank",)), ("running", ("run",))):
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


_SENSOR_TASKS: Final = (
    supply_volts("3", "volts at the supply pin, key on: 4.8-5.2 V on a 5 V group", "unit-lines"),
    supply_volts("2", "volts at the signal pin, key on", "unit-lines"),
    supply_volts("1", "volts at the ground pin, key on: near 0", "unit-lines"),
    unplug("unplug the sensor, watch the 5 V and the other sensors come back"),
    look("sensor plug dry and locked, pins straight, housing whole"),
)

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
    aliases=_ALIASES,
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
            sometimes=0.3,
            hot=2.0,
        ),
        Failure(
            name="reads low",
            words="drifted, reads low",
            changes=(Lift(branch="output", emf=-0.4),),
            rate=0.3,
            source="sensor erratic .59, from memory of a military handbook; total a judgement",
            sometimes=0.3,
            hot=2.0,
        ),
    ),
    tasks=_SENSOR_TASKS,
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
    aliases=_ALIASES,
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
            when={"key": _STOPPED, "power": ("on",)},
        ),
        Branch(
            name="rest sink",
            p="2",
            n="1",
            ohm=_sink_at_rest,
            when={"key": _STOPPED, "power": ("on",)},
        ),
        Branch(
            name="pulses",
            p="2",
            n="1",
            ohm=200.0,
            row=(("2", 1.0), ("3", -0.5), ("1", -0.5)),
            column=(("2", 1.0), ("3", -0.5), ("1", -0.5)),
            when={"key": _TURNING, "power": ("on",)},
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
    tasks=_SENSOR_TASKS,
    hazards=("unit-lines", "moving-parts"),
)

INDUCTIVE: Final = Kind(
    name="inductive sensor",
    words=(
        "inductive sensor",
        "inductive speed sensor",
        "magnetic pickup",
        "reluctor sensor",
        "inductive crank sensor",
    ),
    letter="B",
    meaning="coil and magnet, makes its own alternating volts when the wheel turns; 2 V steady "
    "stand for its mean size",
    attributes=(
        ohm(860.0, "car makers' manuals at 20 C: 387-473, 486-594, 560-680, 1630-2740 ohm"),
        Attribute(
            name="signal",
            unit="V",
            default=2.0,
            low=0.1,
            high=50.0,
            meaning="mean size of its signal while cranking",
            source=JUDGED,
        ),
    ),
    pins=("1", "2"),
    aliases={"+": "1", "-": "2", "A": "1", "B": "2"},
    states=(KEY,),
    branches=(
        Branch(name="coil", p="1", n="inside", ohm="ohm", warms=True),
        Branch(name="still", p="inside", n="2", ohm=0.01, when={"key": _STOPPED}),
        Branch(name="turning", p="inside", n="2", emf="signal", ohm=0.01, when={"key": _TURNING}),
    ),
    failures=(
        Failure(
            name="open",
            words="coil broken",
            changes=(Series(branch="coil", ohm=inf),),
            rate=1.1,
            source="coil: open .42, short .42: MIL-HDBK-338B; total a judgement",
            sometimes=0.4,
            hot=3.0,
        ),
        shorts("shorted", "1", "2", "coil shorted", 10.0, 0.6, RATE, hot=2.0),
        Failure(
            name="weak",
            words="weak signal (gap, metal dust on the tip)",
            changes=(Lift(branch="turning", emf=lambda a: -0.9 * num(a, "signal")),),
            rate=0.8,
            source=RATE,
            sometimes=0.3,
        ),
        shorts("to body", "1", "@body", "coil touches its housing", 20.0, 0.3, RATE, wet=3.0),
    ),
    tasks=(
        ohms("1", "2", "sensor ohms, unplugged"),
        Task(
            name="works",
            does="works",
            words="does the display show engine speed while cranking?",
            seconds=60.0,
            source=PRACTICE,
            needs="on",
            hazards=("crank-limit",),
        ),
        look("tip clean, gap right, lead not rubbing"),
    ),
    hazards=("moving-parts",),
)


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
                sometimes=0.1,
            ),
        ),
        tasks=(
            supply_volts("1", "volts at the signal pin, key on", "unit-lines"),
            ohms("1", "@minus" if far == "@body" else "2", "sensor ohms, unplugged"),
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

SENSORS: Final = (THREE_WIRE, TWO_TRACK, HALL, INDUCTIVE, THERMISTOR, ONE_WIRE)
