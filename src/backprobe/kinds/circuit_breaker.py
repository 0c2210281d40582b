"""Circuit breakers that come back by hand or by themselves."""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.fuse import blows_at
from backprobe.kinds.fusing import BOTH_SIDES, rating
from backprobe.kinds.records import (
    Attribute,
    Attrs,
    Branch,
    Failure,
    Kind,
    Move,
    Series,
    State,
    Through,
)
from backprobe.kinds.usual import JUDGED, RATE, look
from backprobe.kinds.values import num


def _trips_by_hand(attrs: Attrs) -> float:
    """135 % of the rating (as ISO 8820-3 for fuses, judgement) if it is reset by hand."""
    return blows_at(attrs) if attrs["reset"] == "by hand" else inf


def _trips_by_itself(attrs: Attrs) -> float:
    """135 % of the rating (as ISO 8820-3 for fuses, judgement) if it resets by itself."""
    return blows_at(attrs) if attrs["reset"] == "by itself" else inf


BREAKER: Final = Kind(
    name="circuit breaker",
    words=("circuit breaker", "breaker", "thermal breaker"),
    letter="F",
    meaning="breaker that opens on overload; resets by itself when cool, or by hand",
    attributes=(
        rating(20.0, 250.0),
        Attribute(
            name="reset",
            unit="word",
            default="by hand",
            words=("by hand", "by itself"),
            meaning="how it closes again",
            source="SAE J553 types I and III, from memory",
        ),
        Attribute(
            name="ohm",
            unit="ohm",
            default=lambda a: 0.1 / num(a, "amps"),
            low=1e-4,
            high=1.0,
            meaning="resistance; 100 mV at rated current",
            source=JUDGED,
        ),
    ),
    pins=("1", "2"),
    aliases={"in": "1", "out": "2", "30": "1"},
    joint="stud",
    states=(
        State(
            name="element",
            words=("closed", "tripped", "cycling"),
            rest="closed",
            set_by="circuit",
        ),
    ),
    branches=(Branch(name="element", p="1", n="2", ohm="ohm", when={"element": ("closed",)}),),
    moves=(
        Move(
            state="element",
            leaves="closed",
            to="tripped",
            quantity=Through(branch="element"),
            above=_trips_by_hand,
            size=True,
            pace=1,
            lasting=True,
        ),
        Move(
            state="element",
            leaves="closed",
            to="cycling",
            quantity=Through(branch="element"),
            above=_trips_by_itself,
            size=True,
            pace=1,
        ),
    ),
    failures=(
        Failure(
            name="open",
            words="tripped or worn out with nothing wrong behind it",
            changes=(Series(branch="element", ohm=inf),),
            rate=2.0,
            source=RATE,
            sometimes=0.4,
            hot=3.0,
            moved=2.0,
            visible=0.3,
            mend_s=300.0,
        ),
    ),
    tasks=(*BOTH_SIDES, look("button out? press once; trips again: stop, find the cause")),
    hazards=("fuse-rating",),
)
