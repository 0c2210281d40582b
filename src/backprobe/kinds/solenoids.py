"""Coils that move a valve or a plunger: solenoid, PWM valve, injector, stop solenoid, diode."""

from __future__ import annotations

from typing import Final

from backprobe.kinds.loads import amps, ohm, watts
from backprobe.kinds.records import (
    SEVERITY,
    Across,
    Attribute,
    Attrs,
    Branch,
    Kind,
    Move,
    State,
    Through,
)
from backprobe.kinds.usual import (
    JUDGED,
    MODES,
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


def _coil(
    name: str,
    words: tuple[str, ...],
    meaning: str,
    attributes: tuple[Attribute, ...],
    rate: float,
    *hazards: str,
) -> Kind:
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


SOLENOID: Final = _coil(
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

_DUTY: Final = Attribute(
    name="duty",
    unit="%",
    default=0.4,
    low=0.0,
    high=1.0,
    meaning="usual share of time its driver is on; the driver's own setting counts",
    source=JUDGED,
)
_FREQUENCY: Final = Attribute(
    name="frequency",
    unit="Hz",
    default=200.0,
    low=10.0,
    high=20000.0,
    meaning="frequency of its driver; far above what a meter follows, so readings are averages",
    source=JUDGED,
)

PWM_VALVE: Final = _coil(
    "PWM valve",
    (
        "PWM valve",
        "proportional valve",
        "metering valve",
        "suction control valve",
        "rail pressure valve",
        "EGR valve",
    ),
    "valve driven by pulses, taken at the average; pin 1 feed, 2 driver",
    (
        ohm(
            3.0,
            "a car maker's test of a diesel metering valve: 3.2 ohm, +/- 1; rail pressure control "
            "valve of another 0.96-1.16 ohm",
            high=1000.0,
        ),
        _DUTY,
        _FREQUENCY,
    ),
    3.0,
    "high-pressure-fuel",
)

INJECTOR: Final = _coil(
    "injector",
    ("injector", "fuel injector"),
    "solenoid injector; its driver boosts to tens of volts",
    (ohm(0.4, "common-rail solenoid injectors 0.2-0.6 ohm, from memory", high=1e6),),
    2.0,
    "injector-drive",
    "high-pressure-fuel",
)

STOP_SOLENOID: Final = Kind(
    name="stop solenoid",
    words=("stop solenoid", "fuel shut-off solenoid", "shut-off solenoid", "fuel solenoid"),
    letter="M",
    meaning="fuel stop solenoid with two windings: 1 ground, 2 pull-in, 3 hold-in",
    attributes=(
        VOLTS,
        Attribute(
            name="pull in",
            unit="ohm",
            default=lambda a: 0.4 * (num(a, "volts") / 12.0) ** 2,
            low=0.1,
            high=20.0,
            meaning="pull-in winding",
            source="engine maker's manual (12 V): 0.3-0.8 ohm",
        ),
        Attribute(
            name="hold in",
            unit="ohm",
            default=lambda a: 15.5 * (num(a, "volts") / 12.0) ** 2,
            low=2.0,
            high=200.0,
            meaning="hold-in winding",
            source="engine maker's manual (12 V): 15-16 ohm, 0.77 A at 20 C",
        ),
    ),
    pins=("1", "2", "3"),
    aliases={"ground": "1", "pull": "2", "hold": "3", "31": "1"},
    branches=(
        Branch(name="pull-in", p="2", n="1", ohm="pull in", warms=True),
        Branch(name="hold-in", p="3", n="1", ohm="hold in", warms=True),
    ),
    failures=(
        opens("hold-in", "hold-in winding broken", 1.5, MODES, hot=2.0),
        shorts("to ground", "2", "1", "pull-in winding shorted", 0.05, 1.0, MODES, hot=2.0),
    ),
    tasks=(
        supply_volts("3", "volts at the hold-in pin, key on"),
        ohms("3", "1", "hold-in ohms, unplugged"),
        ohms("2", "1", "pull-in ohms, unplugged"),
    ),
    load="hold-in",
    hazards=("moving-parts",),
)

DIODE: Final = Kind(
    name="diode",
    words=("diode", "blocking diode", "free-wheel diode"),
    letter="R",
    meaning="diode: conducts from pin 1 (anode) to pin 2 (cathode, the ring)",
    attributes=(
        Attribute(
            name="forward",
            unit="V",
            default=0.65,
            low=0.1,
            high=3.0,
            meaning="forward voltage",
            source="silicon diode, textbook 0.6-0.7 V",
        ),
        amps(3.0, "rated current; its rise of 0.3 V there gives the slope", 500.0),
    ),
    pins=("1", "2"),
    aliases={"A": "1", "K": "2", "anode": "1", "cathode": "2"},
    states=(
        State(name="junction", words=("blocking", "conducting"), rest="blocking", set_by="circuit"),
    ),
    branches=(
        Branch(
            name="junction",
            p="1",
            n="2",
            emf="forward",
            ohm=lambda a: 0.3 / num(a, "amps"),
            when={"junction": ("conducting",)},
        ),
    ),
    moves=(
        Move(
            state="junction",
            leaves="blocking",
            to="conducting",
            quantity=Across(p="1", n="2"),
            above="forward",
            pace=0,
        ),
        Move(
            state="junction",
            leaves="conducting",
            to="blocking",
            quantity=Through(branch="junction"),
            below=-1e-6,
            pace=0,
        ),
    ),
    failures=(
        opens("junction", "open", 0.8, RATE, sometimes=0.15),
        shorts("shorted", "1", "2", "shorted through", 0.02, 1.0, RATE),
    ),
    tasks=(
        drop("1", "2", "drop across the diode, load on: 0.5-0.9 V"),
        ohms("1", "2", "diode test, unplugged: one way only"),
    ),
)

SOLENOIDS: Final = (SOLENOID, PWM_VALVE, INJECTOR, STOP_SOLENOID, DIODE)
