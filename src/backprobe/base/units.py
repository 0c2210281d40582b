"""Quantities at the edge: read "4.7 kohm" into SI, show SI as a technician writes it."""

from __future__ import annotations

import re
from math import inf, isfinite, isinf, log10, pi
from typing import Final, NamedTuple


class Quantity(NamedTuple):
    """A number in SI and its unit: "ohm", "V", "A", "W", "m", "m2", "s", "kg", "%" (as 0..1), "Pa", "C"
    (degrees Celsius), "Hz", "H", "As", "rpm", or "1" for a bare number."""

    value: float
    unit: str


class Unit(NamedTuple):
    """A way to write a unit: its usual spelling, what it is worth in SI, and of which unit."""

    spelling: str
    factor: float
    si: str


UNITS: Final[tuple[Unit, ...]] = (
    Unit("uohm", 1e-6, "ohm"),
    Unit("mohm", 1e-3, "ohm"),
    Unit("ohm", 1.0, "ohm"),
    Unit("kohm", 1e3, "ohm"),
    Unit("Mohm", 1e6, "ohm"),
    Unit("uV", 1e-6, "V"),
    Unit("mV", 1e-3, "V"),
    Unit("V", 1.0, "V"),
    Unit("kV", 1e3, "V"),
    Unit("uA", 1e-6, "A"),
    Unit("mA", 1e-3, "A"),
    Unit("A", 1.0, "A"),
    Unit("kA", 1e3, "A"),
    Unit("mW", 1e-3, "W"),
    Unit("W", 1.0, "W"),
    Unit("kW", 1e3, "W"),
    Unit("mm", 1e-3, "m"),
    Unit("cm", 1e-2, "m"),
    Unit("m", 1.0, "m"),
    Unit("mm2", 1e-6, "m2"),
    Unit("m2", 1.0, "m2"),
    Unit("ms", 1e-3, "s"),
    Unit("s", 1.0, "s"),
    Unit("min", 60.0, "s"),
    Unit("h", 3600.0, "s"),
    Unit("g", 1e-3, "kg"),
    Unit("kg", 1.0, "kg"),
    Unit("%", 0.01, "%"),
    Unit("Pa", 1.0, "Pa"),
    Unit("kPa", 1e3, "Pa"),
    Unit("MPa", 1e6, "Pa"),
    Unit("mbar", 1e2, "Pa"),
    Unit("bar", 1e5, "Pa"),
    Unit("C", 1.0, "C"),
    Unit("Hz", 1.0, "Hz"),
    Unit("kHz", 1e3, "Hz"),
    Unit("mH", 1e-3, "H"),
    Unit("H", 1.0, "H"),
    Unit("Ah", 3600.0, "As"),
    Unit("As", 1.0, "As"),
    Unit("rpm", 1.0, "rpm"),
)

_ALSO: Final = {
    "Ω": "ohm",
    "ohms": "ohm",
    "R": "ohm",
    "sqmm": "mm2",
    "mm²": "mm2",
    "m²": "m2",
    "sec": "s",
    "secs": "s",
    "seconds": "s",
    "mins": "min",
    "minute": "min",
    "minutes": "min",
    "hour": "h",
    "hours": "h",
    "hr": "h",
    "amp": "A",
    "amps": "A",
    "volt": "V",
    "volts": "V",
    "watt": "W",
    "watts": "W",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
    "°C": "C",
    "degC": "C",
    "percent": "%",
}

_AWG_WORDS: Final = re.compile(r"^(?P<gauge>[1-4]/0|\d{1,2})\s*awg$", re.IGNORECASE)
_NUMBER: Final = re.compile(r"^(?P<number>[+-]?\d{1,15}(?:[.,]\d{1,15})?)\s*(?P<unit>\S*)$")


def _spellings() -> dict[str, Unit]:
    exact = {unit.spelling: unit for unit in UNITS}
    exact |= {other: exact[usual] for other, usual in _ALSO.items()}
    for unit in UNITS:
        if unit.si == "ohm":
            prefix = unit.spelling.removesuffix("ohm")
            exact |= {prefix + sign: unit for sign in ("Ω", "\u2126", "Ohm")}
    micro = {name: unit for name, unit in exact.items() if name.startswith("u")}
    exact |= {
        sign + name[1:]: unit for name, unit in micro.items() for sign in ("\u00b5", "\u03bc")
    }
    return exact


def _blind(exact: dict[str, Unit]) -> dict[str, Unit]:
    """Case-blind spellings, only where a wrong case cannot mean another unit (mohm, Mohm)."""
    meant: dict[str, set[Unit]] = {}
    for spelling, unit in exact.items():
        meant.setdefault(spelling.casefold(), set()).add(unit)
    return {spelling: next(iter(units)) for spelling, units in meant.items() if len(units) == 1}


_EXACT: Final = _spellings()
_BLIND: Final = _blind(_EXACT)


def unit_named(spelling: str) -> Unit | None:
    """The unit a spelling stands for, or None. "mohm" is milliohm, "Mohm" megohm, "MOHM" neither."""
    return _EXACT.get(spelling) or _BLIND.get(spelling.casefold())


def awg_area(gauge: str) -> float:
    """Area in m2 of a solid round wire of an American wire gauge ("18", "2/0").

    ASTM B258: d = 0.127 mm * 92^((36 - n)/39); 1/0 is n = 0, 2/0 is n = -1 and so on.
    """
    n = 1 - int(gauge[0]) if gauge.endswith("/0") else int(gauge)
    diameter: float = 0.127e-3 * 92.0 ** ((36 - n) / 39)
    return pi * diameter**2 / 4


def _scaled(number: float, factor: float) -> float:
    """The product, rounded once: 35 % is 0.35, 0.75 mm2 is 7.5e-07."""
    return number * factor if factor >= 1.0 else number / round(1.0 / factor)


def parse_quantity(text: str) -> Quantity | None:
    """Read a number with its unit; None when either cannot be read.

    A point or a comma marks decimals; the space before the unit may be left out; "AWG" sizes
    become an area. A number alone has the unit "1".
    """
    text = text.strip()
    gauge = _AWG_WORDS.match(text)
    if gauge:
        return Quantity(awg_area(gauge["gauge"]), "m2")
    match = _NUMBER.match(text)
    if not match:
        return None
    number = float(match["number"].replace(",", "."))
    if not match["unit"]:
        return Quantity(number, "1")
    unit = unit_named(match["unit"])
    return Quantity(_scaled(number, unit.factor), unit.si) if unit else None


def tidy_quantity(text: str) -> str | None:
    """The usual spelling of a quantity, digits untouched: "4,7kOhm" gives "4.7 kohm"."""
    text = text.strip()
    gauge = _AWG_WORDS.match(text)
    if gauge:
        return f"{gauge['gauge']} AWG"
    match = _NUMBER.match(text)
    if not match:
        return None
    number = match["number"].replace(",", ".")
    if not match["unit"]:
        return number
    unit = unit_named(match["unit"])
    return f"{number} {unit.spelling}" if unit else None


_SHOWN: Final[dict[str, tuple[tuple[str, float], ...]]] = {
    "ohm": (("mohm", 0.0), ("ohm", 1.0), ("kohm", 1e3), ("Mohm", 1e6)),
    "V": (("mV", 0.0), ("V", 0.1)),
    "A": (("mA", 0.0), ("A", 1.0)),
    "W": (("mW", 0.0), ("W", 1.0), ("kW", 1e3)),
    "m": (("mm", 0.0), ("m", 0.01)),
    "m2": (("mm2", 0.0),),
    "s": (("s", 0.0), ("min", 60.0)),
    "Pa": (("bar", 0.0),),
    "Hz": (("Hz", 0.0), ("kHz", 1e3)),
    "H": (("mH", 0.0), ("H", 1.0)),
    "As": (("Ah", 0.0),),
}
"""The spellings used on screen, each with the value in SI from which it is used."""


def show(value: float, unit: str, digits: int = 3) -> str:
    """A value in SI as a technician writes it: "4.7 kohm", "12.6 V", "0.75 mm2", "85 mA".

    `digits` are significant digits. An infinite resistance is "open".
    """
    if isinf(value):
        return "open" if unit == "ohm" else "no limit" if value > 0 else "no lower limit"
    spelling = unit
    if value != 0 or unit in ("m2", "Pa", "As"):
        for name, least in _SHOWN.get(unit, ()):
            if abs(value) >= least:
                spelling = name
    known = _EXACT.get(spelling)
    number = decimal(value / known.factor if known else value, digits)
    return number if unit in ("1", "") else f"{number} {spelling}"


def decimal(value: float, digits: int = 3) -> str:
    """A number to so many significant digits, never in powers of ten: "0.0047", "1200"."""
    if not isfinite(value):
        return "no limit" if value == inf else "no lower limit" if value == -inf else "no number"
    if value == 0:
        return "0"
    places = digits - 1 - int(log10(abs(value)) // 1)
    text = f"{round(value, places):.{max(0, min(places, 15))}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text
