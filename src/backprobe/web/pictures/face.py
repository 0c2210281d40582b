"""A plug's face as a drawing: numbered places in a rounded body, the pins to probe marked.

Narrow enough for a small phone. Where the numbers do not fit into the places they stand at the
ends of the rows only. A marked pin is dark with a thick edge, its lead's letter in a tag above it.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Final

from backprobe.checks.faces import BLACK, RED, FaceView, PinMark
from backprobe.web.pictures import svg
from backprobe.web.pictures.text import width

ROOM: Final = 252.0
"""What a phone of 320 px leaves inside a check, px."""
SIZE: Final = 12.0
"""Size of the words, px."""
WIDEST: Final = 36.0
HIGH: Final = 22.0
GAP: Final = 4.0
CLOSE: Final = 3.0
"""Least from the number in one place to that in the next, px."""
BODY: Final = 9.0
"""From the edge of the body to its places, px."""
TAG: Final = 8.5
TAGS: Final = 22.0
"""Half a tag's width, and the height a row of tags takes above its row."""
EDGE: Final = 1.5
"""Room for the line around the body, px."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A place for a terminal by its corners. `words` in it, "" where there is no room for them."""

    x0: float
    y0: float
    x1: float
    y1: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """A letter above a marked place: `x`, `y` its middle, `place` what it belongs to."""

    letter: str
    x: float
    y: float
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A row of places from the left edge `x`; `ends`: numbers beside it, left and right."""

    places: tuple[Place, ...]
    ends: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A face in px. `body`: its left and right edge; it is as high as the drawing."""

    width: float
    height: float
    body: tuple[float, float]
    rows: tuple[Row, ...]
    tags: tuple[Tag, ...]


def face_drawing(view: FaceView) -> Drawing:
    """Where everything goes."""
    labels = [[cavity.label for cavity in row] for row in view.rows]
    most = max(len(row) for row in labels)
    written = max(width(label, SIZE) for row in labels for label in row)
    inside = ROOM - 2.0 * (BODY + EDGE)
    numbered = most * (written + CLOSE) <= inside
    margin = 0.0 if numbered else max(width(end, SIZE) for r in labels for end in (r[0], r[-1])) + 4
    pitch = min(max(WIDEST, written + 2.0 * GAP), (inside - 2.0 * margin) / most)
    gap = min(GAP, max(pitch - written - 1.0, CLOSE - 1.0) if numbered else pitch / 3.0)
    left = EDGE + margin
    right = left + most * pitch + 2.0 * BODY
    rows: list[Row] = []
    tags: list[Tag] = []
    y = EDGE + BODY
    for number, names in enumerate(labels, 1):
        marks = [mark for mark in view.marks if mark.row == number]
        y += TAGS if marks else 0.0
        start = (left + right - len(names) * pitch) / 2.0
        places = tuple(
            Place(
                x0=start + k * pitch + gap / 2.0,
                y0=y,
                x1=start + (k + 1) * pitch - gap / 2.0,
                y1=y + HIGH,
                words=name if numbered else "",
            )
            for k, name in enumerate(names)
        )
        beside = () if numbered else ((names[0], EDGE), (names[-1], right + margin))
        rows.append(Row(places=places, ends=beside))
        tags += _tags(marks, places, left + BODY, right - BODY)
        y += HIGH + GAP
    return Drawing(
        width=right + margin + EDGE, height=y - GAP + BODY + EDGE, body=(left, right),
        rows=tuple(rows), tags=tuple(tags),
    )  # fmt: skip


def _tags(marks: list[PinMark], places: tuple[Place, ...], left: float, right: float) -> list[Tag]:
    """The tags of a row: above their places where that can be, else side by side."""
    wide = 2.0 * TAG + 1.0
    by_place: dict[int, str] = {}
    for mark in marks:
        letters = by_place.get(mark.place, "")
        by_place[mark.place] = letters if mark.letter in letters else letters + mark.letter
    singles = [(place, letter) for place in sorted(by_place) for letter in by_place[place]]
    wide = min(wide, (right - left) / max(len(singles), 1))
    xs: list[float] = []
    for k, (place, _) in enumerate(singles):
        one = places[place - 1]
        x = max((one.x0 + one.x1) / 2.0, left + wide / 2.0)
        xs.append(max(x, xs[-1] + wide) if k else x)
    for k in range(len(xs) - 1, -1, -1):
        most = right - wide / 2.0 if k == len(xs) - 1 else xs[k + 1] - wide
        xs[k] = min(xs[k], most)
    return [
        Tag(letter=letter, x=x, y=places[0].y0 - TAGS / 2.0 - 1.5, place=places[place - 1])
        for x, (place, letter) in zip(xs, singles, strict=True)
    ]


def face_svg(view: FaceView, name: str) -> str:
    """The drawing as SVG, `name` for those who cannot see it. Rows are lines of their own, the
    same wherever they stand."""
    drawing = face_drawing(view)
    left, right = drawing.body
    lines = [svg.block(left, EDGE, right, drawing.height - EDGE, "body", rx=12.0)]
    for row in drawing.rows:
        lines += [f'<g transform="translate(0 {svg.number(row.places[0].y0)})">', _row(row), "</g>"]
    marked = {tag.place: tag for tag in drawing.tags}
    lines += [_marked(place) for place in marked]
    lines += [_tag(tag) for tag in drawing.tags]
    head = (
        f'<svg class="face" role="img" aria-label="{escape(name)}" '
        f'viewBox="0 0 {svg.number(drawing.width)} {svg.number(drawing.height)}" '
        f'width="{svg.number(drawing.width)}" height="{svg.number(drawing.height)}">'
    )
    return "\n".join([head, *lines, "</svg>"])


def _row(row: Row) -> str:
    """The places of a row and what is written in them, counted from the row's upper edge."""
    boxes = "".join(
        f"M{svg.number(place.x0)} 0h{svg.number(place.x1 - place.x0)}v{svg.number(HIGH)}"
        f"h-{svg.number(place.x1 - place.x0)}z"
        for place in row.places
    )
    words = "".join(
        f'<tspan x="{svg.number((place.x0 + place.x1) / 2.0)}">{escape(place.words)}</tspan>'
        for place in row.places
        if place.words
    )
    found = svg.tag("path", d=boxes, class_="hole")
    if words:
        found += svg.tag("text", words, y=HIGH / 2.0 + 4.5)
    if row.ends:
        (first, x0), (last, x1) = row.ends
        found += svg.words(first, x0, HIGH / 2.0 + 4.5, "first")
        found += svg.words(last, x1, HIGH / 2.0 + 4.5, "last")
    return found


def _marked(place: Place) -> str:
    box = svg.block(
        place.x0 - 1.0, place.y0 - 1.0, place.x1 + 1.0, place.y1 + 1.0, "marked", rx=3.0
    )
    x = (place.x0 + place.x1) / 2.0
    return box + (
        svg.words(place.words, x, place.y0 + HIGH / 2.0 + 4.5, "in") if place.words else ""
    )


def _tag(tag: Tag) -> str:
    kind = {RED: "lead-red", BLACK: "lead-black"}.get(tag.letter, "lead-own")
    foot = (tag.place.x0 + tag.place.x1) / 2.0
    stem = f"M{svg.number(tag.x)} {svg.number(tag.y)}L{svg.number(foot)} {svg.number(tag.place.y0)}"
    return (
        svg.tag("path", d=stem, class_="stem")
        + svg.tag("circle", cx=tag.x, cy=tag.y, r=TAG, class_=kind)
        + svg.words(tag.letter, tag.x, tag.y + 4.5, "on-lead")
    )
