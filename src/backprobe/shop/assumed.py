"""What a book assumes, told together where it is assumed of many wires or parts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from backprobe.book.model import Assumption

MANY: Final = 4
"""Wires or parts of which the same is assumed on the same ground that are told in one line."""
WIRE: Final = "wire "
MINUTES: Final = "open "


def told_together(assumptions: Sequence[Assumption]) -> tuple[Assumption, ...]:
    """The assumptions in their order; many alike of wires, and the minutes of many parts, stand
    where the first of them stood."""
    alike: dict[tuple[str, str, str], list[Assumption]] = {}
    for one in assumptions:
        alike.setdefault((_sort(one), one.what, one.because), []).append(one)
    told = []
    for one in assumptions:
        sort = _sort(one)
        several = alike[sort, one.what, one.because]
        if not sort or len(several) < MANY:
            told.append(one)
        elif one is several[0]:
            names = ", ".join(each.about.removeprefix(WIRE) for each in several)
            because = f"{one.because}: {names}"
            told.append(Assumption(about=f"{len(several)} {sort}", what=one.what, because=because))
    return tuple(told)


def _sort(one: Assumption) -> str:
    """What it is assumed of, where such may be told together; "" where each stands alone."""
    if one.about.startswith(WIRE):
        return "wires"
    return "parts" if one.what.startswith(MINUTES) else ""
