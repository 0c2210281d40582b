"""What the words for a place on the machine tell: minutes to open, and how far apart.

All figures: judgement; the ranges of access times are those a technician gives for compact
machines (side door 0.5-1 min, seat or floor mat 2-5, fuse panel 1-3, belly pan 10-20, bay under
the cab 10-30, cab tilt 10-20).
"""

from __future__ import annotations

import re
from typing import Final, NamedTuple


class Place(NamedTuple):
    """A place by a word in it: seconds to open and to close, and the zone it is in."""

    words: str
    open_s: float
    close_s: float
    zone: str


PLACES: Final[tuple[Place, ...]] = (
    Place("belly|belly pan|skid plate|bottom plate", 1200, 900, "chassis"),
    Place("under (the )?cab|cab floor|cab tilt|tilt", 900, 600, "cab"),
    Place("seat|floor mat|floor plate|console", 240, 180, "cab"),
    Place("fuse box|fuse panel|fuse|relay box", 120, 60, "fuse box"),
    Place("dash|dashboard|instrument|steering column", 480, 360, "cab"),
    Place("cab|roof|canopy|rops", 300, 240, "cab"),
    Place("battery", 120, 60, "battery"),
    Place("bonnet|hood|side door|engine door", 60, 30, "engine"),
    Place("turbo|exhaust|behind (the )?engine|behind (the )?starter", 600, 480, "engine"),
    Place("engine|block|fuel rail|common rail|glow rail|pump|fan|radiator", 180, 120, "engine"),
    Place("boom|arm|bucket|mast|skip|body", 300, 240, "front"),
    Place("hinge|articulation|swivel", 300, 300, "hinge"),
    Place("frame|chassis|track|axle|hydraulic|valve block|tank", 180, 120, "chassis"),
)
"""The first place whose words occur counts."""

SAME_ZONE_M: Final = 0.8
OTHER_ZONE_M: Final = 2.5
UNKNOWN_M: Final = 1.5
"""Wire lengths by place words. Judgement."""

OPEN_S: Final = 120.0
CLOSE_S: Final = 90.0
"""Where nothing is known of a place. Judgement."""

_COMPILED = tuple((re.compile(rf"\b(?:{place.words})\b", re.IGNORECASE), place) for place in PLACES)


def place_of(words: str) -> tuple[Place, str] | None:
    """The place some words speak of and the word that told, or None."""
    for pattern, place in _COMPILED if words else ():
        match = pattern.search(words)
        if match:
            return place, match.group()
    return None


def distance(a: str, b: str) -> tuple[float, str]:
    """Metres of wire between two places and why."""
    first, second = place_of(a), place_of(b)
    if first is None or second is None:
        return UNKNOWN_M, "nothing is known of where it runs"
    if first[0].zone == second[0].zone:
        return SAME_ZONE_M, f"both ends are near the {first[0].zone}"
    return OTHER_ZONE_M, f"it runs from the {first[0].zone} to the {second[0].zone}"
