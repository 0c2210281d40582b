"""Diodes."""

from __future__ import annotations

from typing import Final

from backprobe.kinds.power import amps
from backprobe.kinds.records import Attribute, Branch, Kind, State
from backprobe.kinds.usual import RATE, conducts, drop, ohms, opens, shorts
from backprobe.kinds.values import num

DIODE: Final = Kind(
    name="diode",
    words=("diode", "blocking diode", "free-wheel diode"),
    letter="R",
    meaning="diode: conducts from pin 1 (anode) to pin 2 (cathode, the ring)",
    attributes=(
        Attribute(
            name="forward",
            unit="V",
            default=0.65,
            low=0.1,
            high=3.0,
            meaning="forward voltage",
            source="silicon diode, textbook 0.6-0.7 V",
        ),
        amps(3.0, "rated current; its rise of 0.3 V there gives the slope", 500.0),
    ),
    pins=("1", "2"),
    aliases={"A": "1", "K": "2", "anode": "1", "cathode": "2"},
    states=(
        State(name="junction", words=("blocking", "conducting"), rest="blocking", set_by="circuit"),
    ),
    branches=(
        Branch(
            name="junction",
            p="1",
            n="2",
            emf="forward",
            ohm=lambda a: 0.3 / num(a, "amps"),
            when={"junction": ("conducting",)},
        ),
    ),
    moves=conducts("junction", "1", "2", "forward"),
    failures=(
        opens("junction", "open", 0.8, RATE, sometimes=0.15),
        shorts("shorted", "1", "2", "shorted through", 0.02, 1.0, RATE),
    ),
    tasks=(
        drop("1", "2", "drop across the diode, load on: 0.5-0.9 V"),
        ohms("1", "2", "diode test, unplugged: one way only"),
    ),
)
