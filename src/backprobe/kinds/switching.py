"""What switches share: their contact's resistance, positions and sources."""

from __future__ import annotations

from typing import Final

from backprobe.kinds.records import Attribute, State

OHM: Final = Attribute(
    name="ohm",
    unit="ohm",
    default=0.01,
    low=1e-4,
    high=10.0,
    meaning="resistance of the closed contact",
    source="SAE limits as given in the trade: 0.1-0.2 V at 20 A; value a judgement",
)

POSITION: Final = State(name="position", words=("rest", "operated"), rest="rest")

SOURCE: Final = "open .65, sticks .19, short .16: MIL-HDBK-338B; total a judgement"
