"""The suspects' neighbourhood: the wires on the ways from feed to ground that lead through them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from heapq import heappop, heappush
from typing import Final, Literal

from backprobe.book.model import BODIES, MINUS
from backprobe.web.pictures.wiring import Link, Node, Wiring

STEP: Final = 1.0
RANK: Final = 0.25
"""A suspect four places further down counts as one wire further away."""
PROBE: Final = 0.75
"""A place to probe, likewise."""
BESIDE: Final = 4.0
"""The lower pins of a suspected part, against its upper ones."""
ASIDE: Final = 1.5
"""Every further way at a fork puts all of them further away."""
UP_A_BODY: Final = 9.0
"""What else is bolted to a body is far away: its current passes a suspected strap, no more."""
FAR: Final = 13.0
STUD: Final = "ground stud"
Way = Literal["up", "down"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A suspect in the picture: its place among the suspects and its chance."""

    number: int
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """What is suspected, strongest suspect first. `contacts` by (part, pin), `lugs` by (part,
    wire)."""

    wires: Mapping[str, Mark] = field(default_factory=dict)
    parts: Mapping[str, Mark] = field(default_factory=dict)
    contacts: Mapping[tuple[str, str], Mark] = field(default_factory=dict)
    lugs: Mapping[tuple[str, str], Mark] = field(default_factory=dict)


def nearby(
    wiring: Wiring,
    marks: Marks,
    *,
    probes: Iterable[str] = (),
    around: Iterable[str] = (),
    most_parts: int,
    most_links: int,
) -> tuple[Link, ...]:
    """Links to draw, the nearest to the suspects first, with at most so many parts and links.

    From a suspect the way leads up to the feed and down to the ground, never sideways into another
    circuit. It ends at control units, studs and bodies, unless one of these is suspected. `probes`:
    places for a meter that are to be seen; `around`: parts and wires that are, suspected or not.
    """
    seeds = _seeds(wiring, marks, tuple(probes)) | _around(wiring, frozenset(around))
    best: dict[str, float] = {}
    seen: set[tuple[str, Way]] = set()
    todo: list[tuple[float, int, str, Way]] = []
    order = {ident: number for number, ident in enumerate(wiring.links)}
    for ident, cost in seeds.items():
        heappush(todo, (cost, order[ident], ident, "up"))
        heappush(todo, (cost, order[ident], ident, "down"))
    while todo:
        cost, _, ident, way = heappop(todo)
        if (ident, way) in seen:
            continue
        seen.add((ident, way))
        best[ident] = min(cost, best.get(ident, cost))
        link = wiring.links[ident]
        for other, step in _onward(wiring, link, way, seed=ident in seeds):
            if cost + step <= FAR:
                heappush(todo, (cost + step, order[other.ident], other.ident, way))
    return _within(wiring, best, order, most_parts, most_links)


def _within(
    wiring: Wiring,
    best: Mapping[str, float],
    order: Mapping[str, int],
    most_parts: int,
    most_links: int,
) -> tuple[Link, ...]:
    chosen: list[Link] = []
    parts: set[str] = set()
    for ident in sorted(best, key=lambda one: (best[one], order[one])):
        link = wiring.links[ident]
        more = parts | {link.a.node.part, link.b.node.part}
        if len(more) <= most_parts and len(chosen) < most_links:
            chosen.append(link)
            parts = more
    return tuple(chosen)


def upper(wiring: Wiring, link: Link) -> tuple[Node, Node]:
    """The ends of a link, the one nearer to the feed first."""
    a, b = link.a.node, link.b.node
    return (a, b) if wiring.level.get(a, 0.0) >= wiring.level.get(b, 0.0) else (b, a)


def _onward(wiring: Wiring, link: Link, way: Way, *, seed: bool) -> Iterator[tuple[Link, float]]:
    """Links that carry on from one, with how much further away they are."""
    high, low = upper(wiring, link)
    node, sign = (high, 1.0) if way == "up" else (low, -1.0)
    if node.part in wiring.units:
        return
    step = STEP
    if _metal(wiring, node.part):
        if link.wire is not None and (way == "up" or not seed):
            return
        step += UP_A_BODY if way == "up" else 0.0
    onward = [
        other
        for here in (node, *wiring.across(node))
        if sign * (wiring.level.get(here, 0.0) - wiring.level.get(node, 0.0)) >= 0.0
        for other in wiring.at.get(here, ())
        if other.ident != link.ident and upper(wiring, other)[1 if way == "up" else 0] == here
    ]
    for other in onward:
        yield other, step + ASIDE * (len(onward) - 1)


def _metal(wiring: Wiring, part: str) -> bool:
    known = wiring.layout.book.parts.get(part)
    return part in BODIES or (known is not None and known.kind == STUD)


def _seeds(wiring: Wiring, marks: Marks, probes: tuple[str, ...]) -> dict[str, float]:
    """Links of the suspects and of the places to probe, with their cost."""
    found: dict[str, float] = {}
    for link, cost in (*_suspected(wiring, marks), *_probed(wiring, probes)):
        found[link.ident] = min(cost, found.get(link.ident, cost))
    if found:
        return found
    # a whole plug or unit alone: then its own pins are the neighbourhood
    own = (links for node, links in wiring.at.items() if node.part in marks.parts)
    return {link.ident: 0.0 for links in own for link in links}


def _around(wiring: Wiring, names: frozenset[str]) -> dict[str, float]:
    """Links that are wanted whether or not anything is suspected."""
    return {
        link.ident: 0.0
        for link in wiring.links.values()
        if link.ident in names or names.intersection((link.a.node.part, link.b.node.part))
    }


def _suspected(wiring: Wiring, marks: Marks) -> Iterator[tuple[Link, float]]:
    for wire, mark in marks.wires.items():
        yield wiring.links[wire], RANK * (mark.number - 1)
    for part, mark in marks.parts.items():
        if part in wiring.units or wiring.is_plug(part):
            continue
        for node, links in wiring.at.items():
            for link in links if node.part == part else ():
                beside = BESIDE if upper(wiring, link)[0].part == part else 0.0
                yield link, RANK * (mark.number - 1) + beside
    for (part, pin), mark in marks.contacts.items():
        for link in wiring.at.get(Node(part, pin), ()):
            yield link, RANK * (mark.number - 1)
    for (_, wire), mark in marks.lugs.items():
        yield wiring.links[wire], RANK * (mark.number - 1)


def _probed(wiring: Wiring, probes: tuple[str, ...]) -> Iterator[tuple[Link, float]]:
    for link in wiring.links.values():
        for tip in (link.a, link.b):
            # a body is met by everything bolted to it: only the way down from it counts
            body = tip.node.part in BODIES and upper(wiring, link)[0] != tip.node
            if tip.probe in probes and tip.probe != MINUS and not body:
                yield link, PROBE
