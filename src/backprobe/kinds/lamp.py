"""Lamps: filament and LED."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from backprobe.kinds.power import TWO_WIRE, ohm, ohm_from_watts, watts
from backprobe.kinds.records import (
    Attribute,
    Attrs,
    Branch,
    Bridge,
    Failure,
    Kind,
    Move,
    State,
    Through,
)
from backprobe.kinds.usual import RATE, VOLTS, look, opens, shorts, works
from backprobe.kinds.values import num

TUNGSTEN_HOT: Final = 14.0
"""Resistivity of tungsten at 2800 K over that at 300 K: 79 over 5.65 microhm cm (Jones and Langmuir
1927, from memory)."""


def cold_ohm(attrs: Attrs) -> float:
    """Ohms of a filament without current: a fourteenth of the hot ones. 12 V 55 W: 0.19 ohm."""
    return num(attrs, "ohm") / TUNGSTEN_HOT


WARM: Final[tuple[float, float]] = (0.005, 0.005 * TUNGSTEN_HOT)
LAW: Final = 0.55
LIT: Final[tuple[float, float]] = (0.15, 0.15**LAW)
"""Shares of the rated volts and amperes at which a filament leaves one straight line for the next.
Amperes go with the volts to the power LAW (rerating of incandescent lamps, illuminating
engineers' handbooks, from memory); the lines keep within 20 % of that from 2 % of the volts on."""


def _half_cold(attrs: Attrs) -> float:
    """Half the cold ohms: what every state has in series; the other half is the cold state's own."""
    return num(attrs, "cold") / 2.0


def _warms_at(attrs: Attrs) -> float:
    """Amperes at which a filament begins to glow; a share of the rated ones where its cold ohms
    are not those of tungsten."""
    rated = num(attrs, "volts") / num(attrs, "ohm")
    return min(WARM[0] * num(attrs, "volts") / num(attrs, "cold"), rated * LIT[1] / 2.0)


def _lights_at(attrs: Attrs) -> float:
    return LIT[1] * num(attrs, "volts") / num(attrs, "ohm")


def _warm_ohm(attrs: Attrs) -> float:
    """Slope from where it warms to where it lights, without what is in series."""
    start = _warms_at(attrs)
    rise = LIT[0] * num(attrs, "volts") - start * num(attrs, "cold")
    return max(rise / (_lights_at(attrs) - start), num(attrs, "cold")) - _half_cold(attrs)


def _lit_ohm(attrs: Attrs) -> float:
    """Slope from where it lights to the rated volts, without what is in series."""
    rated = num(attrs, "volts") / num(attrs, "ohm")
    rise = (1.0 - LIT[0]) * num(attrs, "volts")
    return max(rise / (rated - _lights_at(attrs)), num(attrs, "cold")) - _half_cold(attrs)


def _warm_volts(attrs: Attrs) -> float:
    """Volts at which the second line crosses zero current: below zero."""
    return _warms_at(attrs) * (_half_cold(attrs) - _warm_ohm(attrs))


def _lit_volts(attrs: Attrs) -> float:
    """The same of the third line."""
    start = _lights_at(attrs)
    return LIT[0] * num(attrs, "volts") - start * (_lit_ohm(attrs) + _half_cold(attrs))


def _back(formula: Callable[[Attrs], float]) -> Callable[[Attrs], float]:
    return lambda attrs: -formula(attrs)


STEADY: Final = 0.98
"""A filament goes back to the line before a little lower than it left it, or it would flutter."""


def _heats(leaves: str, to: str, at: Callable[[Attrs], float]) -> tuple[Move, ...]:
    """The moves from one straight line to the next and back, and the same with the current the
    other way round."""
    turned = {"cold": "cold", "warm": "warm backwards", "lit": "lit backwards"}
    through = Through(branch="filament")

    def lower(attrs: Attrs) -> float:
        return STEADY * at(attrs)

    there, here = turned[leaves], turned[to]
    return (
        Move(state="heat", leaves=leaves, to=to, quantity=through, above=at, pace=0),
        Move(state="heat", leaves=to, to=leaves, quantity=through, below=lower, pace=0),
        Move(state="heat", leaves=there, to=here, quantity=through, below=_back(at), pace=0),
        Move(state="heat", leaves=here, to=there, quantity=through, above=_back(lower), pace=0),
    )


LAMP: Final = Kind(
    name="lamp",
    words=(
        "lamp",
        "bulb",
        "light",
        "head lamp",
        "headlight",
        "work light",
        "indicator lamp",
        "warning lamp",
        "beacon",
    ),
    letter="E",
    meaning="filament lamp: cold, warm or lit, on a straight line each; pin 1 feed, 2 ground",
    attributes=(
        VOLTS,
        watts(55.0, "rated power", 200.0),
        ohm(ohm_from_watts, "Ohm's law"),
        Attribute(
            name="cold",
            unit="ohm",
            default=cold_ohm,
            low=0.001,
            high=1e5,
            meaning="resistance without current",
            source="tungsten, published resistivities",
        ),
    ),
    pins=("1", "2"),
    aliases={"+": "1", "-": "2", "31": "2", "56a": "1", "56b": "1", "58": "1"},
    states=(
        State(
            name="heat",
            words=("cold", "warm", "lit", "warm backwards", "lit backwards"),
            rest="cold",
            set_by="circuit",
        ),
    ),
    branches=(
        Branch(name="filament", p="1", n="hot", ohm=_half_cold),
        Branch(name="cold", p="hot", n="2", ohm=_half_cold, when={"heat": ("cold",)}),
        *(
            Branch(name=name, p="hot", n="2", ohm=slope, emf=volts, when={"heat": (name,)})
            for name, slope, volts in (
                ("warm", _warm_ohm, _warm_volts),
                ("lit", _lit_ohm, _lit_volts),
                ("warm backwards", _warm_ohm, _back(_warm_volts)),
                ("lit backwards", _lit_ohm, _back(_lit_volts)),
            )
        ),
    ),
    moves=(*_heats("cold", "warm", _warms_at), *_heats("warm", "lit", _lights_at)),
    failures=(
        opens("filament", "blown", 8.0, RATE, sometimes=0.1, moved=2.0, visible=0.8, mend_s=300.0),
        Failure(
            name="shorted",
            words="holder or filament shorted",
            changes=(Bridge(p="1", n="2", ohm=0.05),),
            rate=0.6,
            source=RATE,
            wet=3.0,
            visible=0.5,
        ),
    ),
    tasks=(works("does the lamp light?"), *TWO_WIRE, look("filament whole, holder bright")),
    load="filament",
    hazards=("hot-parts",),
)

LED_LAMP: Final = Kind(
    name="LED lamp",
    words=("LED lamp", "LED light", "LED work light", "LED beacon"),
    letter="E",
    meaning="LED lamp with its driver, taken as a resistance; pin 1 feed, 2 ground",
    attributes=(VOLTS, watts(20.0, "rated power", 500.0), ohm(ohm_from_watts, "Ohm's law")),
    pins=("1", "2"),
    aliases={"+": "1", "-": "2", "31": "2"},
    branches=(Branch(name="driver", p="1", n="2", ohm="ohm"),),
    failures=(
        opens("driver", "dead", 3.0, RATE, sometimes=0.25, hot=2.0, wet=2.0),
        shorts("shorted", "1", "2", "shorted inside", 0.3, 0.8, RATE, wet=3.0),
    ),
    tasks=(works("does the lamp light?"), *TWO_WIRE),
    load="driver",
)
