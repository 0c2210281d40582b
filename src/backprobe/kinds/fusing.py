"""What fuses, fusible links and circuit breakers share: ratings, times, where to measure."""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.records import Attribute, State, Task
from backprobe.kinds.usual import PRACTICE

BLADE_TIMES: Final = (
    (1.10, 360e3, inf),
    (1.35, 0.75, 600.0),
    (1.60, 0.25, 50.0),
    (2.00, 0.15, 5.0),
    (3.50, 0.08, 0.5),
    (6.00, 0.0, 0.15),
)
"""Share of the rating, and the shortest and longest seconds a blade fuse of ISO 8820-3 may take to
open there. 135, 200, 350 and 600 % as on the Littelfuse 287 sheets of 35 and 40 A, 160 % as on the
10 A one; 110 % from memory. The standard's own 135 % runs to 1800 s for some sizes (from memory)."""

SLOW_TIMES: Final = (
    (1.00, 360e3, inf),
    (1.35, 60.0, 1800.0),
    (2.00, 2.0, 50.0),
    (3.50, 0.2, 7.0),
    (6.00, 0.04, 1.0),
)
"""The same for slow fuses: Littelfuse 299 sheet. Bolted links are taken alike (judgement)."""


def opens_within(share: float, *, slow: bool = False) -> tuple[float, float]:
    """The shortest and the longest seconds until a fuse opens at a lasting share of its rating.

    Time falls with current, so between two rows of the table it lies between the shortest of the
    row above and the longest of the row below. Below the first row it holds: (inf, inf).
    """
    rows = SLOW_TIMES if slow else BLADE_TIMES
    if share <= rows[0][0]:
        return inf, inf
    shortest = next((least for at, least, _ in rows if at >= share), 0.0)
    longest = [most for at, _, most in rows if at <= share][-1]
    return shortest, longest


def rating(default: float, high: float) -> Attribute:
    """The rating attribute, up to `high` A."""
    return Attribute(
        name="amps",
        unit="A",
        default=default,
        low=1.0,
        high=high,
        meaning="rating printed on it",
        source=PRACTICE,
        bare=True,
    )


ELEMENT: Final = State(name="element", words=("good", "blown"), rest="good", set_by="circuit")

BOTH_SIDES: Final = tuple(
    Task(
        name=f"volts at {pin}",
        does="volts",
        words=f"volts at side {pin} of the fuse, fuse in, load on",
        seconds=45.0,
        source=PRACTICE,
        p=pin,
        needs="on",
        hazards=("short-circuit",),
    )
    for pin in ("1", "2")
)
