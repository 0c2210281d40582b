"""Fusible links."""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.fusing import BOTH_SIDES, ELEMENT, rating
from backprobe.kinds.records import Attribute, Attrs, Branch, Failure, Kind, Move, Series, Through
from backprobe.kinds.usual import JUDGED, RATE, look
from backprobe.kinds.values import num


def link_ohm(attrs: Attrs) -> float:
    """Ohms of a fusible link or bolted main fuse: 60 mV at rated current, judgement."""
    return 0.06 / num(attrs, "amps")


def link_blows_at(attrs: Attrs) -> float:
    """Lasting amperes that open a slow fuse or link: twice the rating (2-50 s at 200 %,
    Littelfuse 299 sheet)."""
    return 2.0 * num(attrs, "amps")


FUSIBLE_LINK: Final = Kind(
    name="fusible link",
    words=("fusible link", "main fuse", "bolted fuse", "strip fuse", "link"),
    letter="F",
    meaning="slow main protection near the battery; pin 1 towards the battery",
    attributes=(
        rating(80.0, 750.0),
        Attribute(
            name="ohm",
            unit="ohm",
            default=link_ohm,
            low=1e-5,
            high=0.1,
            meaning="resistance",
            source=JUDGED,
        ),
    ),
    pins=("1", "2"),
    aliases={"in": "1", "out": "2", "30": "1", "a": "1", "b": "2"},
    joint="stud",
    states=(ELEMENT,),
    branches=(Branch(name="element", p="1", n="2", ohm="ohm", when={"element": ("good",)}),),
    moves=(
        Move(
            state="element",
            leaves="good",
            to="blown",
            quantity=Through(branch="element"),
            above=link_blows_at,
            size=True,
            pace=1,
            lasting=True,
        ),
    ),
    failures=(
        Failure(
            name="open",
            words="open, with nothing wrong behind it any more (reversed boost, surge, age)",
            changes=(Series(branch="element", ohm=inf),),
            rate=1.5,
            source=RATE,
            sometimes=0.15,
            visible=0.5,
            mend_s=900.0,
        ),
    ),
    tasks=(*BOTH_SIDES, look("link melted, swollen or loose at its nuts")),
    hazards=("short-circuit", "fuse-rating"),
)
