"""Checks on a harness taken apart: an inline plug open and each side of it read, two suspected
neighbours against each other, a resistor in place of a sensor."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from backprobe.book.model import BODIES, MINUS, End
from backprobe.book.situations import Lead, Situation
from backprobe.checks.layout import Layout, Touch
from backprobe.checks.model import Check
from backprobe.checks.readings import probe_at, reading
from backprobe.checks.scene import Scene
from backprobe.checks.steps import lead_words
from backprobe.checks.wording import node_words
from backprobe.circuit.situated import RESISTOR
from backprobe.defects.model import RUBBED

PLUGS, LINES = 3, 4
"""Inline plugs opened, and suspected lines read on both sides of each."""
NEIGHBOURS = 5
"""Pairs of lines measured against each other."""
SENSORS = 4
BEEPS, BEEP_WAYS = 3, 11
"""Lines tried with the beeper, and neighbours gone through beside bare metal."""
BEEP_S, BEEP_WAY_S = 60.0, 12.0
"""Seconds of setting the beeper up and of each place. Judgement."""
INSTEAD_S = 180.0
"""Seconds of fitting a resistor into an open plug and reading it. Judgement."""
Partners = Mapping[int, Mapping[int, float]]
SIGNAL, GROUND, FIVE_VOLT = "analogue input", "ground", "5 V group"
"""Roles of the unit's pins a sensor hangs on."""


def parted(scene: Scene) -> Iterator[Check]:
    """Halves of suspected lines, most suspected first; common practice for splitting a harness."""
    yield from _sides(scene)
    partners = _partners(scene)
    yield from _neighbours(scene, partners)
    yield from _beeper(scene, partners)
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
                    yield reading(layout, "volts", probe_at("volts", node), live, opens=(plug,))
                    yield reading(layout, "ohms", probe_at("ohms", node, body), dead, opens=(plug,))
                    far = _far_end(layout, End(plug, touch.pin, side))
                    if far is not None:
                        whole = replace(dead, unplugged=dead.unplugged | {far.part})
                        yield reading(
                            layout,
                            "ohms",
                            probe_at("ohms", node, far.node),
                            whole,
                            opens=(plug, far.part),
                        )


def _far_end(layout: Layout, start: End) -> Touch | None:
    """The outer plug a line ends at on one side of an open inline way, nearest first: from there
    to the way the wire must have no ohms."""
    net = layout.net.get(start, -1)
    seen, todo = {start}, [start]
    while todo:
        end = todo.pop(0)
        inline = any(other.side for other in layout.end_at.get(end.part, ()))
        if layout.joint(end.part) == "plug" and end.part in layout.book.parts and not inline:
            return layout.ends[end]
        for other in layout.near[end]:
            if other not in seen and layout.net[other] == net and other.part != start.part:
                seen.add(other)
                todo.append(other)
    return None


def _units(layout: Layout, touches: list[Touch]) -> frozenset[str]:
    """Control units on the lines of some touches: an ohmmeter keeps out of them."""
    return frozenset(
        pin.part for touch in touches for pin in layout.pins_on(layout.net_at(touch.node))
    )


def _neighbours(scene: Scene, partners: Partners) -> Iterator[Check]:
    """Ohms between two lines that may be rubbed through to each other, likeliest first, at every
    plug both pass, the units off."""
    layout = scene.layout
    chance = {
        (one, two): share
        for one, beside in partners.items()
        for two, share in beside.items()
        if one < two and not _metal(layout, one) and not _metal(layout, two)
    }
    likeliest = sorted(chance, key=lambda pair: (-chance[pair], pair))
    for pair in likeliest[:NEIGHBOURS]:
        for first, second in _met(layout, pair):
            off = frozenset({*_units(layout, [first, second]), first.part})
            yield reading(
                layout,
                "ohms",
                probe_at("ohms", first.node, second.node),
                scene.situation("off", unplugged=off, battery_off=True),
                opens=(first.part,),
            )


def _beeper(scene: Scene, partners: Partners) -> Iterator[Check]:
    """A unit's plug off, one lead on a suspected line, the other along metal and the lines it may
    be rubbed through to: the first that beeps is what it touches. Common practice."""
    layout = scene.layout
    lines = [t for t in scene.near if t.part in layout.units and not t.side]
    body = next((b for b in BODIES if any(end.part == b for end in layout.ends)), MINUS)
    done = 0
    for line in lines:
        net = layout.net_at(line.node)
        beside = partners.get(net, {})
        ways = [
            (-beside[other], touch.node)
            for end in layout.end_at.get(line.part, ())
            if (other := layout.net[end]) in beside
            and (touch := layout.ends[end]).node != line.node
            and {pin.part for pin in layout.pins_on(other)} <= {line.part}
        ]
        if done >= BEEPS or not ways or _metal(layout, net):
            continue
        done += 1
        nodes = list(dict.fromkeys(node for _, node in sorted(ways)))[:BEEP_WAYS]
        places = (body, *(node for node in nodes if not _metal(layout, layout.net_at(node))))
        off = scene.situation("off", unplugged=frozenset({line.part}), battery_off=True)
        check = reading(
            layout,
            "beep",
            probe_at("ohms", line.node, places[0]),
            off,
            target=", ".join(places),
            opens=(line.part,),
            seconds=BEEP_S + BEEP_WAY_S * len(places),
            words=f"Beeper from {node_words(layout, line.node)} to bare metal and "
            f"{len(places) - 1} neighbours in the open plug of {line.part}",
        )
        yield replace(check, id=f"beep {line.node} | {off.words()}")


def _partners(scene: Scene) -> Partners:
    """By net: the nets it is suspected to be rubbed through to, with the chance of it."""
    layout = scene.layout
    found: dict[int, dict[int, float]] = {}
    for atom, chance in scene.suspected:
        if atom.kind != RUBBED:
            continue
        wires = [wire for owner in atom.owners[:2] if (wire := layout.wire_of(owner))]
        if len(wires) == 2:
            one, two = (layout.net[wire.a] for wire in wires)
            for a, b in ((one, two), (two, one)):
                beside = found.setdefault(a, {})
                beside[b] = beside.get(b, 0.0) + chance
    return found


def _metal(layout: Layout, net: int) -> bool:
    """Whether bodies hang on a net: against metal the check to metal says the same."""
    return any(end.part in BODIES for end in layout.members.get(net, ()))


def _met(layout: Layout, nets: tuple[int, int]) -> Iterator[tuple[Touch, Touch]]:
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
    """A sensor's plug off and a resistor in its place: from signal to ground where the unit pulls
    up, from the 5 V to the signal as well. The volts at the signal must follow. It tells wires
    from sensor, and cannot hurt an input: 12 mA at 12 V."""
    layout = scene.layout
    near = dict.fromkeys(touch.part for touch in scene.near if not touch.side)
    sensors = [(part, found) for part in near if (found := _pins(layout, part))]
    for part, pins in sensors[:SENSORS]:
        off = scene.situation("on", unplugged=frozenset({part}))
        signal, ground = pins[SIGNAL], pins[GROUND]
        here = f"{node_words(layout, signal)} to {node_words(layout, ground)}"
        yield _across(layout, part, pins, off, f"Volts in the open plug of {part}, {here}")
        for far, where in ((ground, "to its ground"), (pins.get(FIVE_VOLT, ""), "to its 5 V")):
            if far:
                lead = Lead(kind=RESISTOR, p=min(signal, far), n=max(signal, far))
                yield _across(
                    layout,
                    part,
                    pins,
                    replace(off, fitted=(lead,)),
                    f"{lead_words(lead)} from signal {where} in the open plug of {part}: "
                    f"volts at the signal",
                )


def _across(
    layout: Layout, part: str, pins: Mapping[str, str], situation: Situation, words: str
) -> Check:
    return reading(
        layout,
        "volts",
        probe_at("volts", pins[SIGNAL], pins[GROUND]),
        situation,
        target=part,
        opens=(part,),
        hazards=("unit-lines",),
        seconds=INSTEAD_S if situation.fitted else None,
        words=words,
    )


def _pins(layout: Layout, part: str) -> Mapping[str, str]:
    """Wire-side nodes of a sensor's pins by the role of the unit's pin behind each; empty unless
    it has a signal and a ground."""
    if part not in layout.book.parts or layout.joint(part) != "plug":
        return {}
    nodes: dict[str, str] = {}
    for end in layout.end_at.get(part, ()):
        if end.side or any(pin.part == part for pin in layout.pins_on(layout.net[end])):
            return {}
        for pin in layout.pins_on(layout.net[end]):
            nodes.setdefault(layout.book.roles[pin].role, layout.ends[end].node)
    return nodes if SIGNAL in nodes and GROUND in nodes else {}
