"""Loom sections and spots, and which sections each wire runs through."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from backprobe.base.units import parse_quantity, show
from backprobe.book.draft import Draft, Hop
from backprobe.book.facts import Fact
from backprobe.book.lines import Bit
from backprobe.book.model import BODIES, Section, WeakSpot
from backprobe.book.parts import read_number

EXPOSURES = ("edge", "clip", "hinge", "hot", "wet", "splice", "floor")


def read_section(draft: Draft, fact: Fact) -> None:
    """`section NAME: A to B, 0.9 m, open 5 min, close 5 min`."""
    report, line = draft.report, fact.line
    name = draft.name(fact.head[0], line)
    if name is None or not fact.items or not draft.first(f"section {name}", fact):
        return
    ends = re.split(r"\s+to\s+", fact.items[0].text)
    if len(ends) != 2 or not all(ends):
        report.add("unreadable-line", line.spot(fact.items[0]), near="")
        return
    a, b = (draft.name(Bit(end, fact.items[0].column), line, body_ok=True) for end in ends)
    if a is None or b is None:
        return
    length: float | None = None
    minutes: dict[str, float | None] = {"open": None, "close": None}
    for item in fact.items[1:]:
        word, _, rest = item.text.partition(" ")
        quantity = parse_quantity(item.text)
        if word.lower() in minutes and rest:
            minutes[word.lower()] = read_number(draft, line, item, word.lower(), rest, "s")
        elif quantity is None and not item.text[0].isdigit():
            report.add(
                "unknown-attribute", line.spot(item), word=item.text, owner="a section",
                known="its length, open, close", near=report.near(word, minutes),
            )  # fmt: skip
        else:
            length = read_number(draft, line, item, "length", item.text, "m")
            if length is None:
                return
    if length is None or length <= 0:
        report.add("no-length", line.spot(fact.head[0]), name=name, a=a, b=b)
        return
    draft.sections[name] = Section(
        name=name, a=a, b=b, length_m=length, open_s=minutes["open"], close_s=minutes["close"],
        origin=fact.origin,
    )  # fmt: skip


def read_spot(draft: Draft, fact: Fact) -> None:
    """`spot NAME: in SECTION at 0.55 m, hinge`. Sections must have been read before."""
    report, line = draft.report, fact.line
    name = draft.name(fact.head[0], line)
    if name is None or not fact.items or not draft.first(f"spot {name}", fact):
        return
    first = fact.items[0]
    match = re.match(r"^in\s+(.+?)\s+at\s+(.+)$", first.text, re.IGNORECASE)
    if match is None:
        report.add("unreadable-line", line.spot(first), near="")
        return
    section = " ".join(match[1].split())
    if section not in draft.sections:
        report.add(
            "unknown-section", line.spot(first.part(match.start(1), match.end(1))), name=section,
            near=report.near(section, draft.sections),
        )  # fmt: skip
        return
    at = read_number(draft, line, first.part(match.start(2)), "the distance", match[2], "m")
    exposure = fact.items[1].text.lower() if len(fact.items) > 1 else ""
    if exposure and exposure not in EXPOSURES:
        report.add(
            "unknown-word", line.spot(fact.items[1]), word=exposure, what="what a spot suffers",
            known=", ".join(EXPOSURES), near=report.near(exposure, EXPOSURES),
        )  # fmt: skip
        return
    if at is None:
        return
    whole = draft.sections[section]
    if not 0 <= at <= whole.length_m:
        report.add(
            "spot-beyond-section", line.spot(first.part(match.start(2))), name=name,
            place=show(at, "m"), section=section, length=show(whole.length_m, "m"), end=whole.a,
        )  # fmt: skip
        return
    draft.spots[name] = WeakSpot(
        name=name, section=section, at_m=at, exposure=exposure, origin=fact.origin
    )


@dataclass(slots=True)
class Tree:
    """The loom as a forest: for each place its parent, the section to it, and its depth."""

    parent: dict[str, tuple[str, str]] = field(default_factory=dict)
    depth: dict[str, int] = field(default_factory=dict)
    root: dict[str, str] = field(default_factory=dict)

    def path(self, a: str, b: str) -> tuple[str, ...] | None:
        """Sections from place a to place b, in order; None when they are not joined."""
        if a not in self.root or b not in self.root or self.root[a] != self.root[b]:
            return None
        up: list[str] = []
        down: list[str] = []
        while a != b:
            if self.depth[a] >= self.depth[b]:
                a, section = self.parent[a]
                up.append(section)
            else:
                b, section = self.parent[b]
                down.append(section)
        return (*up, *reversed(down))


def loom_tree(sections: Iterable[Section]) -> tuple[Tree, list[Section]]:
    """The tree of some sections, and those that would close a ring (left out of it)."""
    joined: dict[str, str] = {}

    def find(place: str) -> str:
        while joined.setdefault(place, place) != place:
            joined[place] = joined[joined[place]]
            place = joined[place]
        return place

    rings: list[Section] = []
    near: dict[str, list[tuple[str, str]]] = {}
    for section in sections:
        a, b = find(section.a), find(section.b)
        if a == b:
            rings.append(section)
            continue
        joined[a] = b
        near.setdefault(section.a, []).append((section.b, section.name))
        near.setdefault(section.b, []).append((section.a, section.name))
    tree = Tree()
    for start in near:
        if start in tree.root:
            continue
        tree.root[start], tree.depth[start] = start, 0
        stack = [start]
        while stack:
            place = stack.pop()
            for other, name in near[place]:
                if other not in tree.root:
                    tree.root[other] = start
                    tree.depth[other] = tree.depth[place] + 1
                    tree.parent[other] = (place, name)
                    stack.append(other)
    return tree, rings


def places(draft: Draft) -> Mapping[str, str]:
    """Where on the loom each part is: at a place of its own name, or at the branch point its
    `at` words start with (the longest one)."""
    points = dict.fromkeys(p for s in draft.sections.values() for p in (s.a, s.b))
    by_fold = {point.casefold(): point for point in points}
    found = {}
    for name, part in draft.parts.items():
        if name in points:
            found[name] = name
            continue
        words = part.where.casefold().split()
        for count in range(len(words), 0, -1):
            point = by_fold.get(" ".join(words[:count]))
            if point:
                found[name] = point
                break
    return found | {body: body for body in BODIES if body in points}


def find_routes(draft: Draft) -> None:
    """Fill in the sections each wire runs through: those it is said to be in, else the way
    along the tree. Rings are reported; unknown sections too."""
    tree, rings = loom_tree(draft.sections.values())
    for section in rings:
        draft.report.add(
            "loom-ring", section.origin.at, name=section.name, a=section.a, b=section.b
        )
    where = places(draft)
    whole = _run_whole(draft, where)
    cache: dict[tuple[str, str], tuple[str, ...] | None] = {}
    for hop in draft.hops:
        key = (where.get(hop.a.part, ""), where.get(hop.b.part, ""))
        if key not in cache:
            cache[key] = tree.path(*key)
        path = cache[key] or ()
        hop.stated = tuple(
            name
            for name in hop.stated
            if hop.line is None or name not in whole.get(hop.line.number, ()) or name in path
        )
        hop.route = _stated(draft, hop, path, key) if hop.stated else path


def _run_whole(draft: Draft, where: Mapping[str, str]) -> Mapping[int, set[str]]:
    """By line: the sections named there that one of its wires runs through from end to end. Such
    a section is meant for that wire alone, not for the others of the chain."""
    whole: dict[int, set[str]] = {}
    for hop in draft.hops:
        ends = {where.get(hop.a.part), where.get(hop.b.part)}
        for name in hop.stated:
            section = draft.sections.get(name)
            if section and hop.line and ends == {section.a, section.b}:
                whole.setdefault(hop.line.number, set()).add(name)
    return whole


def _stated(
    draft: Draft, hop: Hop, path: tuple[str, ...], ends: tuple[str, str]
) -> tuple[str, ...]:
    known = []
    for name in hop.stated:
        if name in draft.sections:
            known.append(name)
        elif hop.line:
            draft.report.add(
                "unknown-section", hop.line.spot(_where(hop, name)), name=name,
                near=draft.report.near(name, draft.sections),
            )  # fmt: skip
    if set(known) <= set(path):
        return path
    # Said otherwise than the tree: the book's word holds, in the order that joins up.
    if len(known) > 1 and ends[0]:
        last = draft.sections[known[-1]]
        if ends[0] in (last.a, last.b):
            known.reverse()
    return tuple(known)


def _where(hop: Hop, name: str) -> Bit | None:
    if hop.line is None:
        return None
    start = hop.line.body.text.rfind(name)
    return hop.line.body.part(start, start + len(name)) if start >= 0 else None
