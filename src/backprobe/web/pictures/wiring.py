"""A book as something to draw: wires and bolted joints as links between nodes, every node with
its place between feed (1) and ground (0).

The places decide what hangs above what. They come from the circuit with everything switched on
and every branch of the same size: along any way from feed to ground they fall at every step, also
where a machine at rest would have no volts at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.linalg import splu

from backprobe.book.model import BODIES, Book, End, Wire
from backprobe.checks.layout import Layout
from backprobe.kinds import KINDS
from backprobe.kinds.records import Kind

PLUG: Final = "plug"
BATTERY: Final = "battery"
FIVE_VOLT: Final = 0.6
"""Where a 5 V group stands between feed and ground."""
COPPER: Final = "FWQX"
"""Classes of parts (IEC 81346-2) that are plain copper from pin to pin."""
LOAD: Final = 1e-3
"""A load or sensor, against 1 for copper and contacts."""
PULL: Final = 1e-6
"""A pull-up inside a unit, likewise."""
LEAK: Final = 1e-12


class Node(NamedTuple):
    """What is one piece of metal: a pin, a way of a plug, a whole splice, stud or body."""

    part: str
    pin: str


class Tip(NamedTuple):
    """An end of a link: its node, and the place for a probe there ("" = none)."""

    node: Node
    probe: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A wire, or (`wire` None) a part bolted to a body. `ident` is unique among all links."""

    ident: str
    a: Tip
    b: Tip
    wire: Wire | None = None

    def far(self, node: Node) -> Node:
        """The node at the other end."""
        return self.b.node if self.a.node == node else self.a.node


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiring:
    """All links of a book. `at`: links by node; `inside`: for every part that conducts inside, a
    number for each of its pins, alike for pins that are joined; `level`: 1 at the feed, 0 at the
    ground."""

    layout: Layout
    links: Mapping[str, Link]
    at: Mapping[Node, tuple[Link, ...]]
    inside: Mapping[str, Mapping[str, int]]
    level: Mapping[Node, float]
    units: frozenset[str]

    def kind(self, part: str) -> Kind | None:
        """The kind of a part; None for a body."""
        return self.layout.kind(part)

    def is_plug(self, part: str) -> bool:
        """Whether the part is an inline plug."""
        known = self.layout.book.parts.get(part)
        return known is not None and known.kind == PLUG

    def is_knot(self, part: str) -> bool:
        """Whether all wires of a part are one piece of metal: splice, stud, body."""
        return part in BODIES or _knot(self.layout.book, part)

    def across(self, node: Node) -> tuple[Node, ...]:
        """Other nodes of the same part that current may reach from this one."""
        pins = self.inside.get(node.part, {})
        mine = pins.get(node.pin, -1)
        return tuple(
            Node(node.part, pin)
            for pin, number in pins.items()
            if number == mine and pin != node.pin
        )


def wiring_of(layout: Layout) -> Wiring:
    """The links of a book and where they stand between feed and ground."""
    book = layout.book
    links = {link.ident: link for link in _links(layout)}
    at: dict[Node, list[Link]] = {}
    for link in links.values():
        for node in dict.fromkeys((link.a.node, link.b.node)):
            at.setdefault(node, []).append(link)
    return Wiring(
        layout=layout,
        links=links,
        at={node: tuple(its) for node, its in at.items()},
        inside={name: _inside(book, name) for name in book.parts if name not in units_of(book)},
        level=_levels(book, links),
        units=units_of(book),
    )


def node_of(book: Book, end: End) -> Node:
    """The node a wire ends at."""
    return Node(end.part, "" if end.part in BODIES or _knot(book, end.part) else end.pin)


def units_of(book: Book) -> frozenset[str]:
    """Parts whose pins have something behind them: control units."""
    return frozenset(pin.part for pin in book.roles)


def _knot(book: Book, part: str) -> bool:
    kind = KINDS[book.parts[part].kind]
    return kind.joint in ("stud", "crimp") and not kind.load and len(kind.pins) <= 1


def _links(layout: Layout) -> Iterator[Link]:
    book = layout.book
    for wire in book.wires.values():
        a, b = (Tip(node_of(book, end), layout.ends[end].node) for end in (wire.a, wire.b))
        yield Link(ident=wire.id, a=a, b=b, wire=wire)
    for part in book.parts.values():
        words = {word for branch in KINDS[part.kind].branches for word in (branch.p, branch.n)}
        bodies = (part.body or BODIES[0], str(part.attrs.get("second body") or BODIES[1]))
        for word, body in zip(("@body", "@body2"), bodies, strict=True):
            if word in words:
                pin = Node(part.name, "" if _knot(book, part.name) else word)
                yield Link(ident=f"{part.name} {word}", a=Tip(pin), b=Tip(Node(body, ""), body))


def _inside(book: Book, name: str) -> dict[str, int]:
    """Pins of a part by what current can pass between, any position of its contacts allowed."""
    part = book.parts[name]
    kind = KINDS[part.kind]
    if part.kind == PLUG or _knot(book, name):
        return {}
    group: dict[str, str] = {}

    def find(word: str) -> str:
        while group.setdefault(word, word) != word:
            word = group[word]
        return word

    for branch in kind.branches:
        group[find(branch.p)] = find(branch.n)
    pins = [word for word in (*part.pins, *kind.pins, "@body", "@body2") if word in group]
    numbers: dict[str, int] = {}
    return {pin: numbers.setdefault(find(pin), len(numbers)) for pin in dict.fromkeys(pins)}


# ------------------------------------------------------------------ between feed and ground


def _levels(book: Book, links: Mapping[str, Link]) -> dict[Node, float]:
    """Where every node stands, by solving the circuit of equal branches."""
    number: dict[Node, int] = {}
    i: list[int] = []
    j: list[int] = []
    size: list[float] = []
    for a, b, conductance in _branches(book, links):
        i.append(number.setdefault(a, len(number)))
        j.append(number.setdefault(b, len(number)))
        size.append(conductance)
    fixed = dict(_fixed(book))
    count = len(number)
    if not count:
        return {}
    held = np.array([fixed.get(node, np.nan) for node in number])
    g, rows, columns = np.array(size), np.array(i), np.array(j)
    diagonal = np.full(count, LEAK)
    np.add.at(diagonal, rows, g)
    np.add.at(diagonal, columns, g)
    here = np.arange(count)
    matrix = csr_array(
        (
            np.concatenate([diagonal, -g, -g]),
            (np.concatenate([here, rows, columns]), np.concatenate([here, columns, rows])),
        ),
        shape=(count, count),
    )
    free = np.flatnonzero(np.isnan(held))
    known = np.flatnonzero(~np.isnan(held))
    level = held.copy()
    if free.size:
        right = LEAK / 2.0 - matrix[free][:, known] @ held[known]
        level[free] = splu(matrix[free][:, free].tocsc()).solve(right)
    return dict(zip(number, level.tolist(), strict=True))


def _branches(book: Book, links: Mapping[str, Link]) -> Iterator[tuple[Node, Node, float]]:
    for link in links.values():
        yield link.a.node, link.b.node, 1.0
    units = units_of(book)
    for part in book.parts.values():
        if part.kind == PLUG or part.name in units or _knot(book, part.name):
            continue
        for branch in KINDS[part.kind].branches:
            plain = branch.contact or KINDS[part.kind].letter in COPPER
            size = 1.0 if plain else LOAD
            yield Node(part.name, branch.p), Node(part.name, branch.n), size
    for pin, role in book.roles.items():
        at = Node(pin.part, pin.name)
        supply, ground = Node(pin.part, ":supply"), Node(pin.part, ":ground")
        group = Node(pin.part, f":{role.group}") if role.group else supply
        if role.role in ("supply", "high side driver", "switched output"):
            yield at, supply, 1.0
        elif role.role == "5 V group":
            yield at, group, 1.0
        elif "input" in role.role:
            if "pull up" in role.attrs:
                yield at, group, PULL
            yield at, ground, 2.0 * PULL
        else:
            yield at, ground, 1.0
        yield supply, ground, LOAD


def _fixed(book: Book) -> Iterator[tuple[Node, float]]:
    for part in book.parts.values():
        if part.kind == BATTERY:
            yield Node(part.name, "+"), 1.0
            yield Node(part.name, "-"), 0.0
    for unit, group in book.groups:
        yield Node(unit, f":{group}"), FIVE_VOLT
