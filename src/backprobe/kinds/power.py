"""Watts, amps and ohms of a load that is one resistance when hot: whichever is printed on it.

Watts are meant at the nominal voltage: ohms = volts x volts / watts.
"""

from __future__ import annotations

from typing import Final

from backprobe.kinds.records import Attribute, Attrs
from backprobe.kinds.usual import JUDGED, PRACTICE, drop, supply_volts
from backprobe.kinds.values import num


def ohm_from_watts(attrs: Attrs) -> float:
    """R = U^2 / P. 12 V 55 W: 2.62 ohm, 4.6 A (Ohm's law)."""
    return num(attrs, "volts") ** 2 / num(attrs, "watts")


def ohm_from_amps(attrs: Attrs) -> float:
    """R = U / I, or U^2 / P when watts were given."""
    if "watts" in attrs:
        return ohm_from_watts(attrs)
    return num(attrs, "volts") / num(attrs, "amps")


def watts(default: float | None, meaning: str, high: float = 5000.0) -> Attribute:
    """Rated watts at the nominal voltage."""
    return Attribute(
        name="watts",
        unit="W",
        default=default,
        low=0.05,
        high=high,
        meaning=meaning,
        source=PRACTICE,
        bare=True,
    )


def amps(default: float, meaning: str, high: float = 500.0) -> Attribute:
    """Rated amperes at the nominal voltage."""
    return Attribute(
        name="amps",
        unit="A",
        default=default,
        low=0.01,
        high=high,
        meaning=meaning,
        source=JUDGED,
        bare=True,
    )


def ohm(default: object, source: str, *, bare: bool = True, high: float = 1e6) -> Attribute:
    """Resistance of the load; follows from watts or amperes when not given."""
    return Attribute(
        name="ohm",
        unit="ohm",
        default=default,  # type: ignore[arg-type]
        low=0.01,
        high=high,
        meaning="resistance",
        source=source,
        bare=bare,
    )


TWO_WIRE: Final = (
    supply_volts("1", "volts at its feed pin, load on"),
    drop("2", "@minus", "drop from its ground pin to battery minus, load on"),
)
