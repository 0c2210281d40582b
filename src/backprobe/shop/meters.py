"""What a meter can show on a machine."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from backprobe.base.problems import Problem
from backprobe.book.model import Book
from backprobe.findings.model import Instrument, Reading

MOST: Final = 3.0
"""Times the machine's nominal volts that no source on it holds long enough for a meter: a load dump
that is clipped reaches 35 V of 12 and 65 V of 24 (ISO 16750-2, from memory), a start from a machine
of twice the volts less."""
STEADY: Final[tuple[Instrument, ...]] = ("meter", "low-impedance meter", "lamp", "millivolts")
"""Voltmeters that show what lasts. A peak hold catches the spikes of coils, far above."""
BEYOND_VOLTS: Final = "say-beyond-volts"


def beyond_volts(book: Book, value: float, instrument: Instrument = "meter") -> float | None:
    """The most volts, either way round, that a voltmeter can show on a machine, where a value lies
    beyond; None when it may be."""
    most = MOST * book.machine.volts
    return most if instrument in STEADY and abs(value) > most else None


def volts_words(book: Book, value: float, most: float) -> Problem:
    """What is wrong with a value no voltmeter shows."""
    return Problem(
        slug=BEYOND_VOLTS,
        weight="error",
        at=None,
        what=f"{value:g} V cannot be read on a {book.machine.volts:g} V machine: nothing on it holds "
        f"more than {most:g} V.",
        why="A mistyped value would accuse the wrong part.",
        remedy="Is the decimal point in its place, or were millivolts meant? Type the number as the "
        "meter shows it.",
    )


def beyond_meter(book: Book, reading: Reading) -> Iterator[Problem]:
    """What is wrong with the values of a reading."""
    for value in (reading.value, *(() if reading.to is None else (reading.to,))):
        most = beyond_volts(book, value, reading.instrument)
        if most is not None:
            yield volts_words(book, value, most)
