"""The loom of a job as a page: the pictures and the same as a table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from backprobe.book.model import Book
from backprobe.shop.predicted import leading
from backprobe.shop.workshop import JobCard
from backprobe.web.contexts import Said
from backprobe.web.pictures.along import Along, along
from backprobe.web.pictures.loom import WORTH, Loom, fitted
from backprobe.web.pictures.loom_svg import loom_svg, percent
from backprobe.web.where_view import WherePart, where_part

DESK: Final = (1160.0, (900.0, 700.0, 500.0, 360.0, 280.0, 220.0, 180.0, 150.0, 110.0, 80.0, 60.0))
PHONE: Final = (374.0, (320.0, 240.0, 180.0, 130.0, 95.0, 75.0, 60.0, 48.0, 40.0, 32.0, 26.0, 20.0))
"""Room, px, and the scales to try, px of a metre."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceRow:
    """A place of the loom: its section, the place, the chance there."""

    section: str
    place: str
    chance: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomPage:
    """The page; `desk` and `phone` are SVG, "" where the book has no loom. `off`: what sits
    elsewhere; `told`: some place of the loom is suspected; `where`: where along the likeliest wire to
    look."""

    ident: str
    machine: str
    again: str
    working: bool
    book: str = ""
    desk: str = ""
    phone: str = ""
    rows: tuple[PlaceRow, ...] = ()
    off: tuple[Said, ...] = ()
    told: bool = False
    where: WherePart | None = None


def loom_page(card: JobCard) -> LoomPage:
    """The loom of a job whose suspects are known."""
    book = card.job.book
    chances = along(book, leading(card.job))
    desk, phone = (fitted(book, chances, room, metres) for room, metres in (DESK, PHONE))
    title = "Loom with the chance along it"
    has = bool(book.sections)
    rows = _rows(desk, chances)
    return LoomPage(
        ident=card.row.id,
        machine=card.row.machine,
        again="",
        working=False,
        book=card.book_name,
        desk=loom_svg(desk, key="desk", title=title) if has else "",
        phone=loom_svg(phone, key="phone", title=title) if has else "",
        rows=rows,
        told=any(row.chance for row in rows),
        off=_off(book, chances),
        where=where_part(card.job),
    )


def _rows(loom: Loom, chances: Along) -> tuple[PlaceRow, ...]:
    """Every place with its chance, section by section."""
    found: list[PlaceRow] = []
    for row in loom.rows:
        section = row.section
        told = f"{section.name}, {section.a} to {section.b}, {section.length_m:g} m"
        spread = chances.spread.get(section.name, 0.0)
        places = [("somewhere along it", spread)] if spread >= WORTH else []
        places += [(one.words, one.chance) for one in row.named]
        found += [
            PlaceRow(section=told, place=place, chance=percent(chance) if chance >= WORTH else "")
            for place, chance in places or [("", 0.0)]
        ]
    return tuple(found)


def _off(book: Book, chances: Along) -> tuple[Said, ...]:
    """What is suspected but lies in no section."""
    found = []
    for name, chance in sorted(chances.off.items(), key=lambda one: (-one[1], one[0])):
        part = book.parts.get(name)
        where = f"{name}, {part.where}" if part and part.where else name
        if chance >= WORTH:
            found.append(Said(name=where, words=percent(chance)))
    return tuple(found)
