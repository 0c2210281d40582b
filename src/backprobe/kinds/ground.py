"""Ground studs and straps.

Their contacts, lugs and crimps come from the circuit; the rates of bad contacts, plugs off or wet are
in `rates`.
"""

from __future__ import annotations

from math import inf
from typing import Final

from backprobe.kinds.records import (
    LUG_CELLS,
    SEVERITY,
    Attribute,
    Branch,
    Failure,
    Kind,
    Series,
    Task,
)
from backprobe.kinds.usual import RATE, drop, look

GROUND_STUD: Final = Kind(
    name="ground stud",
    words=("ground stud", "ground point", "earth stud", "earth point", "ground"),
    letter="X",
    meaning="stud or bolt where ground wires meet the metal",
    attributes=(
        Attribute(
            name="ohm",
            unit="ohm",
            default=0.0003,
            low=1e-5,
            high=0.01,
            meaning="resistance from the stud to its metal",
            source="US Army TM 10-3930-671-24: 0.2 V per 100 A for a whole cable; a judgement",
        ),
    ),
    pins=("1",),
    aliases={"31": "1"},
    joint="stud",
    branches=(Branch(name="seat", p="1", n="@body", ohm="ohm", contact=True),),
    failures=(
        Failure(
            name="bad seat",
            words="loose or rusty on its metal, all its wires at once",
            changes=(Series(branch="seat", ohm=SEVERITY),),
            rate=9.0,
            source=RATE,
            cells=LUG_CELLS,
            sometimes=0.4,
            wet=3.0,
            moved=2.0,
            visible=0.4,
        ),
    ),
    tasks=(
        drop("1", "@minus", "drop from the stud to battery minus, loads on: under 0.1 V is good"),
        look("stud tight, bare metal under the lugs, no paint, no rust"),
    ),
)

GROUND_STRAP: Final = Kind(
    name="ground strap",
    words=("ground strap", "earth strap", "strap", "ground braid"),
    letter="W",
    meaning="braid or cable that joins two bodies (`on frame / engine`)",
    attributes=(
        Attribute(
            name="second body",
            unit="word",
            default="engine",
            words=("frame", "engine", "cab"),
            meaning="the other metal it joins",
            source="a fact of the machine",
        ),
        Attribute(
            name="ohm",
            unit="ohm",
            default=0.0005,
            low=1e-5,
            high=0.1,
            meaning="resistance of the braid; 25 mm2 and 0.3 m are 0.2 mohm",
            source="IEC 60228 class 5: 0.780 ohm/km at 25 mm2; with its crimps a judgement",
        ),
    ),
    pins=("1", "2"),
    joint="stud",
    branches=(
        Branch(name="lug 1", p="@body", n="1", ohm=0.0002, contact=True),
        Branch(name="braid", p="1", n="2", ohm="ohm", warms=True),
        Branch(name="lug 2", p="2", n="@body2", ohm=0.0002, contact=True),
    ),
    failures=(
        Failure(
            name="bad lug 1",
            words="loose or rusty at its first end",
            changes=(Series(branch="lug 1", ohm=SEVERITY),),
            rate=6.0,
            source=RATE,
            cells=LUG_CELLS,
            sometimes=0.4,
            wet=3.0,
            moved=2.0,
            visible=0.4,
        ),
        Failure(
            name="bad lug 2",
            words="loose or rusty at its second end",
            changes=(Series(branch="lug 2", ohm=SEVERITY),),
            rate=6.0,
            source=RATE,
            cells=LUG_CELLS,
            sometimes=0.4,
            wet=3.0,
            moved=2.0,
            visible=0.4,
        ),
        Failure(
            name="corroded",
            words="braid corroded, few strands left",
            changes=(Series(branch="braid", ohm=SEVERITY),),
            rate=3.0,
            source=RATE,
            cells=LUG_CELLS,
            sometimes=0.3,
            wet=2.0,
            visible=0.6,
        ),
        Failure(
            name="broken",
            words="broken through or left off after a repair",
            changes=(Series(branch="braid", ohm=inf),),
            rate=2.0,
            source=RATE,
            sometimes=0.1,
            visible=0.9,
        ),
    ),
    tasks=(
        drop("1", "2", "drop along the strap while cranking: under 0.2 V per 100 A", "crank-limit"),
        drop("2", "@minus", "drop from the far end to battery minus, loads on"),
        look("strap whole, both lugs tight and bright"),
        Task(
            name="booster cable",
            does="works",
            words="booster cable from the engine block to battery minus: does it crank now?",
            seconds=120.0,
            source="best strap test, common practice",
            needs="on",
            hazards=("thin-jumper", "crank-limit", "battery-gas"),
        ),
    ),
    hazards=("short-circuit",),
)
