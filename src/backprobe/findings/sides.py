"""Which side of an open plug a dead reading was taken on: the part's or the loom's.

The loom's end of a pin is the node "K3.85", the part's own the node "K3:85".
"""

from __future__ import annotations

from backprobe.findings.model import Reading

PART_SIDE, LOOM_SIDE = SIDES = ("part side", "loom side")
DEAD = ("ohmmeter", "milliohm meter", "beeper", "diode tester")
"""Instruments held to what carries nothing."""


def side_of(reading: Reading) -> str:
    """PART_SIDE or LOOM_SIDE where it must be said, else "": from pin to pin of what is unplugged or
    pulled, and wherever it was the part itself."""
    if reading.instrument not in DEAD:
        return ""
    off = reading.situation.unplugged | reading.situation.pulled
    own = [node.partition(":")[0] in off for node in (reading.p, reading.n)]
    loom = [node.rpartition(".")[0] for node in (reading.p, reading.n)]
    if any(own):
        return "" if off.intersection(loom) else PART_SIDE
    return LOOM_SIDE if loom[0] == loom[1] and loom[0] in off else ""


def printed(node: str, side: str) -> str:
    """A node as a pin is printed, where its side is said beside it."""
    return node.replace(":", ".", 1) if side == PART_SIDE else node
