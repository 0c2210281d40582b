"""A long way down beside a lot of empty paper: the drawing is cut where one line alone leads on, and
the pieces stand side by side. Both ends of a cut carry the same letter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from typing import Final

from backprobe.web.pictures.strip import Box, Run, Strip, Turn

LETTERS: Final = "ACDEFGHJKLMN"
"""Without B and I: B is the black lead, I looks like 1."""
TURN: Final = 34.0
"""Height of a letter with its piece of line, px."""
APART: Final = 6.0
"""Between the pieces, besides the room between lanes, px."""
MOST_CUTS: Final = 24
"""Places to cut that are tried."""
EPS: Final = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cut:
    """Where a drawing may be cut: at height `y`, through the line at `x`."""

    x: float
    y: float


def folded(strip: Strip, *, wide: float, high: float) -> Strip:
    """The drawing in as few pieces as make it no higher than `high`, px, or as low as `wide` lets it
    be; as it is where it is low enough or cannot be cut."""
    cuts, best = _cuts(strip), strip
    for count in range(1, min(len(cuts), len(LETTERS)) + 1):
        if best.height <= high:
            break
        chosen = _even(strip, cuts, count)
        if chosen is None:
            continue
        drawn = _side_by_side(strip, chosen)
        if drawn.width > wide:
            break
        if drawn.height < best.height:
            best = drawn
    return best


def _cuts(strip: Strip) -> list[_Cut]:
    """Lower edges of symbols that one line alone leaves, nothing else beside it."""
    found: dict[float, _Cut] = {}
    things: tuple[Box | Run, ...] = (*strip.boxes, *strip.runs)
    for box in strip.boxes:
        y = box.y1
        leaving = [run for run in strip.runs if abs(run.y0 - y) < EPS]
        near = [one for one in things if one.y0 < y + EPS and one.y1 > y - EPS]
        if len(leaving) == 1 and len(near) == 2 and leaving[0].high.part == box.piece.part:
            found[round(y, 1)] = _Cut(x=leaving[0].x, y=y)
    return [found[y] for y in sorted(found)]


def _even(strip: Strip, cuts: Sequence[_Cut], count: int) -> tuple[_Cut, ...] | None:
    """The cuts whose highest piece is lowest."""
    ends = (0.0, strip.height)

    def highest(chosen: tuple[_Cut, ...]) -> float:
        edges = (ends[0], *(cut.y for cut in chosen), ends[1])
        return max(b - a for a, b in pairwise(edges))

    some = cuts if len(cuts) <= MOST_CUTS else cuts[:: -(-len(cuts) // MOST_CUTS)]
    return min(combinations(some, count), key=highest, default=None)


def _side_by_side(strip: Strip, cuts: tuple[_Cut, ...]) -> Strip:
    margin, half, room = strip.lane.margin, strip.lane.half, strip.lane.room
    edges = (0.0, *(cut.y for cut in cuts), strip.height)
    boxes: list[Box] = []
    runs: list[Run] = []
    dotted: list[tuple[float, float, float]] = []
    turns: list[Turn] = []
    left, lowest = margin, 0.0
    for number, (top, bottom) in enumerate(pairwise(edges)):
        inner = [b for b in strip.boxes if b.y0 >= top - EPS and b.y1 <= bottom + EPS]
        lines = [r for r in strip.runs if r.y0 >= top - EPS and r.y1 <= bottom + EPS]
        x0 = min([*(b.x0 for b in inner), *(r.x - half for r in lines)])
        x1 = max([*(b.x1 for b in inner), *(r.x + room for r in lines)])
        dx = left - x0
        dy = margin + TURN - top if number else 0.0
        boxes += [_moved(box, dx, dy) for box in inner]
        runs += [
            replace(r, x=r.x + dx, y0=r.y0 + dy, y1=r.y1 + dy, words_y=r.words_y + dy)
            for r in lines
        ]
        dotted += [
            (a + dx, b + dx, y + dy) for a, b, y in strip.dotted if top - EPS <= y <= bottom + EPS
        ]
        end = max([*(b.y1 for b in inner), *(r.y1 for r in lines)]) + dy
        if number:
            at = cuts[number - 1].x + dx
            turns.append(Turn(x=at, y0=margin, y1=margin + TURN, letter=LETTERS[number - 1]))
        if number < len(cuts):
            at = cuts[number].x + dx
            turns.append(Turn(x=at, y0=end, y1=end + TURN, letter=LETTERS[number], leaves=True))
            end += TURN
        left, lowest = left + x1 - x0 + strip.lane.between + APART, max(lowest, end)
    return replace(
        strip,
        width=left - strip.lane.between - APART + margin,
        height=lowest + margin,
        boxes=tuple(boxes),
        runs=tuple(runs),
        dotted=tuple(dotted),
        turns=tuple(turns),
    )


def _moved(box: Box, dx: float, dy: float) -> Box:
    pins = tuple(replace(pin, x=pin.x + dx, y=pin.y + dy) for pin in box.pins)
    return replace(box, x0=box.x0 + dx, x1=box.x1 + dx, y0=box.y0 + dy, y1=box.y1 + dy, pins=pins)
