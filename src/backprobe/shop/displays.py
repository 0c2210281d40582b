"""What the machine's display can show."""

from __future__ import annotations

from backprobe.base.problems import Problem
from backprobe.book.model import Book

BATTERY_MOST = 1.25
"""Volts of a charging system over its nominal ones. Judgement: 15 V of 12 V."""
BEYOND = "say-beyond-display"
WHY_BEYOND = "A mistyped value would accuse the wrong part."


def beyond_display(book: Book, unit: str, name: str, value: float) -> str:
    """The scale of a display ("0 to 1000 kPa") that a value lies so far off that no voltage of the
    machine could put it there; "" when it may be."""
    display = book.displays.get((unit, name))
    if display is None:
        return ""
    slope = display.per_volt
    ends = [
        display.low + (volts - display.low_v) * slope
        for volts in (
            min(0.0, display.low_v),
            max(display.high_v, BATTERY_MOST * book.machine.volts),
        )
    ]
    slack = 0.02 * abs(display.high - display.low)
    if min(ends) - slack <= value <= max(ends) + slack:
        return ""
    return f"{display.low:g} to {display.high:g} {display.measure}"


def beyond_words(unit: str, name: str, value: float, scale: str) -> Problem:
    """What is wrong with a value no display shows."""
    measure = scale.rpartition(" ")[2]
    return Problem(
        slug=BEYOND,
        weight="error",
        at=None,
        what=f"{value:g} {measure} is no value of {name} on the display of {unit}: it can show "
        f"{scale}.",
        why=WHY_BEYOND,
        remedy="Read the display again and type the number as it stands there.",
    )
