"""Checks with an instrument: volts, drops, millivolts, ohms, a lamp as load, the clamp."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import lru_cache
from typing import Literal

from backprobe.book.model import BODIES, MINUS, End
from backprobe.book.situations import Lead, Situation
from backprobe.checks.cost import BY_CLASS, clamped_at, minutes_of
from backprobe.checks.layout import Layout, Touch
from backprobe.checks.model import Check, Does
from backprobe.checks.safety import reachable
from backprobe.checks.scene import Scene
from backprobe.checks.wording import node_words, wire_words
from backprobe.circuit.fittings import lamp_for
from backprobe.defects.model import Probe
from backprobe.findings.model import FuseFound

OHM_NETS = 6
LAMPS = 3
SOCKETS = 2
SOCKET_LOADS = 4
SOCKET_PLUGS = 6
OHM_WIRES = 5
GROUND_WIRES = 3
FUSE = "fuse"
BLOWN = ("blown", "blew")
CLAMPS = 8
DROPS = 12
LUGS = 8
KEPT = 5_000
"""Checks of one machine remembered."""
WIDEST_NET = 8
"""Plugs to take off for one ohm check, at most."""

INSTRUMENT: dict[str, tuple[str, str]] = {
    "volts": ("meter", "V DC"),
    "drop": ("meter", "V DC"),
    "millivolts": ("meter", "mV DC"),
    "ohms": ("ohmmeter", "ohm"),
    "beep": ("ohmmeter", "continuity, beeper on"),
    "lamp": ("meter", "V DC"),
    "amps": ("clamp", "A DC, zeroed"),
}


def readings(scene: Scene) -> Iterator[Check]:
    """Every reading near the suspicion, most suspected places first within each sort."""
    yield from _volts(scene)
    yield from _drops(scene)
    yield from _over_lugs(scene)
    yield from _ohms(scene)
    yield from _wire_ohms(scene)
    yield from _ground_ohms(scene)
    yield from _lamps(scene)
    yield from _lamp_for_fuse(scene)
    yield from _clamps(scene)


@lru_cache(maxsize=KEPT)
def probe_at(kind: Literal["volts", "ohms", "amps"], p: str, n: str = MINUS) -> Probe:
    """A probe; the same are asked for in every situation and in every round."""
    return Probe(kind=kind, p=p, n=n)


def reading(
    layout: Layout,
    does: Does,
    probe: Probe,
    situation: Situation,
    *,
    target: str = "",
    opens: tuple[str, ...] = (),
    hazards: Iterable[str] = (),
    seconds: float | None = None,
    words: str = "",
) -> Check:
    """A check that reads a probe in a situation, with the hazards that always go with it; the same from
    round to round, so each is made once."""
    key = (does, probe, situation, target, opens, tuple(hazards), seconds, words)
    known = layout.readings.get(key)
    if known is not None:
        return known
    parts = opens or tuple(
        dict.fromkeys(
            touch.part
            for node in (probe.p, probe.n)
            if (touch := layout.touch.get(node)) and touch.part not in BODIES and node != MINUS
        )
    )
    instrument, setting = INSTRUMENT[does]
    if situation.key == "crank" and does in ("volts", "drop"):
        instrument, setting = "min-max", "V DC, min/max hold"
    named = words or _named(layout, does, probe)
    if len(layout.readings) >= KEPT:
        layout.readings.clear()
    made = layout.readings[key] = Check(
        id=f"{does} {probe.p} {probe.n} | {situation.words()}",
        does=does,
        target=target or (parts[0] if parts else probe.p),
        words=f"{named}, {situation.words()}",
        situation=situation,
        probe=probe,
        instrument=instrument,
        setting=setting,
        opens=tuple(dict.fromkeys((*parts, *sorted(situation.unplugged - {""})))),
        disturbs=parts,
        hazards=tuple(dict.fromkeys((*hazards, *_hazards(layout, does, probe, situation)))),
        people=2 if situation.key == "crank" else 1,
        seconds=BY_CLASS[does][0] if seconds is None else seconds,
    )
    return made


def _named(layout: Layout, does: Does, probe: Probe) -> str:
    sort = {
        "volts": "Volts",
        "drop": "Voltage drop",
        "millivolts": "Millivolts",
        "ohms": "Ohms",
        "beep": "Beeper",
        "lamp": "Volts under a lamp",
        "amps": "Amps",
    }[does]
    if does == "amps":
        return f"{sort} in {wire_words(layout, probe.p) or probe.p}"
    if probe.n == MINUS and does != "ohms":
        return f"{sort} at {node_words(layout, probe.p)}"
    return f"{sort} from {node_words(layout, probe.p)} to {node_words(layout, probe.n)}"


def _hazards(layout: Layout, does: str, probe: Probe, situation: Situation) -> list[str]:
    found = []
    if situation.unplugged:
        found.append("unplug-live")
    if does in ("ohms", "beep"):
        found += ["ohms-live", "battery-gas"] if situation.battery_off else ["ohms-live"]
    if situation.battery_off:
        found.append("battery-off-running")
    if does in ("volts", "drop", "lamp"):
        found.append("no-piercing")
    parts, nets = _bare_beside(layout, probe)
    if any("starter-bypass" in kind.hazards for part in parts if (kind := layout.kind(part))):
        found.append("starter-bypass")
    if not situation.battery_off and layout.unfused & nets:
        found.append("short-circuit")
    if any(lead.kind.startswith("lamp") for lead in situation.fitted):
        found.append("hot-lamp")
    if any(layout.sensitive(node) for node in (probe.p, probe.n) if node in layout.touch):
        found.append("unit-lines")
    if situation.key == "crank":
        found.append("crank-limit")
    if situation.key == "run":
        found += ["moving-parts", "fumes"]
    return list(dict.fromkeys(found))


def _bare_beside(layout: Layout, probe: Probe) -> tuple[tuple[str, ...], set[int]]:
    """Parts whose studs a probe is held to, and the nets that a tip which slips there can reach."""
    nodes = (probe.p, probe.n)
    touches = [layout.touch[node] for node in nodes if node in layout.touch and node != MINUS]
    parts = tuple(dict.fromkeys(t.part for t in touches if layout.joint(t.part) == "stud"))
    beside = (layout.net[end] for part in parts for end in layout.end_at.get(part, ()))
    return parts, {*map(layout.net_at, nodes), *beside}


def _volts(scene: Scene) -> Iterator[Check]:
    for touch in scene.near:
        for situation in scene.live:
            if touch.node != MINUS and reachable(scene.layout, touch.node, situation):
                yield reading(scene.layout, "volts", probe_at("volts", touch.node), situation)
    bodies = {part.body for part in scene.layout.book.parts.values()}
    for body in BODIES:
        for situation in scene.live:
            if body in scene.layout.touch or body in bodies:
                yield reading(
                    scene.layout, "volts", probe_at("volts", body), situation, target=body
                )


def _drops(scene: Scene) -> Iterator[Check]:
    """Across the ways of inline plugs, and across both ends of a wire at one place."""
    done = 0
    for touch in scene.near:
        if touch.side != "a" or done >= DROPS:
            continue
        other = f"{touch.part}.{touch.pin}b"
        for situation in scene.live[:3]:
            if other in scene.layout.touch and reachable(scene.layout, touch.node, situation):
                yield reading(scene.layout, "drop", probe_at("volts", touch.node, other), situation)
        done += 1


def _over_lugs(scene: Scene) -> Iterator[Check]:
    """Over the contact of a suspected lug, from its post: what is lost there is lost nowhere else.
    Common practice."""
    layout = scene.layout
    weight: dict[str, float] = {}
    for atom, chance in scene.suspected:
        node = atom.id.removeprefix("contact ")
        if node in layout.lugs and atom.group in scene.groups:
            weight[node] = weight.get(node, 0.0) + chance
    for node in sorted(weight, key=lambda n: (-weight[n], n))[:LUGS]:
        lug = layout.lugs[node]
        post = layout.ends[End(lug.part, lug.pin)].node
        for situation in scene.live[:3]:
            yield reading(
                layout,
                "drop",
                probe_at("volts", post, node),
                situation,
                opens=(lug.part,) if lug.part in layout.book.parts else (),
                seconds=90.0,
                words=f"Voltage drop over {node_words(layout, node)}",
            )


def _ohms(scene: Scene) -> Iterator[Check]:
    """Dead circuit, every plug of a piece of copper off: to metal, and from end to end."""
    layout = scene.layout
    nets = list(dict.fromkeys(layout.net_at(touch.node) for touch in scene.near))
    for number in nets[:OHM_NETS]:
        ends = layout.members.get(number, ())
        plugs = frozenset(
            end.part
            for end in ends
            if layout.joint(end.part) == "plug" and end.part in layout.book.parts
        )
        bare = [end for end in ends if layout.joint(end.part) in ("stud", "none")]
        outer = frozenset(name for name in plugs if not _inline(layout, name))
        if not outer or len(outer) > WIDEST_NET or bare:
            continue
        situation = scene.situation("off", unplugged=outer, battery_off=True)
        reach = [layout.ends[end] for end in ends if end.part in outer]
        first = _handiest(layout, reach)
        for body in _bodies(layout):
            yield reading(
                layout,
                "ohms",
                probe_at("ohms", first.node, body),
                situation,
                opens=tuple(sorted(outer)),
            )
        for touch in reach:
            if touch.node != first.node:
                yield reading(
                    layout,
                    "ohms",
                    probe_at("ohms", first.node, touch.node),
                    situation,
                    opens=tuple(sorted(outer)),
                )


def _inline(layout: Layout, part: str) -> bool:
    return any(end.side for end in layout.end_at.get(part, ()))


def _handiest(layout: Layout, touches: list[Touch]) -> Touch:
    return min(touches, key=lambda t: (minutes_of(layout, t.part)[0], t.node))


def _bodies(layout: Layout) -> list[str]:
    used = {part.body.split(" ")[0] for part in layout.book.parts.values() if part.body}
    used |= {end.part for end in layout.ends if end.part in BODIES}
    return [body for body in BODIES if body in used][:2]


def _lamps(scene: Scene) -> Iterator[Check]:
    """A lamp where the load can be unplugged: the feed has to carry something."""
    done = 0
    situation = next((s for s in scene.live if s.key == "on"), None)
    if situation is None:
        return
    for touch in scene.near:
        part = scene.layout.book.parts.get(touch.part)
        kind = scene.layout.kind(touch.part)
        if done >= LAMPS or part is None or kind is None or not kind.load or touch.side:
            continue
        if scene.layout.sensitive(touch.node) or scene.layout.joint(touch.part) != "plug":
            continue
        lamp = Lead(kind=lamp_for(scene.layout.book.machine.volts), p=touch.node, n=MINUS)
        off = situation.unplugged | {touch.part}
        with_lamp = replace(situation, unplugged=off, fitted=(lamp,))
        done += 1
        yield reading(scene.layout, "lamp", probe_at("volts", touch.node), with_lamp)


def _lamp_for_fuse(scene: Scene) -> Iterator[Check]:
    """A lamp in place of a suspected fuse: how bright it burns says how hard the line behind it
    is shorted, and switching loads one by one says on which branch. Common practice."""
    book = scene.layout.book
    found = [f.fuse for f in scene.job.findings if isinstance(f, FuseFound) and f.state in BLOWN]
    near = dict.fromkeys(
        [*sorted(scene.job.now.pulled), *found, *scene.owners, *(t.part for t in scene.near)]
    )
    fuses = [name for name in near if name in book.parts and book.parts[name].kind == FUSE]
    loads = dict.fromkeys(s.on for s in scene.live if s.key == "on")
    for name in fuses[:SOCKETS]:
        ends = scene.layout.end_at.get(name, ())
        if len(ends) != 2 or scene.layout.joint(name) != "plug":
            continue
        p, n = (scene.layout.ends[end].node for end in sorted(ends, key=lambda end: end.pin))
        lamp = Lead(kind=lamp_for(book.machine.volts, large=True), p=p, n=n)
        wanted: list[tuple[frozenset[str], str]] = [(on, "") for on in list(loads)[:SOCKET_LOADS]]
        wanted += [(_load_behind(scene, plug), plug) for plug in _plugs_behind(scene, name)]
        for on, plug in wanted:
            off = frozenset({plug} - {""})
            plain = scene.situation("on", on, off, frozenset({name}))
            yield reading(
                scene.layout,
                "lamp",
                probe_at("volts", p, n),
                replace(plain, fitted=(lamp,)),
                target=plug or name,
                opens=(name, *off),
                hazards=("fire",),
                seconds=60.0 if plug else 240.0,
                words=f"Lamp in place of {name}: volts across it",
            )


def _plugs_behind(scene: Scene, fuse: str) -> list[str]:
    """Plugs on suspected wires, most suspected first, to take off while the lamp burns."""
    book = scene.layout.book
    weight: dict[str, float] = {}
    for owner, chance in scene.owners.items():
        wire = scene.layout.wire_of(owner)
        for end in (wire.a, wire.b) if wire else ():
            part = book.parts.get(end.part)
            if part and end.part != fuse and scene.layout.joint(end.part) == "plug":
                weight[end.part] = weight.get(end.part, 0.0) + chance
    return sorted(weight, key=lambda name: (-weight[name], name))[:SOCKET_PLUGS]


def _load_behind(scene: Scene, plug: str) -> frozenset[str]:
    """What must be switched on to feed the load nearest to a plug."""
    far: dict[str, int] = {}
    for end, distance in scene.layout.distance(scene.layout.end_at.get(plug, ()), 6).items():
        far[end.part] = min(distance, far.get(end.part, distance))
    ranked = sorted(
        (min(far[need] for need in f.needs if need in far), f.name)
        for f in scene.layout.book.functions.values()
        if not f.moves and f.key == "on" and any(need in far for need in f.needs)
    )
    return frozenset(scene.layout.book.functions[ranked[0][1]].commands) if ranked else frozenset()


def _wire_ohms(scene: Scene) -> Iterator[Check]:
    """One suspected wire by itself, both its plugs off: to bare metal, and from end to end."""
    layout = scene.layout
    done = 0
    for name in scene.owners:
        wire = layout.wire_of(name)
        if wire is None or done >= OHM_WIRES:
            continue
        parts = (wire.a.part, wire.b.part)
        if any(layout.joint(part) != "plug" or part not in layout.book.parts for part in parts):
            continue
        done += 1
        dead = scene.situation("off", unplugged=frozenset(parts), battery_off=True)
        a, b = (layout.ends[end] for end in (wire.a, wire.b))
        first = _handiest(layout, [a, b])
        for body in _bodies(layout):
            probe = probe_at("ohms", first.node, body)
            yield reading(layout, "ohms", probe, dead, target=wire.id, opens=parts)
        probe = probe_at("ohms", a.node, b.node)
        yield reading(layout, "ohms", probe, dead, target=wire.id, opens=parts)


def _ground_ohms(scene: Scene) -> Iterator[Check]:
    """Dead circuit, a load's plug off: from the ground wire in it to the metal its stud stands on. All
    there is where the load moves the machine and is not switched on; common practice."""
    layout, done = scene.layout, 0
    for touch in scene.near:
        if done >= GROUND_WIRES or touch.part not in layout.moving:
            continue
        body = _stud_metal(layout, layout.net_at(touch.node))
        if not body or touch.side or layout.joint(touch.part) != "plug":
            continue
        done += 1
        dead = scene.situation("off", unplugged=frozenset({touch.part}), battery_off=True)
        probe = probe_at("ohms", touch.node, body)
        yield reading(layout, "ohms", probe, dead, opens=(touch.part,))


def _stud_metal(layout: Layout, net: int) -> str:
    """The metal that the ground stud of a net stands on, "" where it has none."""
    parts = layout.book.parts
    studs = (parts[e.part] for e in layout.members.get(net, ()) if e.part in parts)
    return next((p.body.split(" ")[0] for p in studs if p.kind == "ground stud" and p.body), "")


def _clamps(scene: Scene) -> Iterator[Check]:
    wires = [wire for name in scene.owners if (wire := scene.layout.wire_of(name))]
    for wire in wires[:CLAMPS]:
        near = clamped_at(scene.layout, wire.id)
        for situation in scene.live[:2]:
            yield reading(
                scene.layout,
                "amps",
                probe_at("amps", wire.id),
                situation,
                target=wire.id,
                opens=(near,) if near else (),
            )
