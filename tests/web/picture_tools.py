"""What the tests of the pictures share: books as wirings, shapes and how they may meet."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import combinations

from backprobe.book import read_book
from backprobe.book.model import Book
from backprobe.checks.layout import layout_of
from backprobe.kinds import KINDS
from backprobe.shop.demo import book_text
from backprobe.web.pictures.strip import BAR, Box, Strip
from backprobe.web.pictures.wiring import Wiring, wiring_of
from oracles.machines import machine

Shape = tuple[float, float, float, float]
"""Left, top, right, bottom, px."""


@cache
def wiring(name: str) -> Wiring:
    """A demo book by its name, or "synthetic NODES SEED"."""
    if name.startswith("synthetic"):
        nodes, seed = name.split()[1:]
        book: Book | None = machine(int(nodes), seed=int(seed)).book
    else:
        book, _ = read_book(book_text(name), name)
    assert book is not None
    return wiring_of(layout_of(book, KINDS))


def solid(box: Box) -> list[Shape]:
    """What of a symbol nothing foreign may cross: all of a box; of a splice its words, which stand
    in the lane of its first line."""
    if box.piece.shape != "splice":
        return [(box.x0, box.y0, box.x1, box.y1)]
    return [(box.x0, box.y0, box.x0 + 60.0, box.y1 - BAR - 3.0)]


def bars(strip: Strip) -> Iterator[tuple[Box, float, float, float]]:
    """Splice bars as level lines: symbol, left, right, height."""
    for box in strip.boxes:
        xs = [pin.x for pin in box.pins]
        if box.piece.shape == "splice":
            yield box, min(xs), max(xs), box.y1 - BAR


def meet(a: Shape, b: Shape, by: float = 0.5) -> bool:
    """Whether two rectangles share more than their edges."""
    return min(a[2], b[2]) - max(a[0], b[0]) > by and min(a[3], b[3]) - max(a[1], b[1]) > by


def faults_of(strip: Strip) -> list[str]:
    """Everything that is wrong with a drawing."""
    return [*_boxes(strip), *_lines(strip), *_pins(strip), *_outside(strip), *_turns(strip)]


def _boxes(strip: Strip) -> Iterator[str]:
    shapes = [(box, shape) for box in strip.boxes for shape in solid(box)]
    for (one, a), (two, b) in combinations(shapes, 2):
        if meet(a, b):
            yield f"{one.piece.key} lies on {two.piece.key}"
    for bar, left, right, y in bars(strip):
        for box, shape in shapes:
            if box is not bar and meet((left, y - 2.0, right, y + 2.0), shape):
                yield f"the bar of {bar.piece.key} runs through {box.piece.key}"


def _lines(strip: Strip) -> Iterator[str]:
    for run in strip.runs:
        line = (run.x - 4.0, run.y0, run.x + 4.0, run.y1)
        for box in strip.boxes:
            if any(meet(line, shape) for shape in solid(box)):
                yield f"{run.link.ident} runs through {box.piece.key}"
    for one, two in combinations(strip.runs, 2):
        if one.x == two.x and min(one.y1, two.y1) - max(one.y0, two.y0) > 0.5:
            yield f"{one.link.ident} lies on {two.link.ident}"


def _pins(strip: Strip) -> Iterator[str]:
    pins = {
        (round(pin.x, 3), round(pin.y, 3), pin.node, pin.above)
        for box in strip.boxes
        for pin in box.pins
    }
    cut = {(turn.x, round(turn.y1, 3)) for turn in strip.turns if not turn.leaves}
    for run in strip.runs:
        for y, node, above in ((run.y0, run.high, False), (run.y1, run.low, True)):
            if not above and (run.x, round(y, 3)) in cut:
                continue
            if (round(run.x, 3), round(y, 3), node, above) not in pins:
                yield f"{run.link.ident} does not meet {node}"
        if run.y1 - run.y0 < 47.9:
            yield f"{run.link.ident} is too short for a finger"


def _turns(strip: Strip) -> Iterator[str]:
    """Letters stand in twos, joined to their line, on nothing else and inside."""
    ends = {(run.x, round(run.y0, 3)) for run in strip.runs}
    left = {(pin.x, round(pin.y, 3)) for box in strip.boxes for pin in box.pins if not pin.above}
    for letter in {turn.letter for turn in strip.turns}:
        both = [turn for turn in strip.turns if turn.letter == letter]
        if sorted(turn.leaves for turn in both) != [False, True]:
            yield f"{letter} stands {len(both)} times"
    for turn in strip.turns:
        joined = (turn.x, round(turn.y0, 3)) in left or not turn.leaves
        if not joined or (not turn.leaves and (turn.x, round(turn.y1, 3)) not in ends):
            yield f"{turn.letter} is joined to nothing"
        shape = (turn.x - 11.0, turn.y0, turn.x + 11.0, turn.y1)
        if shape[0] < 0 or shape[2] > strip.width or shape[3] > strip.height:
            yield f"{turn.letter} is outside"
        for box in strip.boxes:
            if any(meet(shape, other) for other in solid(box)):
                yield f"{turn.letter} lies on {box.piece.key}"
        for run in strip.runs:
            if meet(shape, (run.x - 4.0, run.y0, run.x + strip.lane.room, run.y1)):
                yield f"{turn.letter} lies on {run.link.ident}"


def _outside(strip: Strip) -> Iterator[str]:
    for box in strip.boxes:
        if box.x0 < 0 or box.y0 < 0 or box.x1 > strip.width or box.y1 > strip.height:
            yield f"{box.piece.key} is outside"
