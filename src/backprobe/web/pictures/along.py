"""The chance along the loom: what share of it sits at which spot, on which stretch, at which end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from backprobe.book.model import Book
from backprobe.defects.model import Atom
from backprobe.shop.predicted import Leading


@dataclass(frozen=True, slots=True, kw_only=True)
class Along:
    """Chances by place. `spread`: somewhere on a section; `spots` by (section, spot); `ends`: in
    the plugs and parts at a place of the loom, by place and part; `off`: not on the loom, by part or wire."""

    spread: Mapping[str, float] = field(default_factory=dict)
    spots: Mapping[tuple[str, str], float] = field(default_factory=dict)
    ends: Mapping[tuple[str, str], float] = field(default_factory=dict)
    off: Mapping[str, float] = field(default_factory=dict)

    def of_section(self, name: str) -> float:
        """All that sits on a section, its ends left out."""
        spots = sum(chance for (section, _), chance in self.spots.items() if section == name)
        return self.spread.get(name, 0.0) + spots


def along(book: Book, suspects: Sequence[Leading]) -> Along:
    """Where on the loom the suspects' faults sit."""
    spread: dict[str, float] = {}
    spots: dict[tuple[str, str], float] = {}
    ends: dict[tuple[str, str], float] = {}
    off: dict[str, float] = {}
    places = {name for section in book.sections.values() for name in (section.a, section.b)}
    for suspect in suspects:
        for atom, chance in suspect.faults:
            left = chance
            for one in atom.places:
                if one.section not in book.sections:
                    continue
                part = chance * one.share
                left -= part
                spot = book.spots.get(one.words)
                if spot is not None and spot.section == one.section:
                    key = (one.section, spot.name)
                    spots[key] = spots.get(key, 0.0) + part
                else:
                    spread[one.section] = spread.get(one.section, 0.0) + part
            if left <= 1e-12:
                continue
            section = next((owner for owner in atom.owners if owner in book.sections), "")
            at = _end(book, atom, places)
            if section:
                spread[section] = spread.get(section, 0.0) + left
            elif at:
                ends[at] = ends.get(at, 0.0) + left
            else:
                name = atom.owners[0] if atom.owners else atom.words
                off[name] = off.get(name, 0.0) + left
    return Along(spread=spread, spots=spots, ends=ends, off=off)


def _end(book: Book, atom: Atom, places: set[str]) -> tuple[str, str] | None:
    """The place of the loom a fault sits at and the part it sits on; None when it is not on it."""
    for owner in atom.owners:
        wire = book.wires.get(owner.removeprefix("wire ")) if owner.startswith("wire ") else None
        for part in (wire.a.part, wire.b.part) if wire else (owner,):
            place = place_of(book, part, places)
            if place:
                return place, owner if wire else part
    return None


def place_of(book: Book, part: str, places: set[str]) -> str:
    """Where on the loom a part is: a place of its own name, or the longest one that its `at` words
    start with; "" when it is not on the loom."""
    if part in places:
        return part
    known = book.parts.get(part)
    where = known.where if known else ""
    fits = [place for place in places if where == place or where.startswith(f"{place} ")]
    return max(fits, key=lambda place: (len(place), place), default="")
