"""What a technician fits or holds between two nodes: lamps, jumpers, a tester's own source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import Final

import numpy as np

from backprobe.circuit.net import Floats
from backprobe.kinds.lamp import LAW, TUNGSTEN_HOT


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """Resistance in ohm; `emf` (V) of its own, first end above the second; `fuse`, amperes of the
    fuse in it; `watts` and `volts` of a lamp, else 0."""

    ohm: float
    emf: float = 0.0
    fuse: float = inf
    watts: float = 0.0
    volts: float = 0.0


def _lamp(volts: float, watts: float) -> Fitting:
    """A lamp, hot: U^2 / P (Ohm's law). What it shows while it is not: glowing()."""
    return Fitting(ohm=volts**2 / watts, watts=watts, volts=volts)


RESISTOR: Final = "resistor 1 kohm"
JUMPERS: Final = ("jumper", "fused jumper")
DIODE_TESTER: Final = "diode tester"
FITTINGS: Final[Mapping[str, Fitting]] = {
    "lamp 21 W": _lamp(12.0, 21.0),
    "lamp 55 W": _lamp(12.0, 55.0),
    "lamp 24 V 21 W": _lamp(24.0, 21.0),
    "lamp 24 V 70 W": _lamp(24.0, 70.0),
    RESISTOR: Fitting(ohm=1000.0),
    "jumper": Fitting(ohm=0.03),
    "fused jumper": Fitting(ohm=0.0377, fuse=10.0),
    "booster cable": Fitting(ohm=0.002),
    DIODE_TESTER: Fitting(ohm=3000.0, emf=3.0),
}
"""By the words in a situation. 12 V 21 and 55 W, 24 V 21 and 70 W: bulbs of ordinary lights. Jumper
and cable: judgement; the fused jumper has a 10 A blade fuse, 7.7 mohm. A diode tester sends 1 mA
and has 3 V at most (handheld meters' data sheets, from memory)."""


def lamp_for(volts: float, *, large: bool = False) -> str:
    """The name of the lamp for a machine's voltage: 21 W, or 55 W at 12 V and 70 W at 24 V."""
    if volts < 18.0:
        return "lamp 55 W" if large else "lamp 21 W"
    return "lamp 24 V 70 W" if large else "lamp 24 V 21 W"


def glowing(hot: Floats, feed: float, rated: float) -> tuple[Floats, Floats]:
    """Volts (H,) across a lamp of `rated` volts at its own ohms, and how they go with `hot`, those it
    would have at its hot ohms; the rest of `feed` volts is lost in something that goes by Ohm's law."""
    volts = np.append(0.0, feed * np.geomspace(1e-6, 1.0, POINTS))
    amps = np.minimum(TUNGSTEN_HOT * volts / rated, (volts / rated) ** LAW)
    before = np.divide(feed - volts, amps * rated, out=np.full_like(volts, inf), where=amps > 0.0)
    at_hot = feed / (1.0 + before)
    size = np.abs(hot)
    lost = np.interp(size, at_hot, at_hot - volts, right=0.0)
    steep = 1.0 - (np.interp(size + STEP, at_hot, at_hot - volts, right=0.0) - lost) / STEP
    return np.copysign(size - lost, hot), steep


POINTS: Final = 200
STEP: Final = 1e-3
"""Points of the curve of a lamp, and volts over which its steepness is taken."""
