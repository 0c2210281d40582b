"""How much room the parts of the page for paper take, px at 96 dots an inch: the measures of
`paper.css`, with words as wide as in the widest usual face, so that what fits here fits there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from backprobe.web.contexts import CheckView, Said, Share
from backprobe.web.pictures.text import width

MM: Final = 96.0 / 25.4
PT: Final = 96.0 / 72.0
WORDS: Final = 8.5 * PT
LINE: Final = WORDS * 1.25
SMALL: Final = 7.5 * PT
HEADING: Final = 9.5 * PT
GAP: Final = 2.0 * MM
PAGE: Final = 279.0 * MM
LEFT: Final = 82.0 * MM
RIGHT: Final = 106.0 * MM
IN_BOX: Final = 4.6 * MM
"""Padding and borders of a check or of the cautions, left and right together."""
INDENT: Final = 5.0 * MM
FOOT: Final = GAP + SMALL * 1.25
ROW: Final = 7.2 * MM
"""A row of the table for other readings."""
TABLE: Final = GAP + HEADING * 1.15 + 1.7 * MM + 2.0 * LINE
"""The table without its rows."""
FACE: Final = 0.72
"""A plug's picture is printed at so much of its size."""
FACE_SIDE: Final = 48.0 * MM
"""Room for the words beside a plug's picture."""


def lines(words: str, room: float, size: float = WORDS, *, bold: bool = False) -> int:
    """Lines that words take when they are broken at their spaces."""
    found, used, gap = 1, 0.0, width(" ", size, bold=bold)
    for word in words.split():
        one = width(word, size, bold=bold)
        if used and used + gap + one > room:
            found, used = found + 1, one
        else:
            used += one + (gap if used else 0.0)
    return found


def head_high(complaint: str) -> float:
    """The head of the page."""
    return 15.0 * PT + 3.0 * MM + (lines(complaint, 188.0 * MM) * LINE if complaint else 0.0)


def check_high(view: CheckView) -> float:
    """A check with its box and the gap above it."""
    room = RIGHT - IN_BOX
    high = 2.0 * GAP + 0.7 * MM + 1.6 * MM
    high += lines(f"0. {view.title}", room, HEADING, bold=True) * HEADING * 1.15
    rows = sum(lines(step, room - INDENT) for step in view.steps)
    rows += sum(lines(f"{one.said}: {_left(one.leaves)}", room - INDENT) for one in view.outcomes)
    rows += _flowing(view.facts, room) + _flowing(view.leads, room)
    for face in view.plugs.plugs:
        told = [f"{face.of} {face.side}", *(f"{m.what}, {m.where}" for m in face.marks), face.doubt]
        beside = sum(lines(one, FACE_SIDE) for one in told if one) * LINE
        high += max(face.high * FACE, beside) + MM
    rows += 1 if view.plugs.plugs else 0
    rows += lines(view.plugs.unsaid, room) if view.plugs.unsaid else 0
    if view.number:
        high += 8.5 * MM + (LINE if len(view.healthy) > 30 else 0.0)
    elif view.healthy:
        rows += lines(view.healthy, room, bold=True)
    return high + 2.0 * MM + rows * LINE


def cautions_high(cautions: Sequence[Said], closing: str) -> float:
    """The cautions of all checks with their box and the gap above it."""
    room = LEFT - IN_BOX
    rows = sum(
        lines(f"{one.name} ({one.words})" if one.words else one.name, room - 3.5 * MM, SMALL)
        for one in cautions
    )
    rows += lines(closing, room, SMALL) if closing else 0
    return rows * SMALL * 1.25 + 2.0 * GAP + HEADING * 1.15 + 2.7 * MM if cautions else 0.0


def list_high(things: Sequence[str], blank: int = 0) -> float:
    """A list with its heading, and blank lines to write on."""
    rows = sum(lines(one, LEFT - INDENT) for one in things)
    return GAP + HEADING * 1.15 + 1.7 * MM + rows * LINE + blank * (4.5 * MM + LINE * 0.3)


def _left(leaves: Iterable[Share]) -> str:
    return ", ".join(f"{one.words} {one.figure}" for one in leaves)


def _flowing(facts: Sequence[Said], room: float) -> int:
    """Rows of facts that stand one after the other, each kept together while it fits."""
    rows, used = (1 if facts else 0), 0.0
    for one in facts:
        wide = width(f"{one.name} {one.words}", WORDS)
        if used and used + wide > room:
            rows, used = rows + 1, 0.0
        rows += lines(f"{one.name} {one.words}", room) - 1
        used += wide + 3.0 * MM
    return rows
