"""The form that starts a job: its fields, and what was typed into them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal, cast

from backprobe.base.units import parse_quantity
from backprobe.book.model import Book
from backprobe.checks.layout import layout_of
from backprobe.findings.model import AnyFinding, CodesFound, Condition, Recalled
from backprobe.kinds import KINDS
from backprobe.shop.arrival import (
    MOST_HOURS,
    MOST_VOLTS,
    Arrival,
    battery_of,
    findings_of,
    fuses_of,
)
from backprobe.shop.pointing import worth_asking
from backprobe.shop.recordings import Heard
from backprobe.web import intake_photos, intake_values
from backprobe.web.codes import in_one_line, listed, oops_of, pasted
from backprobe.web.contexts import Choice, Oops
from backprobe.web.fuse_view import STATES, asked_boxes, field_of
from backprobe.web.sheet import CONDITIONS
from backprobe.web.start_contexts import Asked, SeenView, StartPage, UnitFields

FAILING: Final = (
    Choice(value="yes", words="Failing now"),
    Choice(value="gone", words="Gone now"),
    Choice(value="", words="?"),
)
DISPLAY: Final = (
    Choice(value="display stayed on", words="Stayed on"),
    Choice(value="display went out", words="Went out"),
    Choice(value="display faded", words="Faded"),
    Choice(value="", words="?"),
)
RESTART: Final = (
    Choice(value="started again", words="Yes"),
    Choice(value="did not start again", words="No"),
    Choice(value="", words="?"),
)
BEFORE: Final = (
    Choice(value="wash", words="Wash"),
    Choice(value="storage", words="Storage"),
    Choice(value="repair", words="Repair"),
    Choice(value="boost", words="Boost start"),
)
WORKS: Final = (Choice(value="yes", words="Works"), Choice(value="no", words="Dead"))
NOT_SAID: Final = Choice(value="", words="?")
MOST_FUSES: Final = 60
LONGEST: Final = 2000
NO_BOOK: Final = "generic"
"""The book a machine without one is worked on: what nearly every machine has."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """A form that can be used. `machine`: its name, "" for that of the book."""

    machine: str
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
    *,
    seen: Sequence[SeenView] = (),
    recording: Sequence[str] = (),
) -> StartPage:
    """The form with what was typed; `wrong` by field; `seen`: jobs on machines like it;
    `recording`: what a recording said, in lines."""
    machine = "" if name == NO_BOOK else book.machine.name
    layout, fuses = layout_of(book, KINDS), fuses_of(book)[:MOST_FUSES]
    works = works_asked(book, typed)
    photos = intake_photos.fields(typed, photo_owners(book, works), wrong)
    shown = intake_values.fields(book, typed, wrong)
    return StartPage(
        book=name,
        machine=machine or typed.get("machine", ""),
        bookless=name == NO_BOOK,
        once=once,
        complaint=typed.get("complaint", ""),
        serial=typed.get("serial", ""),
        hours=typed.get("hours", ""),
        hours_oops=_first(wrong, "hours"),
        battery=typed.get("battery", ""),
        battery_oops=_first(wrong, "battery"),
        battery_asked=bool(battery_of(book)),
        units=tuple(
            UnitFields(
                key=f"u{number}",
                unit=unit,
                active=typed.get(f"u{number}-active", ""),
                stored=typed.get(f"u{number}-stored", ""),
                whole="once" not in typed or f"u{number}-whole" in typed,
                oops=wrong.get(f"u{number}", ()),
            )
            for number, unit in enumerate(units_of(book))
        ),
        shown=shown,
        shown_open=any(one.typed for one in shown),
        engine=intake_values.engine(typed),
        failing=_chosen(FAILING, typed.get("failing", "")),
        conditions=_ticked(CONDITIONS, "when", typed),
        display=_chosen(DISPLAY, typed.get("display", "")),
        restart=_chosen(RESTART, typed.get("restart", "")),
        before=_ticked(BEFORE, "before", typed),
        works=works,
        photos=photos,
        photos_open=any(one.kept or one.oops for one in photos),
        fuses=asked_boxes(layout, fuses, typed),
        fuse_count=len(fuses),
        seen=tuple(seen),
        recording=tuple(recording),
        recording_oops=wrong.get("recording", ()),
    )


def works_asked(book: Book, typed: Mapping[str, str]) -> tuple[Asked, ...]:
    """Does it work? Most telling first for what was typed so far; what was answered stays."""
    read = (_codes(book, unit, typed, f"u{k}") for k, unit in enumerate(units_of(book)))
    codes = [found for found in read if isinstance(found, CodesFound)]
    complaint = typed.get("complaint", "")[:LONGEST]
    names = [one.name for one in worth_asking(layout_of(book, KINDS), complaint, codes)]
    names += [name for name in book.functions if typed.get(f"w-{name}") and name not in names]
    return _asked(names, "w", WORKS, typed)


def photo_owners(book: Book, works: Sequence[Asked]) -> tuple[Choice, ...]:
    """What a photo of the form may belong to: the job, or the finding a field becomes."""
    battery = [Choice(value="battery", words="battery volts")] if battery_of(book) else []
    return (
        Choice(value="", words="the job"),
        *(Choice(value=f"codes-{unit}", words=f"codes of {unit}") for unit in units_of(book)),
        *battery,
        *(Choice(value=one.field, words=one.name) for one in works),
        *(Choice(value=field_of(f), words=f) for f in fuses_of(book)[:MOST_FUSES]),
    )


def read_start(
    name: str, book: Book, typed: Mapping[str, str]
) -> Start | dict[str, tuple[Oops, ...]]:
    """What the form says, or what is wrong with it by field."""
    wrong: dict[str, tuple[Oops, ...]] = {}
    hours = _number(typed.get("hours", ""), "h", MOST_HOURS, HOURS)
    battery = _number(typed.get("battery", ""), "V", MOST_VOLTS, VOLTS)
    for field, value in (("hours", hours), ("battery", battery)):
        if isinstance(value, Oops):
            wrong[field] = (value,)
    shown, unfit = intake_values.read(book, typed)
    wrong |= unfit
    codes: list[CodesFound] = []
    for number, unit in enumerate(units_of(book)):
        found = _codes(book, unit, typed, f"u{number}")
        if isinstance(found, dict):
            wrong |= found
        elif found is not None:
            codes.append(found)
    if wrong:
        return wrong
    arrival = Arrival(
        codes=tuple(codes),
        shown=shown,
        shown_key=intake_values.key_of(typed),
        failing=cast("Literal['', 'yes', 'gone']", _one_of(FAILING, typed.get("failing", ""))),
        only_when=tuple(
            cast("Condition", c.value) for c in CONDITIONS if f"when-{c.value}" in typed
        ),
        recalled=_recalled(typed),
        battery=None if isinstance(battery, Oops) else battery,
        works={
            asked.name: said == "yes"
            for asked in _asked(tuple(book.functions), "w", WORKS, typed)
            if (said := _one_of(WORKS, typed.get(asked.field, "")))
        },
        fuses={
            fuse: "good" if said == "good" else "blown"
            for fuse in fuses_of(book)[:MOST_FUSES]
            if (said := _one_of(STATES, typed.get(field_of(fuse), "")))
        },
    )
    return Start(
        machine=typed.get("machine", "").strip()[:80] if name == NO_BOOK else "",
        complaint=typed.get("complaint", "").strip()[:LONGEST],
        serial=typed.get("serial", "").strip()[:80],
        hours=None if isinstance(hours, Oops) else hours,
        findings=findings_of(book, arrival),
    )


def with_recording(
    book: Book, typed: Mapping[str, str], heard: Heard
) -> tuple[dict[str, str], tuple[str, ...], tuple[Oops, ...]]:
    """The form with the codes of a recording filled in, what it said in lines, what is wrong.

    With one unit in the book and one sender in the recording they belong together. Otherwise the
    lists are only shown: which sender is which unit is for a person to say.
    """
    filled, lines = dict(typed), []
    units = units_of(book)
    for sender in heard.units:
        active = " ".join(code.code for code in sender.active if code.at_end)
        old = [code.code for code in (*sender.stored, *sender.active)]
        stored = " ".join(dict.fromkeys(code for code in old if code not in active.split()))
        lines.append(
            f"Sender {sender.source}: active {active or 'none'}"
            f"{f'; stored or gone at the end {stored}' if stored else ''}."
        )
        if len(units) == len(heard.units) == 1:
            known = {code for unit, code in book.codes if unit == units[0]}
            filled["u0-active"] = _known(active, known) or "none"
            filled["u0-stored"] = _known(stored, known)
    problems = tuple(oops_of(problem) for problem in heard.problems)
    if not heard.units and not problems:
        lines.append("No unit sent a code list in this recording.")
    return filled, tuple(lines), problems


def _known(codes: str, known: set[str]) -> str:
    """Codes as they may be typed: one that the book lacks goes in quotes."""
    return " ".join(code if code in known else f'"{code}"' for code in codes.split())


def _first(wrong: Mapping[str, tuple[Oops, ...]], field: str) -> Oops | None:
    return next(iter(wrong.get(field, ())), None)


def _chosen(choices: Sequence[Choice], value: str) -> tuple[Choice, ...]:
    return tuple(replace(choice, chosen=choice.value == value) for choice in choices)


def _ticked(choices: Sequence[Choice], field: str, typed: Mapping[str, str]) -> tuple[Choice, ...]:
    return tuple(replace(c, chosen=f"{field}-{c.value}" in typed) for c in choices)


def _one_of(choices: Sequence[Choice], value: str) -> str:
    return value if any(choice.value == value for choice in choices) else ""


def _asked(
    names: Sequence[str],
    field: str,
    choices: Sequence[Choice],
    typed: Mapping[str, str],
) -> tuple[Asked, ...]:
    """One question for each name, its field named after it."""
    return tuple(
        Asked(
            field=f"{field}-{name}",
            name=name,
            words=name[:1].upper() + name[1:],
            choices=_chosen((*choices, NOT_SAID), typed.get(f"{field}-{name}", "")),
        )
        for name in names
    )


def _recalled(typed: Mapping[str, str]) -> tuple[Recalled, ...]:
    """What the driver says of the failure."""
    said = [f"after {_lower(c.words)}" for c in BEFORE if f"before-{c.value}" in typed]
    said += [_one_of(DISPLAY, typed.get("display", "")), _one_of(RESTART, typed.get("restart", ""))]
    return tuple(Recalled(what=what) for what in said if what)  # type: ignore[arg-type]


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]


HOURS: Final = (
    "“{}” is no reading of an hour meter.",
    "Type the hours as a number, for instance 1312,5 or 2874.",
)
VOLTS: Final = (
    "“{}” is no battery voltage.",
    "Type the volts at the posts, key off, for instance 12,4.",
)


def _number(text: str, unit: str, most: float, said: tuple[str, str]) -> float | Oops | None:
    text = text.strip()
    if not text:
        return None
    bare = text.removesuffix(unit).removesuffix(unit.lower()).strip()
    found = parse_quantity(bare)
    if found is None or found.unit != "1" or not 0.0 <= found.value <= most:
        return Oops(what=said[0].format(text[:40]), remedy=said[1])
    return found.value


def _codes(
    book: Book, unit: str, typed: Mapping[str, str], key: str
) -> CodesFound | dict[str, tuple[Oops, ...]] | None:
    """The code list of a unit; None when nothing was typed and the list is not said to be whole."""
    active, also = pasted(book, unit, typed.get(f"{key}-active", ""))
    stored = " ".join(filter(None, (also, *pasted(book, unit, typed.get(f"{key}-stored", "")))))
    whole = f"{key}-whole" in typed
    if not in_one_line(active) and not in_one_line(stored):
        return None
    found = listed(book, unit, active, stored, whole=whole)
    return found if isinstance(found, CodesFound) else {key: found}
