"""Checks of the CAN bus: ohms between high and low on a dead machine, whole and with its members
off one by one. 60 ohm is two terminators, 120 one, near 0 a short, OL none (ISO 11898-2)."""

from __future__ import annotations

from collections.abc import Iterator

from backprobe.book.model import End
from backprobe.checks.cost import minutes_of
from backprobe.checks.layout import Layout
from backprobe.checks.model import Check
from backprobe.checks.readings import reading
from backprobe.checks.scene import Scene
from backprobe.defects.model import Probe

MEMBERS = 6
SUSPECTED = 0.02
"""Chance within a bus above which it is measured."""


def bus_ohms(scene: Scene) -> Iterator[Check]:
    """Ohms of every suspected bus at its handiest plug."""
    layout = scene.layout
    for high, low in buses(layout):
        both = {*layout.members[high], *layout.members[low]}
        parts = {end.part for end in both}
        wires = {layout.ends[end].wire for end in both}
        suspected = sum(
            chance
            for owner, chance in scene.owners.items()
            if owner in parts or ((w := layout.wire_of(owner)) and w.id in wires)
        )
        if suspected < SUSPECTED:
            continue
        socket = _socket(layout, high, low)
        if socket is None:
            continue
        p, n = (layout.ends[end].node for end in socket)
        plugs = [name for name in sorted(parts) if layout.joint(name) == "plug"]
        ranked = sorted(plugs, key=lambda name: (-scene.owners.get(name, 0.0), name))
        for off in ("", *ranked[:MEMBERS]):
            dead = scene.situation("off", unplugged=frozenset({off} - {""}), battery_off=True)
            yield reading(
                layout,
                "ohms",
                Probe(kind="ohms", p=p, n=n),
                dead,
                target=off or socket[0].part,
                opens=tuple(dict.fromkeys((socket[0].part, *({off} - {""})))),
                seconds=120.0,
            )


def buses(layout: Layout) -> tuple[tuple[int, int], ...]:
    """Nets of every bus, high and low, by the CAN pins of the units on them."""
    pairs: dict[tuple[int, int], None] = {}
    found: dict[str, dict[str, int]] = {}
    for pin, role in layout.book.roles.items():
        words = role.role.lower().split()
        if "can" in words and End(pin.part, pin.name) in layout.net:
            side = "high" if "high" in words else "low"
            found.setdefault(pin.part, {})[side] = layout.net[End(pin.part, pin.name)]
    for sides in found.values():
        if len(sides) == 2:
            pairs.setdefault((sides["high"], sides["low"]))
    return tuple(pairs)


def _socket(layout: Layout, high: int, low: int) -> tuple[End, End] | None:
    """The handiest part with both lines in its plug; the same side of an inline plug."""
    at = {(end.part, end.side): end for end in layout.members[low]}
    both = [
        (end, at[end.part, end.side])
        for end in layout.members[high]
        if (end.part, end.side) in at and layout.joint(end.part) == "plug"
    ]
    return min(both, key=lambda pair: (minutes_of(layout, pair[0].part)[0], pair[0]), default=None)
