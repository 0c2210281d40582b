"""Stop solenoids with a pull and a hold coil."""

from __future__ import annotations

from typing import Final

from backprobe.kinds.records import Attribute, Branch, Kind
from backprobe.kinds.usual import MODES, VOLTS, ohms, opens, shorts, supply_volts
from backprobe.kinds.values import num

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
