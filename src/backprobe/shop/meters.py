"""What a meter can show on a machine."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import isinf
from typing import Final, NamedTuple

from backprobe.base.problems import Problem
from backprobe.book.model import Book
from backprobe.findings.model import Instrument, Reading

MOST: Final = 3.0
"""Times the machine's nominal volts that no source on it holds long enough for a meter: a load dump
that is clipped reaches 35 V of 12 and 65 V of 24 (ISO 16750-2, from memory), a start from a machine
of twice the volts less."""
MOST_AMPS: Final = 2000.0
"""What the largest clamps for direct current show; a starter takes less. Common practice, no source."""
STEADY: Final[tuple[Instrument, ...]] = ("meter", "low-impedance meter", "lamp", "millivolts")
"""Voltmeters that show what lasts. A peak hold catches the spikes of coils, far above."""
BEEPS: Final[tuple[Instrument, ...]] = ("ohmmeter", "milliohm meter", "beeper")


class Words(NamedTuple):
    """What is wrong with a reading, why it matters, what to do; facts in braces."""

    what: str
    why: str
    remedy: str


TEXTS: Final[Mapping[str, Words]] = {
    "say-beyond-volts": Words(
        "{value} V cannot be read on a {volts} V machine: nothing on it holds more than {most} V.",
        "A mistyped value would accuse the wrong part.",
        "Is the decimal point in its place, or were millivolts meant? Type the number as the meter "
        "shows it.",
    ),
    "say-out-of-range": Words(
        "OL on a range of {unit}: there is more than the range can show.",
        "It says nothing of how much there is.",
        "Turn the meter to the next larger range and read again.",
    ),
    "say-below-nothing": Words(
        "{value} ohm is less than nothing.",
        "An ohmmeter shows that when something drives current through it, or when its leads were set to "
        "zero badly.",
        "Is the key off and the battery minus lifted? Touch the leads together, set them to zero and read "
        "again.",
    ),
    "say-beyond-amps": Words(
        "{value} A cannot be read with a clamp: the largest show {most} A.",
        "A mistyped value would accuse the wrong part.",
        "Is the decimal point in its place, or were milliamperes meant? Type the number as the clamp shows "
        "it.",
    ),
}


def no_such_reading(
    book: Book, value: float, instrument: Instrument = "meter"
) -> tuple[str, dict[str, str]] | None:
    """Why an instrument cannot have shown a value (SI) on a machine: a slug of TEXTS and its facts;
    None when it can."""
    shown = f"{value:g}"
    if instrument in BEEPS:
        return ("say-below-nothing", {"value": shown}) if value < 0.0 else None
    if instrument == "clamp":
        if isinf(value):
            return "say-out-of-range", {"unit": "amperes"}
        beyond = abs(value) > MOST_AMPS
        facts = {"value": shown, "most": f"{MOST_AMPS:g}"}
        return ("say-beyond-amps", facts) if beyond else None
    if isinf(value) and instrument != "diode tester":
        return "say-out-of-range", {"unit": "millivolts" if instrument == "millivolts" else "volts"}
    most = MOST * book.machine.volts
    if instrument in STEADY and abs(value) > most:
        facts = {"value": shown, "volts": f"{book.machine.volts:g}", "most": f"{most:g}"}
        return "say-beyond-volts", facts
    return None


def most_shown(book: Book, instrument: Instrument) -> str:
    """The largest figure such an instrument can show on a machine, V or A; "" where there is none."""
    if instrument == "clamp":
        return f"{MOST_AMPS:g}"
    return f"{MOST * book.machine.volts:g}" if instrument in STEADY else ""


def meter_problem(book: Book, value: float, instrument: Instrument = "meter") -> Problem | None:
    """What is wrong with a value no such instrument shows; None when it may be."""
    found = no_such_reading(book, value, instrument)
    if found is None:
        return None
    slug, facts = found
    words = TEXTS[slug]
    return Problem(
        slug=slug,
        weight="error",
        at=None,
        what=words.what.format(**facts),
        why=words.why,
        remedy=words.remedy,
    )


def beyond_meter(book: Book, reading: Reading) -> Iterator[Problem]:
    """What is wrong with the values of a reading."""
    for value in (reading.value, *(() if reading.to is None else (reading.to,))):
        problem = meter_problem(book, value, reading.instrument)
        if problem is not None:
            yield problem
