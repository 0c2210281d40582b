"""Fuse boxes as the pages draw them: slots in their rows, what was found of each fuse."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from typing import Final

from backprobe.checks.fuse_boxes import FuseBox, Slot, fed_by, fuse_boxes
from backprobe.checks.layout import Layout
from backprobe.checks.model import Check
from backprobe.checks.wording import listed
from backprobe.findings.model import AnyFinding, FuseFound
from backprobe.shop.arrival import fuses_of
from backprobe.web.contexts import BoxRow, BoxView, Choice, SlotView

NOT_LOOKED: Final = Choice(value="", words="not looked")
STATES: Final = (
    NOT_LOOKED,
    Choice(value="good", words="good"),
    Choice(value="blown", words="blown"),
)
FOUND: Final[Mapping[str, str]] = {
    "looks good": "good", "ohms good": "good", "hot both sides": "good", "held": "good",
    "hot one side": "blown", "blown": "blown", "blew": "blown",
}  # fmt: skip
"""What a finding says of a fuse, in one word."""
MOST_FED: Final = 5


def asked_boxes(
    layout: Layout, names: Iterable[str], typed: Mapping[str, str]
) -> tuple[BoxView, ...]:
    """The boxes of some fuses, each to be said good or blown; `typed`: the form as it came in."""
    states = {
        name: typed.get(field_of(name), "")
        for name in names
        if any(choice.value == typed.get(field_of(name), "") for choice in STATES)
    }
    return tuple(_box(layout, box, states, asked=True) for box in fuse_boxes(layout, names))


def field_of(fuse: str) -> str:
    """The form field of a fuse."""
    return f"f-{fuse}"


def checked_boxes(
    layout: Layout, check: Check, findings: Iterable[AnyFinding]
) -> tuple[BoxView, ...]:
    """The boxes with a fuse that a check is at, that fuse marked, and what was found so far."""
    at = _fuses_at(layout, check)
    if not at:
        return ()
    states = {one.fuse: FOUND[one.state] for one in findings if isinstance(one, FuseFound)}
    return tuple(
        _box(layout, box, states, at=at)
        for box in fuse_boxes(layout, fuses_of(layout.book))
        if at.intersection(box.fuses)
    )


def _fuses_at(layout: Layout, check: Check) -> set[str]:
    """Fuses that are looked at, pulled or touched with a lead."""
    touched = (
        [layout.touch.get(node) for node in (check.probe.p, check.probe.n)] if check.probe else []
    )
    named = {check.target, *check.situation.pulled, *(touch.part for touch in touched if touch)}
    return named.intersection(fuses_of(layout.book))


def _box(
    layout: Layout,
    box: FuseBox,
    states: Mapping[str, str],
    *,
    at: Collection[str] = (),
    asked: bool = False,
) -> BoxView:
    def slot(one: Slot, row: str) -> SlotView:
        if not one.fuse:
            return SlotView(number=str(one.number))
        where = f"{f'row {row} ' if row else ''}slot {one.number}" if one.number else ""
        state = states.get(one.fuse, "")
        fed = fed_by(layout, one.fuse)
        more = len(fed) - MOST_FED
        feeds = listed((*fed[:MOST_FED], f"{more} more") if more > 0 else fed)
        amps = layout.book.value(one.fuse, "amps")
        rating = f"{amps:g} A" if isinstance(amps, float) else ""
        named = f"{one.fuse} {rating}".rstrip()
        return SlotView(
            number=str(one.number or ""),
            fuse=one.fuse,
            rating=rating,
            feeds=feeds,
            where=where,
            name=", ".join(filter(None, (named, where, feeds and f"feeds {feeds}"))),
            field=field_of(one.fuse),
            state=next(choice.words for choice in STATES if choice.value == state),
            looked=bool(state),
            choices=tuple(replace(c, chosen=c.value == state) for c in STATES) if asked else (),
            here=one.fuse in at,
        )

    rows = [
        BoxRow(
            name=f"Row {row}" if row else "",
            slots=tuple(slot(one, row) for one in slots),
            loose=False,
        )
        for row, slots in box.rows
    ]
    if box.loose:
        beside = tuple(slot(Slot(number=0, fuse=name), "") for name in box.loose)
        rows.append(BoxRow(name="", slots=beside, loose=True))
    return BoxView(
        place=f"{box.place[:1].upper()}{box.place[1:]}" or "Place not in the book", rows=tuple(rows)
    )
