"""The circuit of a job, for a desk and for a phone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, TypeVar

from backprobe.web.pictures.fold import folded
from backprobe.web.pictures.nearby import Mark, Marks, nearby
from backprobe.web.pictures.strip import Strip, phone_strip_of, strip_of, whole
from backprobe.web.pictures.wiring import Wiring

DESK_PARTS: Final = 40
DESK_LINKS: Final = 50
PHONE_PARTS: Final = 10
PHONE_LINKS: Final = 14
PHONE_WIDTH: Final = 380.0
SHEET_WIDTH: Final = 350.0
"""A phone's width within the edges of a sheet."""
DESK_WIDTH: Final = 760.0
"""What of a desk's width a folded drawing takes: the table stands beside it."""
DESK_HIGH: Final = 640.0
PHONE_HIGH: Final = 600.0
"""A drawing that is higher is folded where there is room beside it: a screen's height, less what stands
above it."""
WHOLE_WORDS: Final = 4
"""So many wires are left out at most to keep the words of a drawing whole."""
Place = TypeVar("Place", str, tuple[str, str])


@dataclass(frozen=True, slots=True, kw_only=True)
class Strips:
    """The same neighbourhood twice: whole, and what of it a phone has room for."""

    desk: Strip
    phone: Strip


def around_first(wiring: Wiring, marks: Marks, probes: Iterable[str]) -> Strips:
    """The neighbourhood of the leading suspect alone, for a phone and for a column of a sheet."""

    def first(places: Mapping[Place, Mark]) -> dict[Place, Mark]:
        return {place: mark for place, mark in places.items() if mark.number == 1}

    alone = Marks(
        wires=first(marks.wires),
        parts=first(marks.parts),
        contacts=first(marks.contacts),
        lugs=first(marks.lugs),
    )
    phone = _narrow(wiring, alone, tuple(probes), (), SHEET_WIDTH)
    return Strips(desk=phone, phone=phone)


def strips_of(
    wiring: Wiring, marks: Marks, probes: Iterable[str] = (), around: Iterable[str] = ()
) -> Strips:
    """The drawings of the suspects' neighbourhood. `probes`: places the next check touches;
    `around`: parts and wires to draw in any case."""
    wanted, also = tuple(probes), tuple(around)
    links = nearby(
        wiring, marks, probes=wanted, around=also, most_parts=DESK_PARTS, most_links=DESK_LINKS
    )
    desk = folded(strip_of(wiring, links, marks), wide=DESK_WIDTH, high=DESK_HIGH)
    return Strips(desk=desk, phone=_narrow(wiring, marks, wanted, also))


def _narrow(
    wiring: Wiring,
    marks: Marks,
    probes: tuple[str, ...],
    around: tuple[str, ...],
    width: float = PHONE_WIDTH,
) -> Strip:
    """As much as a phone has room for, at least one wire; a little less where that keeps words
    whole."""
    fits: Strip | None = None
    least = 1
    for most in range(PHONE_LINKS, 0, -1):
        few = nearby(
            wiring, marks, probes=probes, around=around, most_parts=PHONE_PARTS, most_links=most
        )
        strip = phone_strip_of(wiring, few, marks, width)
        if strip.width <= width or most == 1:
            if fits is None:
                fits, least = strip, max(1, most - WHOLE_WORDS)
            if whole(strip):
                fits = strip
            if fits is strip or most <= least:
                break
    if fits is None:
        raise AssertionError("PHONE_LINKS is no count of links")
    return folded(fits, wide=width, high=PHONE_HIGH)
