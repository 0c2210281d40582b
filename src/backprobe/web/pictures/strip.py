"""The circuit as a strip: feed above, ground below, every path a straight line in a lane of its
own with its words to the right of the line.

What the lanes make sure of: no words on a line that runs down, no box on another, no line through
a box that is not its own. A box that a foreign line would cross is drawn in two pieces. Heights do
not depend on what is read, so a drawing stays as it is while its volts move.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from backprobe.book.values import printed_pins
from backprobe.web.pictures.columns import Spans, column_of
from backprobe.web.pictures.nearby import Mark, Marks
from backprobe.web.pictures.paths import Net, Path, Piece, net_of
from backprobe.web.pictures.text import lines, width
from backprobe.web.pictures.wiring import Link, Node, Wiring

LINE: Final = 16.0
MARKED: Final = 20.0
"""A suspected wire is so much longer, for its chance."""
BOLTED: Final = 56.0
BEAD: Final = 40.0
GAP: Final = 14.0
WORDS: Final = 9.0
"""Words begin so far right of their line."""
BESIDE: Final = 3.0
"""Words of a symbol begin so far right of it."""
BAR: Final = 7.0
"""Of a splice's bar above the lower edge of its symbol."""
TRIES: Final = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """A lane: room left of its line (half a symbol), for words right of it, and between lanes;
    `margin` around the drawing, `wire` the least height of a wire, px: on a phone each of its ends
    is 48 px high to a finger."""

    half: float
    room: float
    between: float
    margin: float
    wire: float

    @property
    def pitch(self) -> float:
        """From line to line."""
        return self.half + self.room + self.between


MOST_ROOM: Final = 126.0
"""Beside a line, px."""
PHONE: Final = Lane(half=11.0, room=81.0, between=2.0, margin=3.0, wire=98.0)
"""Four lanes on a screen of 390 px."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """A pin at the edge of a symbol: where its line meets it."""

    x: float
    y: float
    name: str
    node: Node
    above: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A symbol with its words. `again`: a further piece of a box that was drawn in several."""

    piece: Piece
    x0: float
    y0: float
    x1: float
    y1: float
    words: tuple[str, ...]
    pins: tuple[Pin, ...]
    mark: Mark | None = None
    again: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A link as a straight line down from `y0` to `y1`; its words stand at `words_y`, the first
    `names` of them its name. Marks: a suspect on the wire, or on the contact at one of its ends."""

    link: Link
    x: float
    y0: float
    y1: float
    high: Node
    low: Node
    words: tuple[str, ...]
    names: int
    words_y: float
    mark: Mark | None = None
    high_mark: Mark | None = None
    low_mark: Mark | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """An end of a line where a drawing was cut: it goes on at the other end of the same letter.
    `leaves`: the upper one, below its symbol."""

    x: float
    y0: float
    y1: float
    letter: str
    leaves: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A drawing, px. `dotted`: (x0, x1, y) between the pieces of one box."""

    width: float
    height: float
    lane: Lane
    boxes: tuple[Box, ...]
    runs: tuple[Run, ...]
    dotted: tuple[tuple[float, float, float], ...]
    turns: tuple[Turn, ...] = ()


def strip_of(wiring: Wiring, links: Sequence[Link], marks: Marks) -> Strip:
    """The drawing of some links of a book."""
    net = net_of(wiring, links)
    lane = Lane(half=15.0, room=_room(net), between=8.0, margin=12.0, wire=84.0)
    return _Layout(wiring, net, marks, lane, narrow=False).strip()


def phone_strip_of(wiring: Wiring, links: Sequence[Link], marks: Marks, wide: float) -> Strip:
    """The same for a phone: narrow lanes with more lines of words, as wide as its screen where
    that keeps words whole."""
    net = net_of(wiring, links)
    strip = _Layout(wiring, net, marks, PHONE, narrow=True).strip()
    lanes = round((strip.width - 2.0 * PHONE.margin) / PHONE.pitch)
    room = min(_room(net), PHONE.room + (wide - strip.width) / max(lanes, 1))
    if room <= PHONE.room:
        return strip
    return _Layout(wiring, net, marks, replace(PHONE, room=room), narrow=True).strip()


def wire_words(link: Link, room: float, *, narrow: bool = False) -> tuple[tuple[str, ...], int]:
    """A wire's name, its colour and its size in mm2 in lines that fit, and how many of them are
    the name; for a bolted joint that word."""
    wire = link.wire
    if wire is None:
        return ("bolted",), 0
    size = f"{wire.area_m2 * 1e6:.3g}"
    told = (wire.colour, size) if narrow else (f"{wire.colour} {size}".strip(),)
    name = lines(wire.name or wire.id, room - WORDS, bold=True)
    return (*name, *(line for line in told if line)), len(name)


def whole(strip: Strip) -> bool:
    """Whether no word of a name had to be broken."""
    names = ((run.link.wire.name or run.link.wire.id, run) for run in strip.runs if run.link.wire)
    return all(
        " ".join(box.words).startswith((box.piece.part, box.piece.key)) for box in strip.boxes
    ) and all(" ".join(run.words[: run.names]) == name for name, run in names)


def _room(net: Net) -> float:
    """Room beside a line for the longest words, within reason."""
    rooms = [64.0]
    for path in net.paths:
        for link in path.links:
            words, names = wire_words(link, MOST_ROOM)
            rooms += [width(word, bold=k < names) for k, word in enumerate(words)]
        for key in path.between:
            longest = max(net.pieces[key].part.split(), key=len)
            rooms.append(width(key if "." in key else longest, bold=True) + 12.0)
    bars = [max(net.pieces[bar].part.split(), key=len) for bar in net.bars]
    beside = [width(word, bold=True) + 2.0 for word in bars]
    return min(MOST_ROOM, max([max(rooms) + WORDS + 4.0, *beside]))


class _Layout:
    def __init__(self, wiring: Wiring, net: Net, marks: Marks, lane: Lane, *, narrow: bool) -> None:
        self.wiring, self.net, self.marks, self.lane = wiring, net, marks, lane
        self.narrow = narrow
        self.need = {path.number: self.length(path) for path in net.paths}
        self.cut: dict[str, set[int]] = {}
        column = dict.fromkeys(range(len(net.paths)), 0)
        self.column = column
        first = self.heights(one_wide=True)
        spans = Spans(
            bars=first,
            paths=[(first[path.top][1], first[path.bottom][0]) for path in net.paths],
        )
        self.column = column_of(net, spans)

    # ---------------------------------------------------------------- heights

    def length(self, path: Path) -> float:
        lengths = [self.least(link) for link in path.links]
        return sum(lengths) + sum(self.bead_height(key) for key in path.between)

    def least(self, link: Link) -> float:
        if link.wire is None:
            return BOLTED
        words, _ = wire_words(link, self.lane.room, narrow=self.narrow)
        more = max(0, len(words) - (3 if self.narrow else 2))
        marked = MARKED if link.ident in self.marks.wires else 0.0
        return self.lane.wire + marked + LINE * more

    def bead_height(self, key: str) -> float:
        count = len(self.bead_words(key)) + (self.mark(key) is not None)
        return max(BEAD, LINE * count + 8.0)

    def bead_words(self, key: str) -> tuple[str, ...]:
        piece = self.net.pieces[key]
        return lines(
            key if piece.shape == "plug" else piece.part,
            self.lane.room - self.lane.half - BESIDE,
            bold=True,
        )

    def mark(self, key: str) -> Mark | None:
        """The suspect a symbol stands for: the part, or the way of a plug."""
        piece = self.net.pieces[key]
        if piece.shape == "plug":
            way = (piece.part, key.removeprefix(f"{piece.part}."))
            return self.marks.contacts.get(way) or self.marks.parts.get(piece.part)
        return self.marks.parts.get(piece.part)

    def contact(self, link: Link, node: Node) -> Mark | None:
        """The suspect at a contact or lug, when its symbol does not show it."""
        if self.wiring.is_plug(node.part):
            return None
        lug = self.marks.lugs.get((node.part, link.ident))
        return lug or self.marks.contacts.get((node.part, node.pin))

    def pin_name(self, node: Node) -> str:
        """A pin, with what is printed on it where that is something else."""
        part = self.wiring.layout.book.parts.get(node.part)
        name = printed_pins(part).get(node.pin, node.pin) if part else node.pin
        return node.pin if name == node.pin else f"{node.pin} ({name})"

    def columns(self, bar: str) -> list[int]:
        return sorted(
            {self.column[path.number] for path in self.net.paths if bar in (path.top, path.bottom)}
        )

    def groups(self, bar: str) -> list[list[int]]:
        """Columns of a bar's pieces: one, unless foreign paths cut it."""
        groups: list[list[int]] = []
        for column in self.columns(bar):
            apart = groups and any(groups[-1][-1] < c < column for c in self.cut.get(bar, ()))
            if groups and not apart:
                groups[-1].append(column)
            else:
                groups.append([column])
        return groups

    def words(self, bar: str, columns: Sequence[int]) -> tuple[str, ...]:
        piece = self.net.pieces[bar]
        inside = piece.shape == "box"
        across = (columns[-1] - columns[0]) * self.lane.pitch if inside else 0.0
        room = across + self.lane.room + (self.lane.half - 8.0 if inside else -2.0)
        if not piece.more:
            return lines(piece.part, room, bold=True)
        if self.wiring.is_plug(piece.part):
            return (*lines(bar, room, bold=True), "goes on")
        return (*lines(piece.part, room, bold=True), f"+{piece.more} more")

    def bar_height(self, bar: str, columns: Sequence[int]) -> float:
        """Of a bar's symbol and words: a box keeps a line above and below for its pins."""
        count = len(self.words(bar, columns)) + (self.mark(bar) is not None)
        shape = self.net.pieces[bar].shape
        if shape == "splice":
            return LINE * count + 12.0
        if shape == "ground":
            return LINE * count + 22.0
        ins, outs = self.sides(bar)
        return LINE * (count + ins + outs) + 12.0

    def sides(self, bar: str) -> tuple[bool, bool]:
        ins = any(path.bottom == bar for path in self.net.paths)
        outs = any(path.top == bar for path in self.net.paths)
        return ins, outs

    def heights(self, *, one_wide: bool = False) -> dict[str, tuple[float, float]]:
        """Top and bottom of every bar, from the feed down; bars in each other's way move down."""
        found: dict[str, tuple[float, float]] = {}
        depth = {bar: number for number, bar in enumerate(self.net.bars)}
        rough: dict[str, float] = {}
        for bar in self.net.bars:
            rough[bar] = max(
                (rough[p.top] + self.need[p.number] for p in self.net.paths if p.bottom == bar),
                default=0.0,
            )
        for bar in sorted(self.net.bars, key=lambda one: (rough[one], depth[one])):
            groups = [[0]] if one_wide else self.groups(bar)
            high = max(self.bar_height(bar, columns) for columns in groups)
            y = max(
                (found[p.top][1] + self.need[p.number] for p in self.net.paths if p.bottom == bar),
                default=self.lane.margin,
            )
            if not one_wide:
                span = self.columns(bar)
                moved = True
                while moved:
                    moved = False
                    for other, (top, bottom) in found.items():
                        theirs = self.columns(other)
                        beside = span[-1] < theirs[0] or theirs[-1] < span[0]
                        if not beside and y < bottom + GAP and top < y + high + GAP:
                            y, moved = bottom + GAP, True
            found[bar] = (y, y + high)
        return found

    # ---------------------------------------------------------------- the drawing

    def strip(self) -> Strip:
        bars: dict[str, tuple[float, float]] = {}
        placed: dict[int, list[tuple[float, float]]] = {}
        for _ in range(TRIES):
            bars = self.heights()
            if self.cut_boxes(bars):
                continue
            placed = {path.number: self.place(path, bars) for path in self.net.paths}
            late = [p for p in self.net.paths if placed[p.number][-1][1] > bars[p.bottom][0] + 0.01]
            for path in late:
                self.need[path.number] += placed[path.number][-1][1] - bars[path.bottom][0]
            if not late:
                break
        boxes = [box for bar in self.net.bars for box in self.boxes(bar, bars[bar])]
        runs: list[Run] = []
        for path in self.net.paths:
            run, between = self.drawn(path, bars, placed[path.number])
            runs += run
            boxes += between
        wide = max((self.column[path.number] for path in self.net.paths), default=0) + 1
        return Strip(
            width=2.0 * self.lane.margin + wide * self.lane.pitch - self.lane.between,
            height=max((bottom for _, bottom in bars.values()), default=0.0) + self.lane.margin,
            lane=self.lane,
            boxes=tuple(boxes),
            runs=tuple(runs),
            dotted=tuple(self.dotted(boxes)),
        )

    def x(self, column: int) -> float:
        return self.lane.margin + column * self.lane.pitch + self.lane.half

    def cut_boxes(self, bars: Mapping[str, tuple[float, float]]) -> bool:
        """Note the foreign columns that cut a box; whether there was a new one."""
        fresh = False
        for bar, (top, bottom) in bars.items():
            if self.net.pieces[bar].shape != "box":
                continue
            columns = self.columns(bar)
            for path in self.net.paths:
                c = self.column[path.number]
                if bar in (path.top, path.bottom) or not columns[0] < c < columns[-1]:
                    continue
                y0, y1 = bars[path.top][1], bars[path.bottom][0]
                known = self.cut.setdefault(bar, set())
                if y0 < bottom and y1 > top and c not in known:
                    known.add(c)
                    fresh = True
        return fresh

    def crossing(
        self, path: Path, bars: Mapping[str, tuple[float, float]]
    ) -> list[tuple[float, float]]:
        """Heights at which a foreign bar or its dotted link runs across a path."""
        c = self.column[path.number]
        found = []
        for bar, (top, bottom) in bars.items():
            columns = self.columns(bar)
            if bar not in (path.top, path.bottom) and columns[0] < c < columns[-1]:
                found.append((top, bottom))
        return sorted(found)

    def place(
        self, path: Path, bars: Mapping[str, tuple[float, float]]
    ) -> list[tuple[float, float]]:
        """Top and bottom of every link of a path; symbols between them keep clear of bars that
        run across. The last may end below the path's end: then there was no room."""
        y, end = bars[path.top][1], bars[path.bottom][0]
        slack = max(0.0, end - y - self.length(path)) / len(path.links)
        across = self.crossing(path, bars)
        found: list[tuple[float, float]] = []
        for spread in (slack, 0.0):
            found = []
            at = y
            for number, link in enumerate(path.links):
                stop = at + self.least(link) + spread
                if number == len(path.links) - 1:
                    found.append((at, max(stop, end) if stop > end + 0.01 else end))
                    break
                high = self.bead_height(path.between[number])
                for top, bottom in across:
                    if stop < bottom + 4.0 and top < stop + high + 4.0:
                        stop = bottom + 4.0
                found.append((at, stop))
                at = stop + high
            if found[-1][1] <= end + 0.01:
                break
        return found

    def boxes(self, bar: str, at: tuple[float, float]) -> list[Box]:
        piece = self.net.pieces[bar]
        found: list[Box] = []
        for number, columns in enumerate(self.groups(bar)):
            words = self.words(bar, columns)
            x0, x1 = self.x(columns[0]) - self.lane.half, self.x(columns[-1]) + self.lane.room
            pins = tuple(self.pins(bar, columns, at))
            found.append(
                Box(
                    piece=piece, x0=x0, y0=at[0], x1=x1, y1=at[1], words=words, pins=pins,
                    mark=self.mark(bar), again=number > 0,
                )
            )  # fmt: skip
        return found

    def pins(self, bar: str, columns: Sequence[int], at: tuple[float, float]) -> list[Pin]:
        found = []
        for path in self.net.paths:
            c = self.column[path.number]
            if c not in columns:
                continue
            if path.bottom == bar:
                node = path.ends[-1][1]
                found.append(
                    Pin(x=self.x(c), y=at[0], name=self.pin_name(node), node=node, above=True)
                )
            if path.top == bar:
                node = path.ends[0][0]
                found.append(
                    Pin(x=self.x(c), y=at[1], name=self.pin_name(node), node=node, above=False)
                )
        return found

    def drawn(
        self,
        path: Path,
        bars: Mapping[str, tuple[float, float]],
        placed: Sequence[tuple[float, float]],
    ) -> tuple[list[Run], list[Box]]:
        x = self.x(self.column[path.number])
        across = self.crossing(path, bars)
        told = [wire_words(link, self.lane.room, narrow=self.narrow) for link in path.links]
        runs = [
            Run(
                link=link,
                x=x,
                y0=y0,
                y1=y1,
                high=high,
                low=low,
                words=words,
                names=names,
                words_y=_clear(y0, y1, across),
                mark=self.marks.wires.get(link.ident),
                high_mark=self.contact(link, high),
                low_mark=self.contact(link, low),
            )
            for link, (high, low), (y0, y1), (words, names) in zip(
                path.links, path.ends, placed, told, strict=True
            )
        ]
        boxes = []
        for number, key in enumerate(path.between):
            y0, y1 = placed[number][1], placed[number + 1][0]
            above, below = path.ends[number][1], path.ends[number + 1][0]
            boxes.append(
                Box(
                    piece=self.net.pieces[key],
                    x0=x - self.lane.half,
                    y0=y0,
                    x1=x + self.lane.room,
                    y1=y1,
                    words=self.bead_words(key),
                    mark=self.mark(key),
                    pins=(
                        Pin(x=x, y=y0, name=self.pin_name(above), node=above, above=True),
                        Pin(x=x, y=y1, name=self.pin_name(below), node=below, above=False),
                    ),
                )
            )
        return runs, boxes

    def dotted(self, boxes: Sequence[Box]) -> list[tuple[float, float, float]]:
        found = []
        last: Box | None = None
        for box in boxes:
            if box.again and last is not None:
                found.append((last.x1, box.x0, (box.y0 + box.y1) / 2.0))
            last = box
        return found


def _clear(y0: float, y1: float, across: Sequence[tuple[float, float]]) -> float:
    """The middle of the widest stretch of a line that nothing runs across."""
    edges = [y0]
    for top, bottom in across:
        if y0 < bottom and top < y1:
            edges += [max(y0, top), min(y1, bottom)]
    edges.append(y1)
    stretches = [(edges[k + 1] - edges[k], k) for k in range(0, len(edges), 2)]
    widest = max(stretches, key=lambda one: (one[0], -one[1]))[1]
    return (edges[widest] + edges[widest + 1]) / 2.0
