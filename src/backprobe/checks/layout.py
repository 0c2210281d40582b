"""What a hand can touch: every end of every wire, what it is joined to by plain copper, and how
far apart things lie on the diagram.

Nodes are named as in the network: "PART.pin" the wire side of a plugged pin, "PART:pin" the metal
inside a part, "X14.3a" and "X14.3b" the two sides of an inline way.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Any, Final, Generic, TypeVar

from backprobe.book.model import BODIES, MINUS, Book, End, Pin, Wire
from backprobe.checks.model import Check
from backprobe.defects.of_contacts import joint_words
from backprobe.kinds.records import Kind

WIRE = "wire "
"""How an owner of a defect names a wire."""
_SLOT: Final = re.compile(r"(?:\s+row\s+\w+)?\s+(?:slot|socket)\s+\w+$", re.IGNORECASE)
"""What the words of a place add to the box that holds it."""
METAL = ("ground strap", "isolator", "ground stud")
SWITCHED = ("switch", "normally closed switch", "seat switch", "fuse", "diode")
"""What the start signal goes through."""
PLAIN = ("supply", "ground")
"""Roles of unit pins behind which there is no electronics a lamp could hurt."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """A place for a probe: the node, where it is, and the wire that ends there ("" = none)."""

    node: str
    part: str
    pin: str
    side: str = ""
    wire: str = ""


@dataclass(frozen=True, kw_only=True)
class Layout:
    """A book seen by hands. `ends` maps wire ends to touches, `net` to a number shared by all
    ends joined by plain copper when every plug is on."""

    book: Book
    kinds: Mapping[str, Kind]
    ends: Mapping[End, Touch] = field(repr=False)
    net: Mapping[End, int] = field(repr=False)
    near: Mapping[End, tuple[End, ...]] = field(repr=False)

    @cached_property
    def readings(self) -> dict[Hashable, Check]:
        """Checks that were made before, for whoever makes them again."""
        return {}

    @cached_property
    def openings(self) -> dict[str, Any]:
        """What opening each place takes (cost.access), once somebody asked."""
        return {}

    @cached_property
    def harmless(self) -> dict[Check, bool]:
        """Whether checks may be done whatever the volts are (safety.allowed), once somebody asked."""
        return {}

    @cached_property
    def order(self) -> Mapping[End, int]:
        """Where each wire end comes in the book."""
        return {end: number for number, end in enumerate(self.ends)}

    @cached_property
    def touch(self) -> Mapping[str, Touch]:
        """Touches by node; the first wire of a node names it."""
        found: dict[str, Touch] = {}
        for touch in self.ends.values():
            found.setdefault(touch.node, touch)
        return {**found, **self.lugs}

    @cached_property
    def lugs(self) -> Mapping[str, Touch]:
        """Lugs on posts and studs, by node: apart from the post a probe can tell their contact."""
        found: dict[str, Touch] = {}
        for wire in self.book.wires.values():
            for end in (wire.a, wire.b):
                if end.part in self.book.parts and self.joint(end.part) == "stud":
                    post = self.ends[end].node
                    post = f"{end.part}.{end.pin}" if post == MINUS else post
                    node = f"{post}<{wire.id}>"
                    found[node] = Touch(node=node, part=end.part, pin=end.pin, wire=wire.id)
        return found

    @cached_property
    def end_at(self) -> Mapping[str, tuple[End, ...]]:
        """Wire ends by part name, in the order of the book."""
        found: dict[str, list[End]] = {}
        for end in self.ends:
            found.setdefault(end.part, []).append(end)
        return {part: tuple(ends) for part, ends in found.items()}

    @cached_property
    def members(self) -> Mapping[int, tuple[End, ...]]:
        """Wire ends by net, in the order of the book."""
        found: dict[int, list[End]] = {}
        for end in self.ends:
            found.setdefault(self.net[end], []).append(end)
        return {number: tuple(ends) for number, ends in found.items()}

    @cached_property
    def units(self) -> frozenset[str]:
        """Control units: what has pins with roles."""
        return frozenset(pin.part for pin in self.book.roles)

    @cached_property
    def moving(self) -> frozenset[str]:
        """Functions that can move the machine, what commands them and the loads that do it."""
        names: set[str] = set()
        for function in self.book.functions.values():
            if function.moves:
                names |= {function.name, *function.commands}
                names |= {n for n in function.needs if self._is_load(n)}
        return frozenset(names)

    def _is_load(self, name: str) -> bool:
        part = self.book.parts.get(name)
        unit = any(pin.part == name for pin in self.book.roles)
        return part is not None and not unit and bool(self.kinds[part.kind].load)

    def kind(self, part: str) -> Kind | None:
        """The kind of a part, None for bodies and unknown names."""
        known = self.book.parts.get(part)
        return self.kinds.get(known.kind) if known else None

    def joint(self, part: str) -> str:
        """How wires meet a part: "plug", "stud", "crimp" or "none"."""
        kind = self.kind(part)
        return kind.joint if kind else "stud"

    @cached_property
    def joints(self) -> Mapping[str, str]:
        """Parts by the name of the plug or lugs at them, where the part itself can fail as well."""
        parts = self.book.parts.values()
        able = [part.name for part in parts if self.kinds[part.kind].failures]
        return {words: part for part in able if (words := joint_words(self.book, part)) != part}

    @cached_property
    def _net_of_node(self) -> Mapping[str, int]:
        found: dict[str, int] = {}
        for end, touch in self.ends.items():
            found.setdefault(touch.node, self.net[end])
        for node, touch in self.lugs.items():
            found[node] = self.net[End(touch.part, touch.pin)]
        return found

    def net_at(self, node: str) -> int:
        """The net of a node, -1 when no wire ends there."""
        return self._net_of_node.get(node, -1)

    @cached_property
    def unfused(self) -> frozenset[int]:
        """Nets that a battery feeds with no fuse before them: what slips there against metal draws
        hundreds of amperes."""
        posts = [end for end in self.ends if end.pin == "+" and self._is(end.part, ("battery",))]
        return frozenset(self._through(posts, METAL, set()))

    @cached_property
    def cranked(self) -> frozenset[int]:
        """Nets with volts while cranking alone: the starter's 50, and from that of the key through switches."""
        starts = [end for end in self.ends if end.pin == "50"]
        starters = {self.net[end] for end in starts if self._is(end.part, ("starter",))}
        keys = [end for end in starts if self._is(end.part, ("key switch",))]
        return frozenset(starters | self._through(keys, SWITCHED, {*self._metal, *self.unfused}))

    def _through(self, start: Iterable[End], kinds: tuple[str, ...], stop: set[int]) -> set[int]:
        """Nets that are reached through parts of some kinds, but for those to `stop` at."""
        found: set[int] = set()
        todo = [self.net[end] for end in start]
        while todo:
            number = todo.pop()
            if number not in found and number not in stop:
                found.add(number)
                through = {e.part for e in self.members[number] if self._is(e.part, kinds)}
                todo += [self.net[end] for part in through for end in self.end_at[part]]
        return found

    def _is(self, part: str, kinds: tuple[str, ...]) -> bool:
        known = self.book.parts.get(part)
        return known is not None and known.kind in kinds

    @cached_property
    def _unit_pins(self) -> Mapping[int, tuple[Pin, ...]]:
        found: dict[int, list[Pin]] = {}
        for end in self.ends:
            pin = Pin(end.part, end.pin)
            if pin in self.book.roles:
                found.setdefault(self.net[end], []).append(pin)
        return {number: tuple(pins) for number, pins in found.items()}

    def pins_on(self, number: int) -> tuple[Pin, ...]:
        """Pins of control units on a net."""
        return self._unit_pins.get(number, ())

    def sensitive(self, node: str) -> str:
        """Why no lamp, jumper or ohmmeter belongs on a node: "ECU pin 47 (5 V group)", or ""."""
        for pin in self.pins_on(self.net_at(node)):
            role = self.book.roles[pin].role
            if role not in PLAIN:
                return f"{pin.part} pin {pin.name} ({role})"
        return ""

    def place(self, part: str) -> str:
        """Where a part is: its place words, or its own name."""
        known = self.book.parts.get(part)
        return known.where if known and known.where else part

    def cover(self, part: str) -> str:
        """What is opened to reach a part: slots and sockets of one box are under one cover."""
        found = self._covers.get(part)
        return _under_cover(part) if found is None else found

    @cached_property
    def _covers(self) -> Mapping[str, str]:
        return {part: _under_cover(self.place(part)) for part in self.book.parts}

    def wire_of(self, owner: str) -> Wire | None:
        """The wire an owner of a defect names: "wire 31" is wire 31."""
        return self.book.wires.get(owner.removeprefix(WIRE))

    def owner_ends(self, owner: str) -> tuple[End, ...]:
        """The wire ends a wire, part or section has."""
        wire = None if owner in self.book.parts else self.wire_of(owner)
        if wire:
            return (wire.a, wire.b)
        if owner in self.book.sections or owner in self.book.spots:
            spot = self.book.spots.get(owner)
            section = spot.section if spot else owner
            return tuple(
                end for w in self.book.wires.values() if section in w.route for end in (w.a, w.b)
            )
        return self.end_at.get(owner, ())

    def distance(self, start: Iterable[End], reach: int) -> Mapping[End, int]:
        """Ends within `reach` wires of any of `start`, with how many wires lie between."""
        return self._walked(start, reach, lambda _, __: True)

    def behind(self, start: Iterable[End], reach: int) -> Mapping[str, int]:
        """Parts by how many wires lie between, but not back through the parts of `start` nor on beyond the
        metal: what hangs behind a contact or a fuse, and not all that shares its feed or its ground."""
        ends = [end for end in start if end in self.ends]
        own = {end.part for end in ends}

        def leads(end: End, other: End) -> bool:
            on = self.net[end] not in self._metal and other.part not in own
            return on and self._leads(end, other)

        found: dict[str, int] = {}
        for end, distance in self._walked(ends, reach, leads).items():
            found.setdefault(end.part, distance)  # the nearest come first
        return found

    def _walked(
        self, start: Iterable[End], reach: int, leads: Callable[[End, End], bool]
    ) -> Mapping[End, int]:
        """Ends by how many wires lie between, the nearest first, from one to those it `leads` to."""
        found = {end: 0 for end in start if end in self.ends}
        todo = deque(found)
        while todo:
            end = todo.popleft()
            if found[end] >= reach:
                continue
            for other in self.near[end]:
                if other not in found and leads(end, other):
                    found[other] = found[end] + 1
                    todo.append(other)
        return found

    def _leads(self, end: End, other: End) -> bool:
        """Through a relay what is switched hangs at its pins 87 (DIN 72552)."""
        kind = self.kind(end.part) if end.part == other.part and end.pin != other.pin else None
        return kind is None or "relay" not in kind.name or other.pin.startswith("87")

    @cached_property
    def _metal(self) -> frozenset[int]:
        """Nets of the bodies and of the battery's minus post."""
        return frozenset(
            number
            for end, number in self.net.items()
            if end.part in BODIES or self.ends[end].node == MINUS
        )


T = TypeVar("T")
KEPT: Final = 8
"""Layouts kept: those of the books a shop is working with."""


@dataclass(frozen=True, slots=True, eq=False)
class Same(Generic[T]):
    """A thing as a key: equal to itself alone. A book has no hash of its own."""

    thing: T

    def __hash__(self) -> int:
        return id(self.thing)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and self.thing is other.thing


def layout_of(book: Book, kinds: Mapping[str, Kind]) -> Layout:
    """The layout of a book whose kinds are given by name; kept for the books asked for last."""
    return _laid_out(Same(book), Same(kinds))


@lru_cache(maxsize=4096)
def _under_cover(place: str) -> str:
    return _SLOT.sub("", place) or place


@lru_cache(maxsize=KEPT)
def _laid_out(of: Same[Book], by: Same[Mapping[str, Kind]]) -> Layout:
    book, kinds = of.thing, by.thing
    ends: dict[End, Touch] = {}
    joined: dict[End, set[End]] = {}
    minus = _minus_part(book)
    for wire in book.wires.values():
        for end in (wire.a, wire.b):
            ends.setdefault(end, _touch(book, kinds, end, wire.id, minus))
            joined.setdefault(end, set())
        _join(joined, wire.a, wire.b)
    by_part: dict[str, list[End]] = {}
    for end in ends:
        by_part.setdefault(end.part, []).append(end)
    for part, its in by_part.items():
        knot = _is_knot(book, kinds, part)
        first_at: dict[str, End] = {}
        for end in its:
            _join(joined, first_at.setdefault("" if knot else end.pin, end), end)
    for part in by_part:
        body = book.parts[part].body if part in book.parts else ""
        if body in BODIES and _is_knot(book, kinds, part):
            metal = End(body, "")
            ends.setdefault(metal, Touch(node=body, part=body, pin=""))
            joined.setdefault(metal, set())
            _join(joined, by_part[part][0], metal)
    near = {end: set(others) for end, others in joined.items()}
    for part, its in by_part.items():
        if len(its) <= 8 and not _is_knot(book, kinds, part):
            for first in its:
                near[first] |= {other for other in its if other != first}
    return Layout(
        book=book,
        kinds=kinds,
        ends=ends,
        net=_nets(joined),
        near={end: tuple(sorted(others)) for end, others in near.items()},
    )


def _is_knot(book: Book, kinds: Mapping[str, Kind], part: str) -> bool:
    """True for splices, studs and bodies: all their wires are one piece of copper."""
    known = book.parts.get(part)
    if known is None:
        return part in BODIES
    kind = kinds.get(known.kind)
    return (
        kind is not None
        and kind.joint in ("stud", "crimp")
        and not kind.load
        and (len(kind.pins) <= 1)
    )


def _minus_part(book: Book) -> str:
    """The battery whose minus post is cabled to metal, else the first one."""
    posts = [part.name for part in book.parts.values() if part.kind == "battery"]
    for wire in book.wires.values():
        for near, far in ((wire.a, wire.b), (wire.b, wire.a)):
            if (
                near.part in posts
                and near.pin == "-"
                and (far.part in BODIES or book.parts[far.part].kind in METAL)
            ):
                return near.part
    return posts[0] if posts else ""


def _touch(book: Book, kinds: Mapping[str, Kind], end: End, wire: str, minus: str) -> Touch:
    known = book.parts.get(end.part)
    kind = kinds.get(known.kind) if known else None
    if known is None:
        node = end.part
    elif end.side or (kind and kind.joint == "plug"):
        node = f"{end.part}.{end.pin}{end.side}"
    else:
        node = f"{end.part}:{end.pin}"
    if end.pin == "-" and end.part == minus:
        node = MINUS
    return Touch(node=node, part=end.part, pin=end.pin, side=end.side, wire=wire)


def _join(joined: dict[End, set[End]], a: End, b: End) -> None:
    if a != b:
        joined[a].add(b)
        joined[b].add(a)


def _nets(joined: Mapping[End, set[End]]) -> dict[End, int]:
    net: dict[End, int] = {}
    for start in joined:
        if start in net:
            continue
        number = len(set(net.values())) if net else 0
        todo = [start]
        while todo:
            end = todo.pop()
            if end not in net:
                net[end] = number
                todo += joined[end]
    return net
