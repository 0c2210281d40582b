"""Checks on a harness taken apart: an inline plug open and each side of it read, two suspected
neighbours against each other, a resistor in place of a sensor."""

from __future__ import annotations

from collections.abc import Iterator

from backprobe.book.model import BODIES, MINUS, End
from backprobe.book.situations import Lead
from backprobe.checks.layout import Layout, Touch
from backprobe.checks.model import Check
from backprobe.checks.readings import reading
from backprobe.checks.scene import Scene
from backprobe.checks.wording import node_words
from backprobe.circuit.situated import RESISTOR
from backprobe.defects.model import RUBBED, Probe

PLUGS, LINES = 3, 4
"""Inline plugs opened, and suspected lines read on both sides of each."""
NEIGHBOURS = 4
"""Pairs of neighbours measured against each other."""
SENSORS = 4
INSTEAD_S = 180.0
"""Seconds of fitting a resistor into an open plug and reading it. Judgement."""
SIGNALS = ("analogue input",)


def parted(scene: Scene) -> Iterator[Check]:
    """Halves of suspected lines, most suspected first; common practice for splitting a harness."""
    yield from _sides(scene)
    yield from _neighbours(scene)
    yield from _instead(scene)


def _sides(scene: Scene) -> Iterator[Check]:
    """The plug open, key on: what still has volts lies on the side that shows them. The battery
    off: which side has a path to metal."""
    layout = scene.layout
    ways: dict[str, dict[str, Touch]] = {}
    for touch in scene.near:
        if touch.side and (touch.part in ways or len(ways) < PLUGS):
            ways.setdefault(touch.part, {}).setdefault(touch.pin, touch)
    for plug, by_pin in ways.items():
        lines = list(by_pin.values())[:LINES]
        live = scene.situation("on", unplugged=frozenset({plug}))
        dead = scene.situation(
            "off", unplugged=frozenset({plug, *_units(layout, lines)}), battery_off=True
        )
        body = next((b for b in BODIES if any(end.part == b for end in layout.ends)), MINUS)
        for touch in lines:
            for side in "ab":
                node = f"{plug}.{touch.pin}{side}"
                if node in layout.touch:
                    yield reading(layout, "volts", Probe(kind="volts", p=node), live, opens=(plug,))
                    yield reading(
                        layout, "ohms", Probe(kind="ohms", p=node, n=body), dead, opens=(plug,)
                    )


def _units(layout: Layout, touches: list[Touch]) -> frozenset[str]:
    """Control units on the lines of some touches: an ohmmeter keeps out of them."""
    return frozenset(
        pin.part for touch in touches for pin in layout.pins_on(layout.net_at(touch.node))
    )


def _neighbours(scene: Scene) -> Iterator[Check]:
    """Ohms between two wires that may be rubbed through to each other, at a plug both pass:
    the units off, and with an inline plug open once for either side of it."""
    layout = scene.layout
    done: set[frozenset[int]] = set()
    order = sorted(range(1, len(scene.defects.atoms)), key=lambda a: (-scene.atoms[a], a))
    for number in order:
        atom = scene.defects.atoms[number]
        if len(done) >= NEIGHBOURS or scene.atoms[number] <= 1e-4:
            return
        wires = [wire for owner in atom.owners[:2] if (wire := layout.wire_of(owner))]
        if atom.kind != RUBBED or len(wires) != 2:
            continue
        nets = [layout.net[wire.a] for wire in wires]
        if frozenset(nets) in done or any(_metal(layout, net) for net in nets):
            continue
        done.add(frozenset(nets))
        for one, two in _met(layout, nets):
            units = _units(layout, [one, two])
            off = frozenset({*units, one.part})
            yield reading(
                layout,
                "ohms",
                Probe(kind="ohms", p=one.node, n=two.node),
                scene.situation("off", unplugged=off, battery_off=True),
                opens=(one.part,),
            )


def _metal(layout: Layout, net: int) -> bool:
    """Whether bodies hang on a net: against metal the check to metal says the same."""
    return any(end.part in BODIES for end in layout.members.get(net, ()))


def _met(layout: Layout, nets: list[int]) -> Iterator[tuple[Touch, Touch]]:
    """Touches of two nets at the plugs both pass, side by side."""
    first: dict[tuple[str, str], End] = {}
    for end in layout.members.get(nets[0], ()):
        if layout.joint(end.part) == "plug" and end.part in layout.book.parts:
            first.setdefault((end.part, end.side), end)
    for end in layout.members.get(nets[1], ()):
        other = first.pop((end.part, end.side), None)
        if other is not None:
            yield layout.ends[other], layout.ends[end]


def _instead(scene: Scene) -> Iterator[Check]:
    """A sensor's plug off and a resistor from its signal pin to its ground pin: the unit's pull-up
    must fall by as much as the resistor asks. It tells wires from sensor, and cannot hurt an
    input: 12 mA at 12 V."""
    layout = scene.layout
    near = dict.fromkeys(touch.part for touch in scene.near if not touch.side)
    sensors = [(part, found) for part in near if (found := _signal_and_ground(layout, part))]
    for part, (signal, ground) in sensors[:SENSORS]:
        plain = scene.situation("on", unplugged=frozenset({part}))
        fitted = scene.situation(
            "on", unplugged=frozenset({part}), fitted=(Lead(kind=RESISTOR, p=signal, n=ground),)
        )
        probe = Probe(kind="volts", p=signal, n=ground)
        yield reading(
            layout,
            "volts",
            probe,
            plain,
            target=part,
            opens=(part,),
            words=f"Volts in the open plug of {part}: {node_words(layout, signal)} "
            f"to {node_words(layout, ground)}",
        )
        yield reading(
            layout,
            "volts",
            probe,
            fitted,
            target=part,
            opens=(part,),
            hazards=("unit-lines",),
            seconds=INSTEAD_S,
            words=f"A {RESISTOR.removeprefix('resistor ')} resistor instead of {part}: "
            f"volts across it",
        )


def _signal_and_ground(layout: Layout, part: str) -> tuple[str, str] | None:
    """Nodes of a sensor's signal and ground pins on the wire side, if it has just those."""
    if part not in layout.book.parts or layout.joint(part) != "plug":
        return None
    roles: dict[str, str] = {}
    for end in layout.end_at.get(part, ()):
        if end.side or any(pin.part == part for pin in layout.pins_on(layout.net[end])):
            return None
        for pin in layout.pins_on(layout.net[end]):
            roles.setdefault(layout.book.roles[pin].role, layout.ends[end].node)
    signal = next((roles[name] for name in SIGNALS if name in roles), "")
    return (signal, roles["ground"]) if signal and "ground" in roles else None
