"""Attributes and values of a kind: fill in the defaults, work a `Value` out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from backprobe.kinds.records import SEVERITY, SEVERITY_EMF, Attribute, Attrs, Cell, Value


def complete(
    attributes: Iterable[Attribute], typed: Attrs, *, volts: float | None = None
) -> dict[str, float | str]:
    """What was typed, plus the default of every attribute that was not.

    `volts`: the machine's nominal voltage; it is the default of an attribute named "volts".
    A default of None leaves the attribute out. A formula sees everything typed and the
    attributes above it.
    """
    filled: dict[str, float | str] = dict(typed)
    for attribute in attributes:
        if attribute.name in filled or attribute.default is None:
            continue
        if attribute.name == "volts" and volts is not None:
            filled["volts"] = volts
        elif attribute.unit == "word":
            filled[attribute.name] = str(attribute.default)
        else:
            filled[attribute.name] = number(attribute.default, filled)
    return filled


def number(value: Value, attrs: Attrs, severity: Cell | None = None) -> float:
    """A `Value` as a number in SI. `severity`: the severity cell at hand.

    KeyError when the value names an attribute that is not there; ValueError when it asks for a
    severity and none is given.
    """
    if callable(value):
        return value(attrs)
    if isinstance(value, str):
        if value in (SEVERITY, SEVERITY_EMF):
            if severity is None:
                raise ValueError("this value needs a severity")
            return severity.ohm if value == SEVERITY else number(severity.emf, attrs)
        return float(attrs[value])
    return value


def num(attrs: Attrs, name: str) -> float:
    """An attribute as a number; for formulas."""
    return float(attrs[name])


def between(rows: Sequence[tuple[float, float]], at: float) -> float:
    """The second figure of a table of two columns at a first one, on straight lines between rows;
    beyond the table on the line of its nearest two. The first column rises."""
    upper = next((k for k in range(1, len(rows)) if at <= rows[k][0]), len(rows) - 1)
    (x0, y0), (x1, y1) = rows[upper - 1], rows[upper]
    return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
