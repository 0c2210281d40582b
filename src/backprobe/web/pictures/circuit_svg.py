"""The circuit strip as SVG: lines in the wires' own colours, plain symbols, volts at every end.

Symbols are the plain ones of circuit drawing (a rectangle with a line through it is a fuse, three
shrinking lines are ground: IEC 60617, from memory); everything else is a box with its name.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

from backprobe.kinds import KINDS
from backprobe.web.pictures import svg
from backprobe.web.pictures.colours import shades
from backprobe.web.pictures.nearby import Mark
from backprobe.web.pictures.strip import BAR, BESIDE, LINE, WORDS, Box, Lane, Run, Strip, Turn
from backprobe.web.pictures.text import fitting, width
from backprobe.web.pictures.wiring import Node, Wiring

LEAD: Final = 14.5
"""From one line of a wire's words to the next, px."""
FUSES: Final = ("fuse", "fusible link", "circuit breaker")


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """What stands at a pin: volts in words. `moved`: otherwise than on a healthy machine; `read`:
    from the meter, not worked out. `name`: the pin for those who cannot see the picture."""

    words: str
    moved: bool = False
    read: bool = False
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What is written into a strip. `values` and `leads` ("red", "black") by place for a probe;
    `chosen`: the place looked at; `off`: parts unplugged or pulled; `address`: where a press on a
    place leads."""

    values: Mapping[str, Value] = field(default_factory=dict)
    leads: Mapping[str, str] = field(default_factory=dict)
    chosen: str = ""
    off: frozenset[str] = frozenset()
    address: Callable[[str], str] = field(default=lambda probe: f"#{probe}")


def circuit_svg(wiring: Wiring, strip: Strip, shown: Shown, *, key: str, title: str) -> str:
    """The drawing. `key` tells the drawings of a page apart."""
    parts = list(dict.fromkeys(box.piece.part for box in strip.boxes))
    wires = [run.link.ident for run in strip.runs if run.link.wire]
    describe = (
        f"Feed above, ground below. {len(parts)} parts: {', '.join(parts)}. "
        f"{len(wires)} wires: {', '.join(wires)}. The same as a table stands below."
    )
    if strip.turns:
        describe += " A letter in a ring: it goes on at the other ring with that letter."
    drawn: list[str] = []
    drawn += [svg.across(x0, x1, y, "dots") for x0, x1, y in strip.dotted]
    drawn += [_bar(box) for box in strip.boxes if box.piece.shape == "splice"]
    drawn += [_line(run) for run in strip.runs]
    drawn += [_turn(turn) for turn in strip.turns]
    drawn += [
        _symbol(wiring, strip.lane, box, off=box.piece.part in shown.off) for box in strip.boxes
    ]
    for run in strip.runs:
        drawn.append(_words(run, strip.lane.room))
        drawn += [_end(run, strip, shown, node) for node in (run.high, run.low)]
    return svg.picture(
        "".join(drawn), width=strip.width, height=strip.height, key=key, title=title,
        describe=describe, class_="strip",
    )  # fmt: skip


# ------------------------------------------------------------------ lines


def _line(run: Run) -> str:
    if run.link.wire is None:
        return svg.down(run.x, run.y0, run.y1, "bolt")
    main, *second = shades(run.link.wire.colour)
    found = [svg.down(run.x, run.y0, run.y1, "sus")] if run.mark else []
    found.append(svg.down(run.x, run.y0, run.y1, "edge"))
    found.append(svg.down(run.x, run.y0, run.y1, "wire", stroke=main))
    found += [svg.down(run.x, run.y0, run.y1, "two", stroke=shade) for shade in second]
    return "".join(found)


def _turn(turn: Turn) -> str:
    """Where the drawing was cut: the line, and its letter in a ring at the loose end."""
    radius = 10.0
    y = turn.y1 - radius - 1.0 if turn.leaves else turn.y0 + radius + 1.0
    ends = (turn.y0, y - radius) if turn.leaves else (y + radius, turn.y1)
    return (
        svg.down(turn.x, *ends, "stub")
        + svg.tag("circle", cx=turn.x, cy=y, r=radius, class_="turn")
        + svg.words(turn.letter, turn.x, y + 4.5, "name mid")
    )


def _words(run: Run, room: float) -> str:
    """Name, colour and size of a wire beside the middle of its line, a suspect's chance above."""
    x = run.x + WORDS
    y = run.words_y - (len(run.words) * LEAD - LINE * bool(run.mark)) / 2.0 + 10.0
    found = [_badge(run.mark, x, y - LINE - 2.0)] if run.mark else []
    for number, line in enumerate(run.words):
        name = number < run.names
        kept = fitting(line, room - WORDS, bold=name)
        found.append(svg.words(kept, x, y + LEAD * number, "name" if name else ""))
    return "".join(found)


def _badge(mark: Mark, x: float, y: float) -> str:
    words = badge_words(mark)
    return svg.block(
        x - 3.0, y - 12.0, x + width(words, bold=True) + 2.5, y + 3.5, "badge", rx=3.0
    ) + svg.words(words, x, y, "on-badge")


def badge_words(mark: Mark) -> str:
    """A suspect's number and chance: "1: 27 %"."""
    return f"{mark.number}: {max(1.0, 100.0 * mark.chance):.0f}\u00a0%"


# ------------------------------------------------------------------ ends


def _end(run: Run, strip: Strip, shown: Shown, node: Node) -> str:
    """A pin: its dot, its volts, a meter lead, and the half of the line that answers a finger."""
    lane, high = strip.lane, node == run.high
    tip = run.link.a if run.link.a.node == node else run.link.b
    y = run.y0 if high else run.y1
    if not tip.probe:
        return ""
    value = shown.values.get(tip.probe)
    base = y + 17.0 if high else y - 8.0
    found = []
    middle = (run.y0 + run.y1) / 2.0
    low, top = (run.y0, middle) if high else (middle, run.y1)
    if run.link.wire is None:
        low, top = run.y0, run.y1
    dot = y + (5.0 if high else -5.0)
    found.append(svg.block(run.x - lane.half, low, run.x + lane.room, top, "hit"))
    if tip.probe == shown.chosen:
        found.append(svg.tag("circle", cx=run.x, cy=dot, r=7.5, class_="chosen"))
    if (high and run.high_mark) or (not high and run.low_mark):
        found.append(svg.tag("circle", cx=run.x, cy=dot, r=9.0, class_="ring"))
    found.append(svg.tag("circle", cx=run.x, cy=dot, r=4.5, class_="pin"))
    lead = shown.leads.get(tip.probe, "")
    x = run.x + (15.0 if lead else 10.0)
    if value and (high or value.read or value.words != _other(run, shown)):
        kind = "read" if value.read else "volts moved" if value.moved else "volts"
        if value.read:
            room = width(value.words, bold=True)
            found.append(svg.block(x - 3.0, base - 12.0, x + room + 4.0, base + 4.0, "boxed"))
        found.append(svg.words(value.words, x, base, kind))
    if lead:
        at = y + 17.0 if high else y - 17.0
        found.append(svg.tag("circle", cx=run.x, cy=at, r=11.0, class_=f"lead-{lead}"))
        found.append(svg.words("R" if lead == "red" else "B", run.x, at + 4.5, "on-lead"))
    name = f"{value.name}: {value.words}" if value else tip.probe
    return svg.tag("a", "".join(found), href=shown.address(tip.probe), aria_label=name)


def _other(run: Run, shown: Shown) -> str:
    tip = run.link.a if run.link.a.node == run.high else run.link.b
    value = shown.values.get(tip.probe)
    return value.words if value else ""


# ------------------------------------------------------------------ symbols


def _bar(box: Box) -> str:
    """A splice: a bar with a dot at every line, its words above it."""
    y = box.y1 - BAR
    xs = [pin.x for pin in box.pins]
    found = [svg.across(min(xs), max(xs), y, "bar")] if len(set(xs)) > 1 else []
    found += [svg.down(pin.x, box.y0, y, "stub") for pin in box.pins if pin.above]
    found += [svg.down(pin.x, y, box.y1, "stub") for pin in box.pins if not pin.above]
    found += [svg.tag("circle", cx=x, cy=y, r=5.0, class_="dot") for x in dict.fromkeys(xs)]
    return "".join(found)


def _symbol(wiring: Wiring, lane: Lane, box: Box, *, off: bool) -> str:
    shape = box.piece.shape
    if shape == "splice":
        found = _named(box, min(p.x for p in box.pins) + 9.0, box.y0 + 13.0)
    elif shape == "ground":
        found = _ground(box)
    elif shape == "plug":
        found = _plug(lane, box, off=off)
    elif shape == "bead":
        found = _bead(wiring, lane, box, off=off)
    else:
        found = _box(wiring, box, off=off)
    return found


def _named(box: Box, x: float, y: float) -> str:
    """The words of a symbol, a suspect's chance above them."""
    found = []
    if box.mark:
        found.append(_badge(box.mark, x, y))
        y += LINE
    for number, line in enumerate(box.words):
        more = line.startswith("+") and number == len(box.words) - 1
        found.append(svg.words(line, x, y + number * LINE, "soft" if more else "name"))
    return "".join(found)


def _ground(box: Box) -> str:
    x, y = box.pins[0].x, box.y0
    marks = [svg.down(x, y, y + 6.0, "stub")]
    marks += [svg.across(x - w, x + w, y + 6.0 + 5.0 * k, "bolt") for k, w in enumerate((12, 7, 3))]
    return "".join(marks) + _named(box, x + 17.0, y + 14.0)


def _plug(lane: Lane, box: Box, *, off: bool) -> str:
    """A way of a plug: a round socket over a pin."""
    x, middle = box.pins[0].x, (box.y0 + box.y1) / 2.0
    cup = f"M{svg.number(x - 8)} {svg.number(middle + 2)}a8 8 0 0 1 16 0"
    found = [
        svg.down(x, box.y0, middle - 6.0, "stub"),
        svg.tag("path", d=cup, class_="cup off" if off else "cup"),
        svg.block(x - 3.0, middle - 1.0, x + 3.0, middle + 9.0, "peg"),
        svg.down(x, middle + 9.0, box.y1, "stub"),
    ]
    return "".join(found) + _beside(lane, box)


def _bead(wiring: Wiring, lane: Lane, box: Box, *, off: bool) -> str:
    """A part with two ends on its line."""
    x = box.pins[0].x
    part = wiring.layout.book.parts[box.piece.part]
    kind = KINDS[part.kind].name
    top, bottom = box.y0 + 2.0, box.y1 - 2.0
    if kind in FUSES:
        middle = (top + bottom) / 2.0
        body = svg.block(x - 7.0, middle - 15.0, x + 7.0, middle + 15.0, _filled(box, off=off))
        return body + svg.down(x, box.y0, box.y1, "stub") + _beside(lane, box)
    found = [
        svg.down(x, box.y0, box.y1, "stub"),
        svg.block(x - lane.half, top + 1.0, x + lane.half, bottom - 1.0, _filled(box, off=off)),
    ]
    plain = len(KINDS[part.kind].pins) <= 2
    for pin in box.pins:
        if pin.name and not pin.name.startswith("@") and not (plain and pin.name in ("1", "2")):
            y = top + 14.0 if pin.above else bottom - 5.0
            found.append(svg.words(fitting(pin.name, 2.0 * lane.half), x, y, "pin-name mid"))
    return "".join(found) + _beside(lane, box)


def _beside(lane: Lane, box: Box) -> str:
    count = len(box.words) + bool(box.mark)
    return _named(
        box, box.pins[0].x + lane.half + BESIDE, (box.y0 + box.y1 - LINE * count) / 2.0 + 12.5
    )


def _box(wiring: Wiring, box: Box, *, off: bool) -> str:
    found = [svg.block(box.x0, box.y0, box.x1, box.y1, _filled(box, off=off), rx=4.0)]
    above = any(pin.above for pin in box.pins)
    for pin in box.pins:
        if not pin.name or pin.name.startswith("@") or wiring.is_plug(box.piece.part):
            continue
        y = box.y0 + 14.0 if pin.above else box.y1 - 5.0
        found.append(svg.words(pin.name, pin.x - 4.0, y, "pin-name"))
    y = box.y0 + 14.0 + (LINE + 2.0 if above else 0.0)
    return "".join(found) + _named(box, box.x0 + 7.0, y)


def _filled(box: Box, *, off: bool) -> str:
    return f"box{' sus-box' if box.mark else ''}{' off' if off else ''}"
