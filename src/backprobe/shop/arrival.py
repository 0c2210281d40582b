"""What is known when a machine comes in, asked in a few minutes, as findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal

from backprobe.book.model import MINUS, Book
from backprobe.book.situations import Situation
from backprobe.checks.scene import key_of
from backprobe.findings.model import (
    AnyFinding,
    CodesFound,
    Condition,
    DisplayRead,
    Failing,
    FuseFound,
    Reading,
    Recalled,
    Works,
)

FUSES: Final = ("fuse", "fusible link", "circuit breaker")
MOST_HOURS: Final = 200_000.0
"""More than any hour meter shows."""
MOST_VOLTS: Final = 40.0
"""More than any battery of a 12 or 24 V machine shows, on the charger too. Judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """The answers. `shown`: values on the display by unit and name, in its own measure, read with the key
    at `shown_key`; `battery`: volts at rest, None when not measured; `fuses` "good" or "blown" by
    name; `works` by function. `recalled`: what the driver says of the failure."""

    codes: tuple[CodesFound, ...] = ()
    shown: Mapping[tuple[str, str], float] = field(default_factory=dict)
    shown_key: Literal["on", "run"] = "on"
    failing: Literal["", "yes", "gone"] = ""
    only_when: tuple[Condition, ...] = ()
    recalled: tuple[Recalled, ...] = ()
    battery: float | None = None
    works: Mapping[str, bool] = field(default_factory=dict)
    fuses: Mapping[str, Literal["good", "blown"]] = field(default_factory=dict)


def battery_of(book: Book) -> str:
    """The machine's battery, "" when the book has none: its plus post is where volts are read."""
    return next((name for name, part in book.parts.items() if part.kind == "battery"), "")


def fuses_of(book: Book) -> tuple[str, ...]:
    """Fuses in the order of the book; what is bolted to the battery comes in that order too."""
    return tuple(name for name, part in book.parts.items() if part.kind in FUSES)


def findings_of(book: Book, arrival: Arrival) -> tuple[AnyFinding, ...]:
    """The answers as findings, the arriving machine's key off at last.

    Key off at last: what the driver recalls says of itself where it is held against the circuit.
    """
    off, run = Situation(key="off"), Situation(key="run")
    found: list[AnyFinding] = list(arrival.codes)
    found += [
        DisplayRead(situation=Situation(key=arrival.shown_key), unit=unit, name=name, value=value)
        for (unit, name), value in arrival.shown.items()
    ]
    found += [Failing(situation=run, answer="only when", condition=c) for c in arrival.only_when]
    if arrival.failing:
        found.append(Failing(situation=run, answer=arrival.failing))
    for name, works in arrival.works.items():
        function = book.functions[name]
        tried = Situation(key=key_of(function), on=frozenset(function.commands))
        found.append(Works(situation=tried, target=name, works=works))
    for fuse, state in arrival.fuses.items():
        found.append(
            FuseFound(situation=off, fuse=fuse, state="looks good" if state == "good" else "blown")
        )
    if arrival.battery is not None and battery_of(book):
        post = f"{battery_of(book)}.+"
        found.append(Reading(situation=off, p=post, n=MINUS, value=arrival.battery))
    return (*found, *(replace(said, situation=off) for said in arrival.recalled))
