"""A line: wires in a row without a branch, metre by metre, as a hand or a current follows it.

Metres count from the line's start as the book gives them: section by section where the route is
known, else along the wire's own length.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from backprobe.base.copper import wire_ohm
from backprobe.book.model import BODIES, MINUS, Book, End, WeakSpot, Wire
from backprobe.circuit.assemble import contact_ohm
from backprobe.circuit.naming import reference_post
from backprobe.defects.places import Stretch, spots_by_section, stretches
from backprobe.kinds import KINDS

LEFTOVER_M = 0.05
"""A wire typed longer than its sections by more than this has a tail of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A place for a probe on a line: metres from its start, and how many joints lie before it."""

    at_m: float
    joints: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """A contact of a plug, or a lug or crimp (`plug` False) on the way; `ohm` when it is sound."""

    words: str
    at_m: float
    ohm: float
    plug: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Bit:
    """The part of a line that one wire has in one section ("" = in none the book knows). `start`,
    `end`: the places it runs between, in the line's direction, "" when they have no name;
    `backwards`: it runs from the section's end b to a; `spots` with metres along the line."""

    wire: str
    section: str
    start: str
    end: str
    from_m: float
    to_m: float
    backwards: bool
    spots: tuple[tuple[WeakSpot, float], ...]
    stretch: Stretch


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """W wires in a row. `turned` (W) followed from its end b to a; `edges_m` (W + 1) their ends; `ohm_per_m` (W) at 20 C; `assumed` (W) the
    length is a guess; `joints` from start to end; `points` by printed node."""

    wires: tuple[str, ...]
    turned: tuple[bool, ...]
    edges_m: tuple[float, ...]
    ohm_per_m: tuple[float, ...]
    assumed: tuple[bool, ...]
    bits: tuple[Bit, ...]
    joints: tuple[Joint, ...]
    points: Mapping[str, Point]
    start: str
    end: str

    @property
    def length_m(self) -> float:
        """All of it."""
        return self.edges_m[-1]

    @property
    def landmarks(self) -> tuple[tuple[str, float], ...]:
        """Named places a hand finds, with their metres: ends of wires and of sections."""
        found: dict[str, float] = {}
        for bit in self.bits:
            found.setdefault(bit.start, bit.from_m)
            found[bit.end] = bit.to_m
        return tuple((name, at) for name, at in found.items() if name)

    def bit_at(self, at_m: float) -> Bit:
        """The bit a place lies in; the nearest for one beyond the line."""
        return next((bit for bit in self.bits if at_m <= bit.to_m), self.bits[-1])

    def where(self, section: str, at_m: float) -> float:
        """Metres along the line of a place in a section. KeyError when it runs elsewhere."""
        for bit in self.bits:
            if bit.section == section:
                return bit.to_m - at_m if bit.backwards else bit.from_m + at_m
        raise KeyError(f"section {section} is not on this line")


def line_of(book: Book, wire: str) -> Line:
    """The line a wire is part of: on through plugs, and splices of two wires, to both sides.

    It runs as the wire does, from its end a. KeyError when there is no such wire.
    """
    first = book.wires[wire]
    before = list(_onward(book, first, first.a))
    after = list(_onward(book, first, first.b))
    turned = [(one, not turned) for one, turned in reversed(before)]
    return _line(book, [*turned, (first, False), *after])


def reversed_line(book: Book, line: Line) -> Line:
    """The same line followed from its other end."""
    pieces = zip(line.wires, line.turned, strict=True)
    return _line(book, [(book.wires[wire], not turned) for wire, turned in pieces][::-1])


def line_between(book: Book, start: str, end: str) -> Line | None:
    """The wires from one part to another through plugs, splices and studs; None when plain wire
    does not join them. Branches on the way are left out."""
    todo: list[tuple[tuple[Wire, bool], ...]] = []
    for wire in book.wires.values():
        todo += [((wire, False),)] if wire.a.part == start else []
        todo += [((wire, True),)] if wire.b.part == start else []
    seen = {path[0][0].id for path in todo}
    while todo:
        path = todo.pop(0)
        wire, turned = path[-1]
        far = wire.a if turned else wire.b
        if far.part == end:
            return _line(book, list(path))
        for other, turn in _next_to(book, wire, far):
            if other.id not in seen:
                seen.add(other.id)
                todo.append((*path, (other, turn)))
    return None


def _onward(book: Book, wire: Wire, end: End) -> Iterator[tuple[Wire, bool]]:
    """Wires that follow beyond an end, each with whether it is met at its own end b."""
    seen = {wire.id}
    while True:
        others = _next_to(book, wire, end)
        if len(others) != 1 or others[0][0].id in seen:
            return
        wire, turned = others[0]
        seen.add(wire.id)
        yield wire, turned
        end = wire.a if turned else wire.b


def _next_to(book: Book, wire: Wire, end: End) -> list[tuple[Wire, bool]]:
    return [
        (other, turned)
        for other in book.wires.values()
        if other.id != wire.id
        for turned, near in ((False, other.a), (True, other.b))
        if _meet(book, end, near)
    ]


def _meet(book: Book, one: End, two: End) -> bool:
    """Two wire ends joined by nothing but a contact or a crimp, and not to metal."""
    if one.part != two.part or one.part in BODIES:
        return False
    if one.side or two.side:
        return one.pin == two.pin and one.side != two.side
    if book.parts[one.part].body:
        return False
    kind = KINDS[book.parts[one.part].kind]
    return kind.joint in ("stud", "crimp") and not kind.load and len(kind.pins) <= 1


def _node(book: Book, end: End) -> str:
    """The printed node at a wire's end: the side of the wire at a plug, the metal elsewhere."""
    if end.part in BODIES:
        return end.part
    if end.side or KINDS[book.parts[end.part].kind].joint == "plug":
        return f"{end.part}.{end.pin}{end.side}"
    return _metal(book, end)


def _metal(book: Book, end: End) -> str:
    """The node of the metal inside a part."""
    node = f"{end.part}:{end.pin}"
    return MINUS if node == reference_post(book) else node


def _joint(book: Book, end: End, wire: Wire, at_m: float) -> Joint:
    joint = "stud" if end.part in BODIES else KINDS[book.parts[end.part].kind].joint
    plug = bool(end.side) or joint == "plug"
    ohm = contact_ohm(wire.area_m2, "plug" if plug else joint)
    return Joint(words=f"{end.part} {end.pin}".strip(), at_m=at_m, ohm=ohm, plug=plug)


def _line(book: Book, pieces: Sequence[tuple[Wire, bool]]) -> Line:
    spots = spots_by_section(book)
    bits: list[Bit] = []
    edges, ohms = [0.0], []
    joints: list[Joint] = []
    points: dict[str, Point] = {}
    ends = [(wire.b, wire.a) if turned else (wire.a, wire.b) for wire, turned in pieces]
    for number, ((wire, turned), (near, far)) in enumerate(zip(pieces, ends, strict=True)):
        before = ends[number - 1][1] if number else None
        if not near.side:
            if before is None and near.part not in BODIES:
                points[_metal(book, near)] = Point(at_m=edges[-1], joints=len(joints))
            joints.append(_joint(book, near, wire, edges[-1]))
            points.setdefault(_node(book, near), Point(at_m=edges[-1], joints=len(joints)))
        else:
            if before is not None:
                joints.append(_joint(book, near, wire, edges[-1]))
            points[_node(book, near)] = Point(at_m=edges[-1], joints=len(joints))
        own = _bits(book, wire, turned, edges[-1], spots)
        bits += own
        total = own[-1].to_m - edges[-1]
        ohms.append(wire_ohm(wire.area_m2, wire.length_m) / max(total, 1e-9))
        edges.append(own[-1].to_m)
        points[_node(book, far)] = Point(at_m=edges[-1], joints=len(joints))
        if not far.side:
            joints.append(_joint(book, far, wire, edges[-1]))
            if far.part not in BODIES:
                points[_metal(book, far)] = Point(at_m=edges[-1], joints=len(joints))
    return Line(
        wires=tuple(wire.id for wire, _ in pieces),
        turned=tuple(turned for _, turned in pieces),
        edges_m=tuple(edges),
        ohm_per_m=tuple(ohms),
        assumed=tuple("length" in wire.assumed for wire, _ in pieces),
        bits=tuple(bits),
        joints=tuple(joints),
        points=points,
        start=_node(book, ends[0][0]),
        end=_node(book, ends[-1][1]),
    )


def _bits(
    book: Book,
    wire: Wire,
    turned: bool,
    from_m: float,
    spots: Mapping[str, tuple[WeakSpot, ...]],
) -> list[Bit]:
    """The bits of one wire in the line's direction."""
    parts = stretches(book, wire, spots)
    routed = parts[-1].from_m + parts[-1].length_m
    if wire.route and wire.length_m > routed + LEFTOVER_M:
        parts.append(
            Stretch(
                section="",
                from_m=routed,
                length_m=wire.length_m - routed,
                reversed_=False,
                spots=(),
            )
        )
    near, far = (wire.b, wire.a) if turned else (wire.a, wire.b)
    found: list[Bit] = []
    for one in reversed(parts) if turned else parts:
        backwards = one.reversed_ != turned
        section = book.sections.get(one.section)
        named = (section.a, section.b) if section else ("", "")
        to_m = from_m + max(one.length_m, 1e-3)
        at = [(spot, to_m - spot.at_m if backwards else from_m + spot.at_m) for spot in one.spots]
        found.append(
            Bit(
                wire=wire.id,
                section=one.section,
                start=named[1] if backwards else named[0],
                end=named[0] if backwards else named[1],
                from_m=from_m,
                to_m=to_m,
                backwards=backwards,
                spots=tuple(sorted(at, key=lambda pair: pair[1])),
                stretch=one,
            )
        )
        from_m = to_m
    return [_named(found, number, near.part, far.part) for number in range(len(found))]


def _named(bits: Sequence[Bit], number: int, first: str, last: str) -> Bit:
    """A bit without a section takes its ends from its neighbours, or from the wire's parts."""
    bit = bits[number]
    if bit.section:
        return bit
    start = bits[number - 1].end if number else first
    end = bits[number + 1].start if number + 1 < len(bits) else last
    return replace(bit, start=start, end=end)
