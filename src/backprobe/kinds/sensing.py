"""What sensors share: names of their pins, when the engine turns, where to measure.

Three-wire sensors: pin 1 ground, 2 signal, 3 supply.
"""

from __future__ import annotations

from typing import Final

from backprobe.kinds.usual import look, supply_volts, unplug

ALIASES: Final = {
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

STOPPED: Final = ("off", "on")

TURNING: Final = ("crank", "run")

SENSOR_TASKS: Final = (
    supply_volts("3", "volts at the supply pin, key on: 4.8-5.2 V on a 5 V group", "unit-lines"),
    supply_volts("2", "volts at the signal pin, key on", "unit-lines"),
    supply_volts("1", "volts at the ground pin, key on: near 0", "unit-lines"),
    unplug("unplug the sensor, watch the 5 V and the other sensors come back"),
    look("sensor plug dry and locked, pins straight, housing whole"),
)
