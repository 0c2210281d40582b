"""Fuse boxes as the book describes them: which fuse sits in which slot, and what it feeds.

A place that ends in "row 2 slot 3", or in "slot 3", is a slot of a box; fuses whose place says no
more than the box stand beside it in the order of the book.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from backprobe.book.model import End
from backprobe.book.nets import FUSES
from backprobe.checks.layout import Layout

_SLOT: Final = re.compile(
    r"^(?P<box>.+?)(?:\s+row\s+(?P<row>\w+))?\s+slot\s+(?P<slot>\d{1,2})$", re.IGNORECASE
)
MOST_GAPS: Final = 12
"""Slots in a row that the book leaves empty; with more the numbers are none of places."""
PASSED: Final = ("splice", "plug", "ground stud")


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """A slot of a box: its number and the fuse in it, "" for a slot the book leaves empty."""

    number: int
    fuse: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FuseBox:
    """A box: its rows by name ("" for the only one) with their slots in order, and the fuses whose
    slots the book does not say."""

    place: str
    rows: tuple[tuple[str, tuple[Slot, ...]], ...]
    loose: tuple[str, ...]

    @property
    def fuses(self) -> tuple[str, ...]:
        """All fuses of the box."""
        slotted = (slot.fuse for _, slots in self.rows for slot in slots if slot.fuse)
        return (*slotted, *self.loose)


def fuse_boxes(layout: Layout, names: Iterable[str]) -> tuple[FuseBox, ...]:
    """The boxes that hold some fuses, in the order of the book."""
    rows: dict[str, dict[str, dict[int, str]]] = {}
    loose: dict[str, list[str]] = {}
    for name in names:
        place = layout.book.parts[name].where
        match = _SLOT.match(place)
        box = match["box"] if match else place
        row = rows.setdefault(box, {}).setdefault(match["row"] or "", {}) if match else {}
        beside = loose.setdefault(box, [])
        number = int(match["slot"]) if match else 0
        if number < 1 or number in row:
            beside.append(name)
        else:
            row[number] = name
    return tuple(
        FuseBox(
            place=box,
            rows=tuple(
                (row, _slots(by_number))
                for row, by_number in sorted(rows.get(box, {}).items(), key=_in_order)
                if by_number
            ),
            loose=tuple(beside),
        )
        for box, beside in loose.items()
    )


def _in_order(row: tuple[str, object]) -> tuple[int, str]:
    """Numbered rows by their numbers, others by their letters."""
    return (int(row[0]) if row[0].isdigit() else 0, row[0].casefold())


def _slots(by_number: dict[int, str]) -> tuple[Slot, ...]:
    numbers: Iterable[int] = range(1, max(by_number) + 1)
    if max(by_number) - len(by_number) > MOST_GAPS:
        numbers = sorted(by_number)
    return tuple(Slot(number=number, fuse=by_number.get(number, "")) for number in numbers)


def fed_by(layout: Layout, fuse: str) -> tuple[str, ...]:
    """What hangs behind a fuse, nearest first: loads, units, coils, and fuses, beyond which it does
    not look. Switches and contacts are looked through."""
    found: dict[str, None] = {}
    todo, seen = [End(fuse, "2")], set[int]()
    while todo:
        number = layout.net.get(todo.pop(0), -1)
        if number in seen or number < 0:
            continue
        seen.add(number)
        for end in layout.members.get(number, ()):
            part = layout.book.parts.get(end.part)
            if part is None or end.part == fuse or part.kind in PASSED:
                continue
            beyond = [] if part.kind in FUSES else _contacts(layout, end)
            if not beyond or part.kind == "key switch":
                found[part.name] = None
            todo += beyond
    return tuple(found)


def _contacts(layout: Layout, end: End) -> list[End]:
    """The pins a contact of a part joins to one of its pins."""
    kind = layout.kind(end.part)
    branches = kind.branches if kind else ()
    joined = [
        far
        for branch in branches
        if branch.contact
        for near, far in ((branch.p, branch.n), (branch.n, branch.p))
        if near == end.pin
    ]
    return [End(end.part, pin) for pin in dict.fromkeys(joined)]
