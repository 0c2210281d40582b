"""What the rules look at: the draft, the book, and which ends are one piece of wire."""

from __future__ import annotations

from dataclasses import dataclass, field

from backprobe.base.problems import Spot
from backprobe.book.draft import Draft, Hop
from backprobe.book.model import Book
from backprobe.book.nets import Nets, Node, node, plain_nets
from backprobe.book.report import Report


@dataclass(slots=True)
class Checked:
    """A draft and its book, indexed."""

    draft: Draft
    book: Book
    nets: Nets = field(init=False)
    at: dict[Node, list[Hop]] = field(init=False)

    def __post_init__(self) -> None:
        """Index the wires."""
        self.nets = plain_nets((hop.a, hop.b) for hop in self.draft.hops)
        self.at = {}
        for hop in self.draft.hops:
            self.at.setdefault(node(hop.a), []).append(hop)
            self.at.setdefault(node(hop.b), []).append(hop)

    @property
    def report(self) -> Report:
        """Where problems go."""
        return self.draft.report

    def typed(self, at: Node) -> list[Hop]:
        """The wires somebody typed, row by row, that end at a pin."""
        return [hop for hop in self.at.get(at, ()) if not hop.is_assumed and not hop.card]


def spot_of(hop: Hop, *words: str) -> Spot | None:
    """Where a wire's line names one of these words, else the whole line."""
    if hop.line is None:
        return None
    body = hop.line.body
    for word in words:
        start = body.text.find(word)
        if start >= 0:
            return hop.line.spot(body.part(start, start + len(word)))
    return hop.line.spot()
