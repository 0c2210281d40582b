"""The circuit of a job, for a desk and for a phone."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from backprobe.web.pictures.nearby import Marks, nearby
from backprobe.web.pictures.strip import Strip, strip_of
from backprobe.web.pictures.wiring import Link, Wiring

DESK_PARTS: Final = 40
DESK_LINKS: Final = 70
PHONE_PARTS: Final = 10
PHONE_LINKS: Final = 14
PHONE_WIDTH: Final = 380.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Strips:
    """The same neighbourhood twice: whole, and what of it a phone has room for."""

    desk: Strip
    phone: Strip


def strips_of(
    wiring: Wiring, marks: Marks, probes: Iterable[str] = (), around: Iterable[str] = ()
) -> Strips:
    """The drawings of the suspects' neighbourhood. `probes`: places the next check touches;
    `around`: parts and wires to draw in any case."""

    def near(most_parts: int, most_links: int) -> tuple[Link, ...]:
        return nearby(
            wiring, marks, probes=wanted, around=also, most_parts=most_parts, most_links=most_links
        )

    wanted, also = tuple(probes), tuple(around)
    links = near(DESK_PARTS, DESK_LINKS)
    desk = strip_of(wiring, links, marks)
    phone = desk
    for most in range(PHONE_LINKS, 0, -1):
        few = near(PHONE_PARTS, most)
        phone = strip_of(wiring, few, marks, narrow=True)
        if phone.width <= PHONE_WIDTH:
            break
    return Strips(desk=desk, phone=phone)
