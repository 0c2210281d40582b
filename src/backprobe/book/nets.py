"""Which ends are one piece of plain wire: through plugs, splices, studs, posts and bodies."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Final

from backprobe.book.draft import PLUG
from backprobe.book.model import BODIES, End, Part
from backprobe.kinds import KINDS

THROUGH: Final = ("1", "2")
FUSES: Final = ("fuse", "fusible link", "circuit breaker")
Node = tuple[str, str]


class Nets:
    """Ends joined by plain wire, found by joining pairs. A node is (part, pin); a plug's two
    sides are one node, a body is (name, "")."""

    def __init__(self) -> None:
        self._up: dict[Node, Node] = {}

    def find(self, node: Node) -> Node:
        """The node that stands for everything joined to this one."""
        up = self._up
        if node not in up:
            up[node] = node
            return node
        root = node
        while up[root] != root:
            root = up[root]
        while up[node] != root:
            up[node], node = root, up[node]
        return root

    def join(self, a: Node, b: Node) -> None:
        """Make two nodes one piece of wire."""
        self._up[self.find(a)] = self.find(b)

    def members(self) -> dict[Node, list[Node]]:
        """All nodes by the one that stands for them."""
        groups: dict[Node, list[Node]] = {}
        for node in list(self._up):
            groups.setdefault(self.find(node), []).append(node)
        return groups


def node(end: End) -> Node:
    """The node an end belongs to."""
    return (end.part, end.pin)


def plain_nets(ends: Iterable[tuple[End, End]]) -> Nets:
    """Nets of plain wire."""
    nets = Nets()
    for a, b in ends:
        nets.join(node(a), node(b))
    return nets


def is_through(part: Part) -> bool:
    """True for a part a chain may pass: two pins, "1" in and "2" out."""
    return KINDS[part.kind].pins == THROUGH


def joins_freely(part: Part | None) -> bool:
    """True where any number of wires may end: splice, stud, post, body."""
    return part is None or KINDS[part.kind].joint in ("stud", "crimp")


def conducts(
    parts: Mapping[str, Part], *, passive: bool = False
) -> Callable[[Node], tuple[Node, ...]]:
    """Where current can go on inside a part from one of its pins, any state allowed.

    Follows the branches of the kind; "@body" leads to the part's body. A plug's way and a unit's
    pin lead nowhere else. `passive` leaves out what uses the current up: only contacts of kinds
    with a load, nothing of a sensor or
    a source.
    """

    def onward(at: Node) -> tuple[Node, ...]:
        part = parts.get(at[0])
        if part is None or part.kind == PLUG:
            return ()
        kind = KINDS[part.kind]
        if passive and kind.letter in ("B", "G"):
            return ()
        lossy = passive and bool(kind.load)
        branches = [branch for branch in kind.branches if branch.contact or not lossy]
        reached, frontier = {at[1]: None}, [at[1]]
        while frontier:
            here = frontier.pop()
            for branch in branches:
                for p, n in ((branch.p, branch.n), (branch.n, branch.p)):
                    if p == here and n not in reached:
                        reached[n] = None
                        frontier.append(n)
        return tuple(_outside(part, pin) for pin in reached if pin != at[1] and _shows(part, pin))

    return onward


def _shows(part: Part, pin: str) -> bool:
    return pin in part.pins or pin in ("@body", "@body2")


def _outside(part: Part, pin: str) -> Node:
    if pin == "@body":
        return (part.body or BODIES[0], "")
    if pin == "@body2":
        return (str(part.attrs.get("second body", BODIES[1])), "")
    return (part.name, pin)
