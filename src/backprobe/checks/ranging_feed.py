"""How a lamp feeds a line: in place of which fuse, or from the battery; what must be off so that
all the current goes into the short; and where no lamp belongs."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Final, Literal

from backprobe.book.model import BODIES, MINUS, End
from backprobe.checks.layout import Layout
from backprobe.suspects.line import Line

FUSE: Final = "fuse"
HANDS_ON: Final = ("fuse", "link", "breaker", "isolator", "switch", "relay", "diode")
"""How the names of kinds end that hand the supply on to the next wire."""
COIL: Final = ("85", "86")
"""A relay's coil. DIN 72552."""
FAR: Final = 60
"""Wires from one end of a net to the other are fewer than this."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """`by`: what ranges the line, "" when nothing does. `fuse` whose place the lamp takes ("" = none); `source`, `touches`: the places between which
    it is fitted; `fed`: the end of the line its current enters by. `unplugged`, `pulled`: what is
    off, the fuse included. `barred`: why no lamp may feed this line, "" when it may."""

    by: Literal["lamp", "milliohm meter", ""]
    fuse: str
    source: str
    touches: str
    fed: str
    unplugged: tuple[str, ...]
    pulled: tuple[str, ...]
    barred: str


def feed_of(layout: Layout, line: Line) -> Feed:
    """How to feed a line with a lamp."""
    net = layout.net_at(line.start)
    members = tuple(sorted(layout.members.get(net, ()), key=lambda end: layout.order[end]))
    parts = [
        part for part in dict.fromkeys(end.part for end in members) if _comes_off(layout, part)
    ]
    fuses = [name for name in parts if layout.book.parts[name].kind == FUSE]
    live = _live(layout, but=net)
    feeders = {
        name: (here, there)
        for name in (*fuses, *parts)
        for here in _ways(layout, name)
        for there in _ways(layout, name)
        if layout.net[here] == net and layout.net[there] in live
    }
    feeder = next(iter(feeders), "")
    fuse = feeder if feeder in fuses else ""
    at, source = feeders.get(feeder, (None, None))
    touches = layout.ends[at].node if at is not None else line.start
    batteries = [name for name in layout.book.parts if _is_battery(layout, name)]
    grounded, barred = _barred(layout, line, members)
    return Feed(
        by="" if grounded else "milliohm meter" if barred else "lamp",
        fuse=fuse,
        source=layout.ends[source].node
        if fuse and source is not None
        else f"{next(iter(batteries), '')}.+",
        touches=touches,
        fed=touches if touches in line.points else _nearer(layout, line, at),
        unplugged=tuple(name for name in parts if name not in fuses),
        pulled=tuple(fuses),
        barred=barred,
    )


def _comes_off(layout: Layout, name: str) -> bool:
    """A part, not a mere joint of wires."""
    kind = layout.kind(name)
    knot = kind is not None and kind.joint in ("stud", "crimp") and len(kind.pins) <= 1
    joins = kind is not None and kind.name in ("plug", "battery")
    return kind is not None and not joins and not (knot and not kind.load)


def _live(layout: Layout, but: int) -> frozenset[int]:
    """Nets that may have the battery's plus without help of one of them: through what hands the
    supply on, never through metal."""
    shut = {
        number
        for number, ends in layout.members.items()
        if any(end.part in BODIES or layout.ends[end].node == MINUS for end in ends)
    } | {but}
    posts = [end for end in layout.ends if end.pin == "+" and _is_battery(layout, end.part)]
    found = {layout.net[end] for end in posts} - shut
    todo = deque(found)
    while todo:
        number = todo.popleft()
        for here in layout.members[number]:
            ways = _ways(layout, here.part)
            if here in ways:
                more = {layout.net[end] for end in ways} - found - shut
                found |= more
                todo.extend(more)
    return frozenset(found)


def _ways(layout: Layout, name: str) -> tuple[End, ...]:
    """The ends of a part that hands the supply on; a relay's coil does not."""
    kind = layout.kind(name)
    if kind is None or not kind.name.endswith(HANDS_ON):
        return ()
    ends = layout.end_at.get(name, ())
    return tuple(end for end in ends if not (kind.load and end.pin in COIL))


def _is_battery(layout: Layout, name: str) -> bool:
    part = layout.book.parts.get(name)
    return part is not None and part.kind == "battery"


def _nearer(layout: Layout, line: Line, feeder: End | None) -> str:
    """The end of the line nearer to what feeds its net."""
    far = layout.distance([feeder] if feeder is not None else [], FAR)

    def away(node: str) -> int:
        touch = layout.touch.get(node)
        return far.get(End(touch.part, touch.pin, touch.side), FAR) if touch else FAR

    return min((line.start, line.end), key=away)


def _barred(layout: Layout, line: Line, members: tuple[End, ...]) -> tuple[bool, str]:
    """Whether metal hides the short, and why no lamp may feed the line ("" = it may)."""
    for end in members:
        if end.part in BODIES or layout.ends[end].node == MINUS:
            return True, (
                "No lamp here: this wire is joined to metal as it should be, so a current does not "
                "tell a bare place from its own ground."
            )
    post = next((end.part for end in members if _is_battery(layout, end.part)), "")
    if post:
        return False, (
            f"No lamp here: {post} feeds this line without a fuse, so it burns before it can be "
            "read. Battery minus off; a milliohm meter from both ends, everything else off."
        )
    why = layout.sensitive(line.start) or layout.sensitive(line.end)
    if why:
        return False, (
            f"No lamp here: {why} hangs on this line. Use a milliohm meter from both ends, battery "
            "minus off, the unit and everything else on it unplugged."
        )
    return False, ""
