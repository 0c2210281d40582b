"""Lines over the steps of a job, as SVG: the same words and figures stand in a table beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from backprobe.web.pictures.svg import across, picture, tag, words

WIDTH: Final = 300.0
HEIGHT: Final = 210.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 26.0, 12.0, 38.0
"""Margins: figures on the left, letters of the lines on the right, steps below."""
APART: Final = 15.0
"""Letters at the ends of the lines keep this distance."""
LETTERS: Final = "ABCD"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line: its letter is its place; `values` by step, None where not known."""

    name: str
    values: tuple[float | None, ...]


def line_plot(
    lines: Sequence[Line],
    *,
    top: float,
    ticks: Sequence[tuple[float, str]],
    key: str,
    title: str,
    describe: str,
) -> str:
    """Up to four lines from 0 to `top`, over steps numbered from 0."""
    count = max((len(line.values) for line in lines), default=0)
    wide, tall = WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM

    def x(step: int) -> float:
        return LEFT + (wide * step / (count - 1) if count > 1 else wide / 2)

    def y(value: float) -> float:
        return TOP + tall * (1.0 - min(max(value / top, 0.0), 1.0))

    drawn = [across(LEFT, WIDTH - RIGHT, y(value), "grid") for value, _ in ticks]
    drawn += [words(said, LEFT - 6, y(value) + 4, "tick end") for value, said in ticks]
    drawn += [words(str(step), x(step), HEIGHT - 21, "tick mid") for step in range(count)]
    drawn.append(words("steps", LEFT + wide / 2, HEIGHT - 5, "tick mid"))
    ends: list[tuple[float, float, int]] = []
    for number, line in enumerate(lines):
        known = [(x(k), y(v)) for k, v in enumerate(line.values) if v is not None]
        if not known:
            continue
        points = " ".join(f"{across_:.1f},{down_:.1f}" for across_, down_ in known)
        drawn.append(tag("polyline", points=points, class_=f"line l{number}"))
        drawn += [
            tag("circle", cx=across_, cy=down_, r=3.5, class_=f"spot l{number}")
            for across_, down_ in known
        ]
        ends.append((known[-1][1], known[-1][0], number))
    for at, across_, number in _spread(ends):
        drawn.append(words(LETTERS[number], across_ + 9, at + 5, f"letter t{number}"))
    return picture(
        "".join(drawn),
        width=WIDTH,
        height=HEIGHT,
        key=key,
        title=title,
        describe=describe,
        class_="plot",
    )


def _spread(ends: Sequence[tuple[float, float, int]]) -> list[tuple[float, float, int]]:
    """Letters from top to bottom, none nearer to the one above than it can be told apart."""
    placed: list[tuple[float, float, int]] = []
    for at, across_, number in sorted(ends):
        least = placed[-1][0] + APART if placed else at
        placed.append((max(at, least), across_, number))
    # what ran out at the bottom goes up again
    floor = HEIGHT - BOTTOM
    for back in range(len(placed) - 1, -1, -1):
        at, across_, number = placed[back]
        placed[back] = (min(at, floor), across_, number)
        floor = placed[back][0] - APART
    return placed


def round_top(value: float) -> float:
    """The next round figure a scale may end at, in steps a person counts in."""
    for top in (10.0, 20.0, 30.0, 60.0, 90.0, 120.0, 180.0, 240.0, 300.0, 480.0):
        if value <= top:
            return top
    return 600.0 * (value // 600.0 + 1)
