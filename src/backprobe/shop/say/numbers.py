"""Readings as typed and as told: "4.9..0.2 V", "4.7 kohm", "OL". Figures keep their last digit.

Decimal arithmetic, so that what is told is heard as the same number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from math import inf, isinf
from typing import Final

from backprobe.base.units import unit_named

_NUMBER = r"[+-]?\d{1,12}(?:[.,]\d{1,12})?"
VALUE: Final = re.compile(
    rf"(?:^|\s)(?P<one>OL|{_NUMBER})(?:\s*(?:\.\.|…)\s*(?P<to>OL|{_NUMBER}))?"
    r"\s*(?P<unit>(?!OL$)[^\W\d_]+|%)?$",
    re.IGNORECASE,
)
_OL: Final = "ol"
_STEPS: Final[dict[str, tuple[tuple[str, int], ...]]] = {
    "ohm": (("Mohm", 6), ("kohm", 3), ("ohm", 0)),
    "mV": (("mV", -3),),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A reading in SI; `to` when it jumps; `cell` is the last digit's worth."""

    value: float
    to: float | None
    cell: float


def heard(one: str, to: str | None, unit: str) -> Value | None:
    """A reading from its figures; None when the spelling of the unit is unknown."""
    known = unit_named(unit) if unit else None
    if unit and known is None:
        return None
    factor = Decimal(repr(known.factor)) if known else Decimal(1)
    figures = [figure for figure in (one, to) if figure is not None]
    numbers = [None if f.lower() == _OL else Decimal(f.replace(",", ".")) for f in figures]
    cells = [_place(number) * factor for number in numbers if number is not None]
    values = [inf if number is None else float(number * factor) for number in numbers]
    return Value(
        value=values[0],
        to=values[1] if len(values) > 1 else None,
        cell=float(max(cells)) if cells else 0.0,
    )


def _place(number: Decimal) -> Decimal:
    exponent = number.as_tuple().exponent
    return Decimal(1).scaleb(exponent if isinstance(exponent, int) else 0)


def told(value: float, to: float | None, cell: float, unit: str) -> str:
    """A reading with its unit, to its last digit."""
    spelling, power = _spelling(cell, unit)
    places = _places(cell, power)
    figures = [_figure(v, power, places) for v in (value, to) if v is not None]
    text = "..".join(figures)
    return text if set(figures) == {"OL"} or not spelling else f"{text} {spelling}"


def _spelling(cell: float, unit: str) -> tuple[str, int]:
    """The smallest unit in which the last digit is at most one."""
    steps = _STEPS.get(unit, ((unit, 0),))
    return next((s for s in reversed(steps) if cell <= 10.0 ** s[1]), steps[0])


def _places(cell: float, power: int) -> int | None:
    if cell <= 0.0:
        return None
    exponent = Decimal(repr(cell)).normalize().scaleb(-power).as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else None


def _figure(value: float, power: int, places: int | None) -> str:
    if isinf(value):
        return "OL"
    number = Decimal(repr(value)).scaleb(-power)
    if places is not None:
        number = number.quantize(Decimal(1).scaleb(-places))
    text = f"{number:f}"
    return text.removesuffix(".0") if places is None else text
