"""The form that starts a job: its fields, and what was typed into them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, cast

from backprobe.base.units import parse_quantity
from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.findings.model import AnyFinding, CodesFound, Condition, Failing
from backprobe.web.codes import in_one_line, listed
from backprobe.web.contexts import Choice, Oops, StartPage, UnitFields
from backprobe.web.sheet import CONDITIONS

FAILING: Final = (
    Choice(value="yes", words="Yes, failing now"),
    Choice(value="gone", words="No, gone now"),
    Choice(value="", words="Not known yet"),
)
MOST_HOURS: Final = 200_000.0
LONGEST: Final = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """A form that can be used."""

    complaint: str
    serial: str
    hours: float | None
    findings: tuple[AnyFinding, ...]


def units_of(book: Book) -> tuple[str, ...]:
    """Units that set codes, in the order of the book."""
    return tuple(dict.fromkeys(unit for unit, _ in book.codes))


def start_page(
    name: str,
    book: Book,
    typed: Mapping[str, str],
    once: str,
    wrong: Mapping[str, tuple[Oops, ...]],
) -> StartPage:
    """The form with what was typed; `wrong` by field."""
    now = typed.get("failing", "")
    conditions = [key for key in typed if key.startswith("when-")]
    hours = wrong.get("hours", ())
    return StartPage(
        book=name,
        machine=book.machine.name,
        once=once,
        complaint=typed.get("complaint", ""),
        serial=typed.get("serial", ""),
        hours=typed.get("hours", ""),
        hours_oops=hours[0] if hours else None,
        units=tuple(
            UnitFields(
                key=f"u{number}",
                unit=unit,
                active=typed.get(f"u{number}-active", ""),
                stored=typed.get(f"u{number}-stored", ""),
                whole=not typed or f"u{number}-whole" in typed,
                oops=wrong.get(f"u{number}", ()),
            )
            for number, unit in enumerate(units_of(book))
        ),
        failing=tuple(replace(choice, chosen=choice.value == now) for choice in FAILING),
        conditions=tuple(
            replace(choice, chosen=f"when-{choice.value}" in conditions) for choice in CONDITIONS
        ),
    )


def read_start(book: Book, typed: Mapping[str, str]) -> Start | dict[str, tuple[Oops, ...]]:
    """What the form says, or what is wrong with it by field."""
    wrong: dict[str, tuple[Oops, ...]] = {}
    hours = _hours(typed.get("hours", ""))
    if isinstance(hours, Oops):
        wrong["hours"] = (hours,)
    findings: list[AnyFinding] = []
    for number, unit in enumerate(units_of(book)):
        found = _codes(book, unit, typed, f"u{number}")
        if isinstance(found, dict):
            wrong |= found
        elif found is not None:
            findings.append(found)
    findings += _failing(typed)
    if wrong:
        return wrong
    return Start(
        complaint=typed.get("complaint", "").strip()[:LONGEST],
        serial=typed.get("serial", "").strip()[:80],
        hours=None if isinstance(hours, Oops) else hours,
        findings=tuple(findings),
    )


def _hours(text: str) -> float | Oops | None:
    text = text.strip().removesuffix("h").strip()
    if not text:
        return None
    found = parse_quantity(text)
    if found is None or found.unit != "1" or not 0.0 <= found.value <= MOST_HOURS:
        return Oops(
            what=f"“{text[:40]}” is no reading of an hour meter.",
            remedy="Type the hours as a number, for instance 1312,5 or 2874.",
        )
    return found.value


def _codes(
    book: Book, unit: str, typed: Mapping[str, str], key: str
) -> CodesFound | dict[str, tuple[Oops, ...]] | None:
    """The code list of a unit; None when nothing was typed and the list is not said to be whole."""
    active, stored = typed.get(f"{key}-active", ""), typed.get(f"{key}-stored", "")
    whole = f"{key}-whole" in typed
    if not in_one_line(active) and not in_one_line(stored):
        return None
    found = listed(book, unit, active, stored, whole=whole)
    return found if isinstance(found, CodesFound) else {key: found}


def _failing(typed: Mapping[str, str]) -> list[AnyFinding]:
    situation = Situation(key="run")
    found: list[AnyFinding] = [
        Failing(situation=situation, answer="only when", condition=cast("Condition", choice.value))
        for choice in CONDITIONS
        if f"when-{choice.value}" in typed
    ]
    answer = typed.get("failing", "")
    if answer == "yes":
        found.append(Failing(situation=situation, answer="yes"))
    elif answer == "gone":
        found.append(Failing(situation=situation, answer="gone"))
    return found
