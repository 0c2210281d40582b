"""Inline plugs.

Its contacts, lugs and crimps come from the circuit; the rates of bad contacts, plugs off or wet are
in `rates`.
"""

from __future__ import annotations

from typing import Final

from backprobe.kinds.records import Attribute, Kind, Task
from backprobe.kinds.usual import PRACTICE, look

PLUG: Final = Kind(
    name="plug",
    words=("plug", "connector", "inline plug", "coupling", "socket", "diagnostic socket"),
    letter="X",
    meaning="inline plug; each way joins the wire that arrives with the one that leaves",
    attributes=(
        Attribute(
            name="ways",
            unit="1",
            default=2.0,
            low=1.0,
            high=200.0,
            meaning="number of ways",
            source=PRACTICE,
            bare=True,
        ),
        Attribute(
            name="sealed",
            unit="word",
            default="yes",
            words=("yes", "no"),
            meaning="whether seals keep water out",
            source=PRACTICE,
        ),
    ),
    joint="plug",
    tasks=(
        look("plug locked? pins straight, level, dry, no green; seals whole", 120.0),
        Task(
            name="pull test",
            does="look",
            words="tug each wire at the back, try each terminal with the matching test pin",
            seconds=300.0,
            source="terminal drag test, common practice",
            needs="off",
            hazards=("unplug-live", "no-piercing"),
        ),
    ),
    hazards=("unplug-live", "no-piercing"),
)
