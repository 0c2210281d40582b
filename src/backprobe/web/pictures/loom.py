"""The loom as a tree to scale: metres from its trunk to the right, a section in each row.

A section begins under the end of the one it branches from, and its words stand above it, right of
where it begins: so lines never cross and no words lie on one. Spots are named above their section,
the farthest nearest to it, each at the end of a leader of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from backprobe.book.model import Book, Section, WeakSpot
from backprobe.web.pictures.along import Along
from backprobe.web.pictures.text import width

LINE: Final = 17.0
ABOVE: Final = 19.0
"""From the lowest words of a section down to its line, px."""
GAP: Final = 26.0
MARGIN: Final = 14.0
WORDS: Final = 9.0
WORTH: Final = 0.005
"""Sections with less chance are left out unless they join others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """A place named above a section: a spot, or what sits at one of its ends. `kind`: the spot's
    exposure, "plug" or "end"; `y` of its words."""

    x: float
    y: float
    words: str
    chance: float
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A section: from `x0` to `x1` at height `y`, its words above. `whole`: chance on all of it;
    `dense`: its spread chance per metre over that of the densest section, 0 to 1; `up`: height of
    the end it branches from (None: it begins at the trunk's end)."""

    section: Section
    far: str
    x0: float
    x1: float
    y: float
    words: tuple[str, ...]
    words_y: float
    whole: float
    dense: float
    named: tuple[Named, ...]
    up: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Loom:
    """The drawing, px. `root`: the place it begins at; `metre`: px of a metre."""

    root: str
    rows: tuple[Row, ...]
    width: float
    height: float
    metre: float


def fitted(book: Book, chances: Along, room: float, metres: Sequence[float]) -> Loom:
    """The loom at the largest of some scales (px of a metre) at which it has room, px; at the last
    where none does."""
    found = loom_of(book, chances, metre=metres[0], room=room)
    for metre in metres[1:]:
        if found.width <= room + MARGIN:
            break
        found = loom_of(book, chances, metre=metre, room=room)
    return found


def loom_of(book: Book, chances: Along, *, metre: float, room: float) -> Loom:
    """The loom from its busiest place outward. `metre`: px of a metre; `room`: least width of the
    drawing."""
    sections = _shown(book, chances)
    at: dict[str, list[Section]] = {}
    for section in sections:
        at.setdefault(section.a, []).append(section)
        at.setdefault(section.b, []).append(section)
    roots = sorted(at, key=lambda place: -len(at[place]))
    densest = max(
        (chances.spread.get(s.name, 0.0) / max(s.length_m, 0.05) for s in sections), default=0.0
    )
    rows: list[Row] = []
    done: set[str] = set()
    y = MARGIN + 2.0 * LINE
    first = roots[0] if roots else ""
    maker = _Rows(book, chances, metre, densest or 1.0)
    for root in roots:
        todo: list[tuple[str, float, Section, float | None]] = [
            (root, MARGIN, section, None) for section in _ordered(at[root])
        ]
        while todo:
            near, x, section, up = todo.pop(0)
            if section.name in done:
                continue
            done.add(section.name)
            row = maker.row(section, near, x, y, up)
            rows.append(row)
            y = row.y + GAP
            onward = [s for s in _ordered(at[row.far]) if s.name not in done]
            todo = [*((row.far, row.x1, s, row.y) for s in onward), *todo]
    wide = max([room, *(_right(row) for row in rows)])
    return Loom(root=first, rows=tuple(rows), width=wide + MARGIN, height=y, metre=metre)


def _right(row: Row) -> float:
    ends = [row.x1, *(row.x0 + WORDS + width(line, bold=True) for line in row.words)]
    named = (one.x + WORDS + width(f"{one.words}: 99 %", bold=True) for one in row.named)
    badge = row.x0 + WORDS + width(f"{row.words[0]} 99 %", bold=True) + 14.0
    return max([*ends, *named, badge])


def _ordered(sections: Sequence[Section]) -> list[Section]:
    """Short sections first; the book's order decides between equals."""
    return sorted(sections, key=lambda section: section.length_m)


def _shown(book: Book, chances: Along) -> tuple[Section, ...]:
    """Sections that carry a chance, and those that join them; all where none does."""
    wanted = {name for name in book.sections if chances.of_section(name) >= WORTH}
    reached = {place for name in wanted for place in _ends(book.sections[name])}
    for (place, _), chance in chances.ends.items():
        if chance >= WORTH and place not in reached:
            touching = (s for s in book.sections.values() if place in _ends(s))
            wanted.add(next(touching).name)
            reached.add(place)
    kept = dict(book.sections)
    changed = bool(wanted)
    while changed:
        changed = False
        uses: dict[str, int] = {}
        for section in kept.values():
            for place in (section.a, section.b):
                uses[place] = uses.get(place, 0) + 1
        for name, section in list(kept.items()):
            loose = uses[section.a] == 1 or uses[section.b] == 1
            if loose and name not in wanted:
                del kept[name]
                changed = True
    return tuple(kept.values())


def _ends(section: Section) -> tuple[str, str]:
    return (section.a, section.b)


class _Rows:
    def __init__(self, book: Book, chances: Along, metre: float, densest: float) -> None:
        self.book, self.chances, self.metre, self.densest = book, chances, metre, densest
        self.told: set[str] = set()

    def row(self, section: Section, near: str, x: float, y: float, up: float | None) -> Row:
        far = section.b if near == section.a else section.a
        words = (section.name, f"to {far}, {section.length_m:g} m")
        x1 = x + section.length_m * self.metre
        places = self.places(section, near, far)
        first = y + LINE * len(words)
        named = tuple(
            Named(
                x=x + along * self.metre, y=first + LINE * number, words=told, chance=chance,
                kind=kind,
            )
            for number, (along, told, chance, kind) in enumerate(places)
        )  # fmt: skip
        spread = self.chances.spread.get(section.name, 0.0)
        return Row(
            section=section,
            far=far,
            x0=x,
            x1=x1,
            y=first + LINE * (len(named) - 1) + ABOVE,
            words=words,
            words_y=y,
            whole=self.chances.of_section(section.name),
            dense=spread / max(section.length_m, 0.05) / self.densest,
            named=named,
            up=up,
        )

    def places(self, section: Section, near: str, far: str) -> list[tuple[float, str, float, str]]:
        """What is named on a section, nearest first: metres along it, words, chance, kind. What
        sits at its far end belongs to it, at its near end only once for all that begin there."""
        found: list[tuple[float, str, float, str]] = []
        for (place, part), chance in self.chances.ends.items():
            if chance >= WORTH and place not in self.told and place in (near, far):
                known = self.book.parts.get(part)
                kind = "plug" if known and known.kind == "plug" else "end"
                along = section.length_m if place == far else 0.0
                found.append((along, part, chance, kind))
        self.told |= {near, far}
        for spot in self.spots(section):
            along = spot.at_m if near == section.a else section.length_m - spot.at_m
            chance = self.chances.spots.get((section.name, spot.name), 0.0)
            kind = spot.exposure or "spot"
            told = spot.name if kind in spot.name.split() else f"{spot.name}, {kind}"
            found.append((along, f"{told}, {along:.2g} m", chance, kind))
        return sorted(found, key=lambda one: one[0])

    def spots(self, section: Section) -> list[WeakSpot]:
        return [spot for spot in self.book.spots.values() if spot.section == section.name]
