"""Straight current paths: links and two-ended parts in a row, between bars that join them.

A bar is a splice, a part with three or more pins in the picture, a control unit's upper or lower
half, or an end of the picture. A stud or body at the lower end of paths is drawn once under each.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from backprobe.book.model import BODIES
from backprobe.web.pictures.nearby import upper
from backprobe.web.pictures.wiring import BATTERY, Link, Node, Wiring

UPPER_ROLES: Final = ("supply", "5 V group", "high side driver", "switched output")
Shape = Literal["box", "splice", "ground", "plug", "bead"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One symbol: a part, or the share of it that belongs together. `more`: its wires that are
    not in the picture."""

    key: str
    part: str
    shape: Shape
    more: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """A straight way down: links with the pieces between them, from bar `top` to bar `bottom`.
    `ends`: for every link its upper and its lower node."""

    number: int
    top: str
    bottom: str
    links: tuple[Link, ...]
    ends: tuple[tuple[Node, Node], ...]
    between: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Net:
    """Bars and paths without a circle: every path leads from a bar to one further down. `bars`
    holds the keys of the bars in an order that follows the paths."""

    pieces: Mapping[str, Piece]
    bars: tuple[str, ...]
    paths: tuple[Path, ...]


class _Maker:
    def __init__(self, wiring: Wiring, links: Sequence[Link]) -> None:
        self.wiring = wiring
        self.links = links
        self.at: dict[Node, list[Link]] = {}
        for link in links:
            for node in dict.fromkeys((link.a.node, link.b.node)):
                self.at.setdefault(node, []).append(link)
        self.members: dict[str, list[tuple[Link, Node]]] = {}
        self.shapes: dict[str, Shape] = {}
        for link in links:
            for node in (link.a.node, link.b.node):
                key, shape = self.home(link, node)
                self.members.setdefault(key, []).append((link, node))
                self.shapes[key] = shape
        for key, its in self.members.items():
            if self.shapes[key] == "box" and self.is_bead(its):
                self.shapes[key] = "bead"
            if self.shapes[key] == "plug" and len(its) != 2:
                self.shapes[key] = "box"

    def home(self, link: Link, node: Node) -> tuple[str, Shape]:
        """The piece a link ends at, and its shape as far as one link can tell."""
        wiring, part = self.wiring, node.part
        falls = upper(wiring, link)[0] == node
        if part in wiring.units:
            role = next(
                (r.role for p, r in wiring.layout.book.roles.items() if p == (part, node.pin)), ""
            )
            high = role in UPPER_ROLES or (falls and role != "ground")
            return f"{part}/{'upper' if high else 'lower'}", "box"
        if wiring.is_plug(part):
            return f"{part}.{node.pin}", "plug"
        if wiring.is_knot(part):
            if self.is_ground(part):
                if any(upper(wiring, other)[0] == node for other in self.at[node]):
                    return part, "splice"
                return f"{part} under {link.ident}", "ground"
            return part, "splice"
        if wiring.layout.book.parts[part].kind == BATTERY:
            return f"{part}/{node.pin}", "box"
        return f"{part}/{wiring.inside.get(part, {}).get(node.pin, node.pin)}", "box"

    def is_ground(self, part: str) -> bool:
        kind = self.wiring.kind(part)
        return part in BODIES or (kind is not None and kind.name == "ground stud")

    def is_bead(self, its: Sequence[tuple[Link, Node]]) -> bool:
        part = its[0][1].part
        plain = (
            part not in self.wiring.units and self.wiring.layout.book.parts[part].kind != BATTERY
        )
        return plain and len(its) == 2 and len({node for _, node in its}) == 2

    def piece(self, key: str) -> Piece:
        nodes = {node for _, node in self.members[key]}
        drawn = {link.ident for link, _ in self.members[key]}
        known = {link.ident for node in nodes for link in self.wiring.at[node] if link.wire}
        part = next(iter(nodes)).part
        hides = self.shapes[key] == "splice" or part not in self.wiring.units
        more = len(known - drawn) if hides and self.shapes[key] != "ground" else 0
        return Piece(key=key, part=part, shape=self.shapes[key], more=more)


def net_of(wiring: Wiring, links: Sequence[Link]) -> Net:
    """The straight paths of a neighbourhood."""
    maker = _Maker(wiring, links)
    pieces = {key: maker.piece(key) for key in maker.members}
    passes = {key for key, shape in maker.shapes.items() if shape in ("plug", "bead")}
    ways = _walks(maker, passes)
    ways += _walks(maker, passes, closed=True)
    found: list[Path] = []
    below: dict[str, set[str]] = {}
    for start, end, falling, passed in sorted(ways, key=lambda way: -_fall(wiring, way[2])):
        top, bottom, chain, mid = start, end, falling, passed
        if top == bottom or bottom in passes:
            bottom = f"{bottom} under {chain[-1][0].ident}"
            old = pieces[end]
            pieces[bottom] = Piece(key=bottom, part=old.part, shape="box", more=0)
        if _reaches(below, bottom, top):
            top, bottom = bottom, top
            chain = [(link, low, high) for link, high, low in reversed(chain)]
            mid = mid[::-1]
        below.setdefault(top, set()).add(bottom)
        found.append(
            Path(
                number=0,
                top=top,
                bottom=bottom,
                links=tuple(link for link, _, _ in chain),
                ends=tuple((high, low) for _, high, low in chain),
                between=tuple(mid),
            )
        )
    place = {link.ident: number for number, link in enumerate(links)}
    found.sort(key=lambda path: min(place[link.ident] for link in path.links))
    paths = tuple(
        Path(
            number=number, top=p.top, bottom=p.bottom, links=p.links, ends=p.ends, between=p.between
        )
        for number, p in enumerate(found)
    )
    return Net(pieces=pieces, bars=_sorted(paths), paths=paths)


_Way = tuple[str, str, list[tuple[Link, Node, Node]], list[str]]


def _fall(wiring: Wiring, chain: Sequence[tuple[Link, Node, Node]]) -> float:
    level = wiring.level
    return level.get(chain[0][1], 0.0) - level.get(chain[-1][2], 0.0)


def _walks(maker: _Maker, passes: set[str], *, closed: bool = False) -> list[_Way]:
    """Chains of links between bars, falling; `closed`: rings of two-ended parts alone, cut at
    their first link. A link is walked once."""
    walked: set[str] = set()
    if closed:
        for way in _walks(maker, passes):
            walked.update(link.ident for link, _, _ in way[2])
    found: list[_Way] = []
    for link in maker.links:
        for node in (link.a.node, link.b.node):
            start = maker.home(link, node)[0]
            if link.ident in walked or (start in passes and not closed):
                continue
            chain: list[tuple[Link, Node, Node]] = []
            mid: list[str] = []
            at, here = link, node
            while True:
                walked.add(at.ident)
                far = at.far(here)
                chain.append((at, here, far))
                end = maker.home(at, far)[0]
                onward = [
                    (other, its)
                    for other, its in maker.members[end]
                    if other.ident not in walked and end in passes
                ]
                if not onward:
                    break
                mid.append(end)
                at, here = onward[0]
            if _fall(maker.wiring, chain) < 0.0:
                chain = [(one, low, high) for one, high, low in reversed(chain)]
                start, end, mid = end, start, mid[::-1]
            found.append((start, end, chain, mid))
    return found


def _reaches(below: Mapping[str, set[str]], start: str, goal: str) -> bool:
    todo, seen = [start], {start}
    while todo:
        here = todo.pop()
        if here == goal:
            return True
        fresh = below.get(here, set()) - seen
        seen |= fresh
        todo += fresh
    return False


def _sorted(paths: Sequence[Path]) -> tuple[str, ...]:
    """Bars so that every path leads forward."""
    above: dict[str, int] = {}
    for path in paths:
        above.setdefault(path.top, 0)
        above[path.bottom] = above.get(path.bottom, 0) + 1
    ready = [bar for bar, count in above.items() if not count]
    found: list[str] = []
    while ready:
        bar = ready.pop(0)
        found.append(bar)
        for path in paths:
            if path.top == bar:
                above[path.bottom] -= 1
                if not above[path.bottom]:
                    ready.append(path.bottom)
    return tuple(found)
