"""Fills in what wires and parts still lack, and freezes the draft into a book."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from types import MappingProxyType

from backprobe.base.units import show
from backprobe.book.draft import Draft, Hop
from backprobe.book.model import Book, Part, Section, Wire
from backprobe.book.places import CLOSE_S, OPEN_S, UNKNOWN_M, distance, place_of
from backprobe.book.sizes import SIGNAL_M2, size_wires


def complete(draft: Draft, digest: str) -> Book:
    """The finished book: ids, sizes, lengths and minutes filled in, assumptions listed."""
    _ids(draft)
    size_wires(draft)
    _lengths(draft)
    parts = {
        name: _minutes(draft, replace(part, pins=tuple(draft.pins_of(name))))
        for name, part in draft.parts.items()
    }
    sections = {name: _section(draft, section) for name, section in draft.sections.items()}
    return Book(
        machine=draft.machine,
        parts=MappingProxyType(parts),
        wires=MappingProxyType({hop.id: _wire(hop) for hop in draft.hops}),
        sections=MappingProxyType(sections),
        spots=MappingProxyType(draft.spots),
        roles=MappingProxyType(draft.roles),
        groups=MappingProxyType(draft.groups),
        codes=MappingProxyType(draft.codes),
        displays=MappingProxyType(draft.displays),
        functions=MappingProxyType(draft.functions),
        assumptions=tuple(draft.assumptions),
        extras=tuple(draft.extras),
        digest=digest,
    )


def _wire(hop: Hop) -> Wire:
    return Wire(
        id=hop.id,
        name=hop.name,
        a=hop.a,
        b=hop.b,
        area_m2=hop.area_m2 or SIGNAL_M2,
        length_m=hop.length_m or UNKNOWN_M,
        colour=hop.colour,
        stated=hop.stated,
        route=hop.route,
        assumed=hop.assumed,
        origin=hop.origin,
    )


# -- ids ----------------------------------------------------------------------------------


def _ids(draft: Draft) -> None:
    """A wire's id is its printed name; where that repeats or is missing, its ends."""
    names = Counter(hop.name for hop in draft.hops if hop.name)
    taken: Counter[str] = Counter()
    for hop in draft.hops:
        ends = f"{draft.words(hop.a)}-{draft.words(hop.b)}"
        if not hop.name:
            wanted = ends
        elif names[hop.name] == 1:
            wanted = hop.name
        else:
            wanted = f"{hop.name} {ends}"
        taken[wanted] += 1
        hop.id = wanted if taken[wanted] == 1 else f"{wanted} ({taken[wanted]})"
        while hop.id in taken and taken[hop.id] and hop.id != wanted:
            taken[wanted] += 1
            hop.id = f"{wanted} ({taken[wanted]})"


# -- lengths and minutes ------------------------------------------------------------------


def _lengths(draft: Draft) -> None:
    for hop in draft.hops:
        if hop.length_m is not None:
            continue
        if hop.route:
            hop.length_m = sum(draft.sections[name].length_m for name in hop.route)
            continue
        places = [
            draft.parts[end.part].where if end.part in draft.parts else "" for end in (hop.a, hop.b)
        ]
        hop.length_m, because = distance(*places)
        hop.assumed = (*hop.assumed, "length")
        draft.assume(f"wire {hop.id}", show(hop.length_m, "m"), because)


def _minutes(draft: Draft, part: Part) -> Part:
    if part.open_s is not None and part.close_s is not None:
        return part
    found = place_of(part.where)
    if part.open_s is not None:
        open_s, close_s = part.open_s, _rounded(part.open_s * 0.75)
        because = "a place is closed a little faster than it is opened"
    elif found:
        open_s, close_s = found[0].open_s, found[0].close_s
        because = f'its place says "{found[1]}"'
    else:
        open_s, close_s, because = OPEN_S, CLOSE_S, "nothing is known of its place"
    if part.close_s is not None:
        close_s = part.close_s
    if part.kind != "splice":
        draft.assume(part.name, f"open {show(open_s, 's')}, close {show(close_s, 's')}", because)
    return replace(part, open_s=open_s, close_s=close_s)


def _section(draft: Draft, section: Section) -> Section:
    if section.open_s is not None and section.close_s is not None:
        return section
    open_s = 300.0 if section.open_s is None else section.open_s
    close_s = _rounded(open_s * 0.75) if section.close_s is None else section.close_s
    draft.assume(
        f"section {section.name}", f"open {show(open_s, 's')}, close {show(close_s, 's')}",
        "the time to bare it was not typed",
    )  # fmt: skip
    return replace(section, open_s=open_s, close_s=close_s)


def _rounded(seconds: float) -> float:
    return max(30.0, round(seconds / 30.0) * 30.0)
