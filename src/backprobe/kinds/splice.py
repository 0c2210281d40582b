"""Splices: wires crimped to each other.

Its contacts, lugs and crimps come from the circuit; the rates of bad contacts, plugs off or wet are
in `rates`.
"""

from __future__ import annotations

from typing import Final

from backprobe.kinds.records import Kind
from backprobe.kinds.usual import look

SPLICE: Final = Kind(
    name="splice",
    words=("splice", "joint", "bus bar", "busbar", "junction", "terminal block"),
    letter="X",
    meaning="a point where wires are joined for good: crimp, weld, bus bar",
    attributes=(),
    pins=("1",),
    joint="crimp",
    tasks=(look("splice: sleeve whole, no green, no heat marks, wires tight"),),
)
