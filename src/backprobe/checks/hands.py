"""Checks without an instrument: unplug, swap, fuses, what works, codes, the display."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from backprobe.book.model import MINUS, CodeRule, End, Function, Pin
from backprobe.book.situations import Key, Situation
from backprobe.checks.cost import BY_CLASS
from backprobe.checks.layout import WIRE
from backprobe.checks.model import Check, Does
from backprobe.checks.readings import probe_at, reading
from backprobe.checks.scene import Scene, key_of
from backprobe.checks.wording import listed
from backprobe.defects.model import Probe
from backprobe.findings.model import Act, CodesFound, FuseFound, Reading, Works

MEMBERS = 8
FUSE_PULLS = 4
SWEEP_LEAST, SWEEP_MOST = 3, 7
"""Functions tried in one sweep."""
SWAP_TRIES = 3
"""Functions a swapped relay is tried with."""
BRANCHES = 4
"""Plugs behind a blown fuse that are taken off in turn."""
GROUP_SUSPECTED = 0.05
"""Chance within a 5 V group above which its members are unplugged one by one."""
LAMPS = ("lamp", "LED lamp")
FUSES = ("fuse", "fusible link", "circuit breaker")
DEAD, FED = 0.1, 0.8
"""Shares of the machine's volts below which a pin is dead, above which it is fed. Judgement."""


def by_hand(scene: Scene) -> Iterator[Check]:
    """Every check by hand near the suspicion."""
    yield from _display(scene)
    yield from _codes(scene)
    yield from _triggers(scene)
    yield from _works(scene)
    yield from _fuses(scene)
    yield from _new_fuses(scene)
    yield from _unplug(scene)
    yield from _swaps(scene)


def made(
    does: Does,
    target: str,
    words: str,
    situation: Situation,
    *,
    probe: Probe | None = None,
    opens: tuple[str, ...] = (),
    hazards: tuple[str, ...] = (),
    condition: str = "",
    setting: str = "",
    seconds: float | None = None,
) -> Check:
    """A check whose answer is a word or a value somebody reads off the machine."""
    if situation.key == "run":
        hazards = (*hazards, "moving-parts", "fumes")
    if situation.key == "crank":
        hazards = (*hazards, "crank-limit")
    if situation.unplugged:
        hazards = (*hazards, "unplug-live")
    return Check(
        id=f"{does} {target} {condition}".strip() + f" | {situation.words()}",
        does=does,
        target=target,
        words=words,
        situation=situation,
        probe=probe,
        opens=opens,
        disturbs=opens,
        hazards=tuple(dict.fromkeys(hazards)),
        condition=condition,
        setting=setting,
        people=2 if situation.key == "crank" else 1,
        seconds=BY_CLASS[does][0] if seconds is None else seconds,
    )


def display_probe(unit: str, pin: str) -> Probe:
    """What a unit senses at a pin."""
    return Probe(kind="inner", p=f"{unit}:{pin}", n=f"{unit}:ground")


def _display(scene: Scene) -> Iterator[Check]:
    nets = {scene.layout.net_at(touch.node) for touch in scene.near}
    units = {touch.part for touch in scene.near}
    for (unit, name), value in scene.layout.book.displays.items():
        end = End(value.pin.part, value.pin.name)
        if unit not in units and scene.layout.net.get(end, -1) not in nets:
            continue
        for situation in scene.live[:3]:
            yield made(
                "display",
                f"{unit} {name}",
                f"Display value {name}, {situation.words()}",
                situation,
                probe=display_probe(unit, value.pin.name),
                setting=value.measure,
            )


def _codes(scene: Scene) -> Iterator[Check]:
    """Codes read again: those found, and those near the suspicion. One code, one question."""
    found = {
        (f.unit, code)
        for f in scene.job.findings
        if isinstance(f, CodesFound)
        for code in (*f.active, *f.stored)
    }
    near = {Pin(touch.part, touch.pin) for touch in scene.near}
    for key, rule in scene.layout.book.codes.items():
        if key not in found and not any(test.pin in near for test in rule.tests):
            continue
        for situation in scene.live[:3]:
            if _watched(rule, situation):
                yield made(
                    "codes",
                    f"{rule.unit} {rule.code}",
                    f"Is code {rule.code} ({rule.words}) active, {situation.words()}?",
                    situation,
                )


def _triggers(scene: Scene) -> Iterator[Check]:
    """A code that was there with many things switched on: is it there with half of them?"""
    seen: set[frozenset[str]] = set()
    for found in reversed(scene.job.findings):
        if not isinstance(found, CodesFound) or found.visit != scene.job.visit:
            continue
        situation = found.situation
        if not found.active or len(situation.on) < 2 or (scene.stands and situation.key == "run"):
            continue
        names = sorted(situation.on - scene.layout.moving)
        for half in (names[: len(names) // 2], names[len(names) // 2 :]):
            some = scene.situation(situation.key, frozenset(half))
            if some.on in seen:
                continue
            seen.add(some.on)
            for code in found.active:
                rule = scene.layout.book.codes.get((found.unit, code))
                if rule is not None and _watched(rule, some):
                    yield made(
                        "codes",
                        f"{rule.unit} {rule.code}",
                        f"Is code {rule.code} ({rule.words}) active, {some.words()}?",
                        some,
                    )


def _watched(rule: CodeRule, situation: Situation) -> bool:
    return situation.key in rule.when and set(rule.commands) <= situation.on


def _works(scene: Scene) -> Iterator[Check]:
    """Functions one by one, and many in one sweep: what works clears all it needs."""
    near = {touch.part for touch in scene.near} | set(scene.owners)
    known = {
        f.target for f in scene.job.findings if isinstance(f, Works) and f.visit == scene.job.visit
    }
    functions = [
        function
        for function in scene.layout.book.functions.values()
        if not function.moves
        and function.name not in known
        and near & set(function.needs)
        and _can_try(scene, function)
    ]
    for function in functions:
        situation = scene.situation(key_of(function), frozenset(function.commands))
        yield made(
            "works",
            function.name,
            f"Does it work: {function.name}, {situation.words()}?",
            situation,
        )
    yield from _lamps(scene, near, known)
    if len(functions) >= SWEEP_LEAST:
        swept = functions[:SWEEP_MOST]
        running = [function.name for function in swept if key_of(function) == "run"]
        still = [function.name for function in swept if key_of(function) != "run"]
        said = [listed(still)] if still else []
        said += [f"with the engine running {listed(running)}"] if running else []
        yield made(
            "sweep",
            ", ".join((*still, *running)),
            f"What works? Try {', then '.join(said)}",
            scene.situation("on"),
            setting=", ".join(running),
            seconds=60.0 + 30.0 * len(swept) + (45.0 if running else 0.0),
            hazards=("moving-parts", "fumes") if running else (),
        )


def _lamps(scene: Scene, near: set[str], known: set[str]) -> Iterator[Check]:
    """Of several lamps that are lit together each is seen by itself."""
    parts = scene.layout.book.parts
    for function in scene.layout.book.functions.values():
        lamps = [n for n in function.needs if n in parts and parts[n].kind in LAMPS]
        if len(lamps) < 2 or function.moves or not _can_try(scene, function):
            continue
        situation = scene.situation(key_of(function), frozenset(function.commands))
        for lamp in lamps:
            if lamp in near and lamp not in known:
                words = f"Does it work: {lamp}, {situation.words()}?"
                yield made("works", lamp, words, situation)


def _can_try(scene: Scene, function: Function) -> bool:
    """Nothing that needs the engine can be tried while it does not start."""
    return not (scene.stands and key_of(function) in ("crank", "run"))


def _fuses(scene: Scene) -> Iterator[Check]:
    near = dict.fromkeys([*scene.owners, *(touch.part for touch in scene.near)])
    kinds = {name: part.kind for name, part in scene.layout.book.parts.items()}
    for name in [n for n in near if kinds.get(n) in FUSES][:FUSE_PULLS]:
        part = scene.layout.book.parts.get(name)
        if part is not None:
            amps = part.attrs.get("amps")
            rating = f"{amps:g} A" if isinstance(amps, float) else ""
            yield made(
                "fuse",
                name,
                f"Pull {name} and look: is it blown?",
                scene.situation("off"),
                opens=(name,),
                hazards=("fuse-rating",),
                setting=rating,
            )


def _new_fuses(scene: Scene) -> Iterator[Check]:
    """A sound fuse where one was found blown: does it blow at once, or with which load?

    What is switched on when it blows tells the branch (common practice, no source).
    """
    blown = {
        f.fuse
        for f in scene.job.findings
        if isinstance(f, FuseFound) and f.state in ("blown", "blew", "hot one side")
    }
    for name in sorted((blown | _dead_behind(scene)) & set(scene.layout.book.parts)):
        part = scene.layout.book.parts[name]
        amps = part.attrs.get("amps")
        rating = f"{amps:g} A, never larger" if isinstance(amps, float) else "same rating"
        loads: dict[tuple[Key, frozenset[str]], str] = {
            ("on", frozenset()): "nothing else switched on"
        }
        for function in scene.layout.book.functions.values():
            if not function.moves and _can_try(scene, function) and _behind(scene, name, function):
                switched = f"{listed(sorted(function.commands))} on" if function.commands else ""
                load = (key_of(function), frozenset(function.commands))
                loads.setdefault(load, switched or f"try {function.name}")
        for (key, on), words in loads.items():
            situation = Situation(key=key, on=on, renewed=frozenset({name}))
            yield made(
                "new fuse",
                name,
                f"Fit a new {name} ({rating}), {words}: does it blow?",
                situation,
                opens=(name,),
                hazards=("fuse-rating",),
            )
            for branch in _branches(scene, name):
                yield made(
                    "new fuse",
                    name,
                    f"Fit a new {name} ({rating}), {branch} unplugged, {words}: does it blow?",
                    replace(situation, unplugged=frozenset({branch})),
                    opens=(branch, name),
                    hazards=("fuse-rating", "unplug-live"),
                )


def _branches(scene: Scene, fuse: str) -> list[str]:
    """What can be unplugged behind a fuse, nearest first: where it holds with a plug off, what blows it
    hangs behind that plug (common practice, no source)."""
    layout = scene.layout
    ends = [end for end in layout.end_at.get(fuse, ()) if end.pin == "2"]
    far = layout.behind(ends, 8)
    plugs = [
        name
        for name in far
        if name in layout.book.parts
        and layout.joint(name) == "plug"
        and name != fuse
        and name not in layout.units
    ]
    return sorted(plugs, key=lambda name: (far[name], name))[:BRANCHES]


def _dead_behind(scene: Scene) -> set[str]:
    """Fuses with feed on one side and none on the other, as measured since they were last renewed: in
    the same situation, or in any where the battery itself feeds the one side."""
    volts = scene.layout.book.machine.volts
    sides: dict[tuple[str, Situation | None], set[bool]] = {}
    for finding in scene.job.findings:
        if isinstance(finding, Act):
            sides = {key: seen for key, seen in sides.items() if key[0] != finding.target}
        touch = scene.layout.touch.get(finding.p) if isinstance(finding, Reading) else None
        if touch is None or not isinstance(finding, Reading) or finding.n != MINUS:
            continue
        part = scene.layout.book.parts.get(touch.part)
        if part is not None and part.kind in FUSES and finding.instrument == "meter":
            share = finding.value / volts
            if share < DEAD or share > FED:
                ends = scene.layout.end_at.get(touch.part, ())
                hot = any(scene.layout.net.get(end, -1) in scene.layout.unfused for end in ends)
                always = hot and not finding.situation.battery_off
                where = None if always else finding.situation
                sides.setdefault((touch.part, where), set()).add(share > FED)
    return {fuse for (fuse, _), seen in sides.items() if len(seen) > 1}


def _behind(scene: Scene, fuse: str, function: Function) -> bool:
    """Whether something the function needs or is switched by hangs a few wires behind a fuse."""
    ends = [end for end in scene.layout.end_at.get(fuse, ()) if end.pin == "2"]
    return not scene.layout.behind(ends, 8).keys().isdisjoint({*function.needs, *function.commands})


def _unplug(scene: Scene) -> Iterator[Check]:
    """Members of a 5 V group one by one: is the supply back in the open plug, or on the others?"""
    layout = scene.layout
    for unit, name in layout.book.groups:
        nets = {
            layout.net.get(End(pin.part, pin.name), -1)
            for pin, role in layout.book.roles.items()
            if pin.part == unit and role.group == name and role.role.lower().startswith("5 v")
        }
        supply = [
            end
            for number in sorted(nets)
            for end in layout.members.get(number, ())
            if end.part != unit and layout.joint(end.part) == "plug" and not end.side
        ]
        members = list(dict.fromkeys(end.part for end in supply))
        inline = list(
            dict.fromkeys(
                end.part
                for number in sorted(nets)
                for end in layout.members.get(number, ())
                if end.side
            )
        )
        wires = {f"{WIRE}{w.id}" for w in layout.book.wires.values() if layout.net[w.a] in nets}
        suspected = sum(scene.owners.get(name, 0.0) for name in {*members, *wires})
        if suspected < GROUP_SUSPECTED:
            continue
        for part in (*members, *inline)[:MEMBERS]:
            situation = scene.situation("on", unplugged=frozenset({part}))
            pins = [e for e in layout.end_at.get(part, ()) if layout.net[e] in nets]
            feed = _feed_side(pins)
            if feed is not None:
                yield reading(
                    layout,
                    "volts",
                    probe_at("volts", layout.ends[feed].node),
                    situation,
                    opens=(part,),
                    seconds=90.0,
                    hazards=("unit-lines",),
                    words=f"5 V in the open plug of {part}",
                )
            for key, rule in layout.book.codes.items():
                if key[0] == unit and any(t.kind == "rail" and t.other == name for t in rule.tests):
                    yield made(
                        "unplug",
                        part,
                        f"Unplug {part}: does code {rule.code} ({rule.words}) go?",
                        situation,
                        opens=(part,),
                        setting=f"{unit} {rule.code}",
                    )


def _feed_side(pins: list[End]) -> End | None:
    """The end of an open plug that still hangs on the unit."""
    if not pins:
        return None
    if not pins[0].side:
        return pins[0]
    return next((end for end in pins if end.side == "a"), pins[0])


def _swaps(scene: Scene) -> Iterator[Check]:
    near = dict.fromkeys([*scene.owners, *(touch.part for touch in scene.near)])
    for name in near:
        kind = scene.layout.kind(name)
        if kind is None or "relay" not in kind.name:
            continue
        tried: set[Situation] = set()
        for function in _served(scene, name):
            situation = scene.situation(key_of(function), frozenset(function.commands))
            if situation in tried or len(tried) >= SWAP_TRIES:
                continue
            tried.add(situation)
            yield made(
                "swap",
                name,
                f"Swap {name} with an equal relay: does it work now: {function.name}?",
                situation,
                opens=(name,),
                setting=function.name,
            )


def _served(scene: Scene, relay: str) -> list[Function]:
    """Functions whose load lies near a relay's contact (pin 87 by DIN 72552): those found dead first,
    then the nearest. Wires tell no feed from a ground: which one needs the relay is forecast."""
    dead = {f.target for f in scene.job.findings if isinstance(f, Works) and not f.works}
    outlets = [e for e in scene.layout.end_at.get(relay, ()) if e.pin.startswith("87")]
    far = scene.layout.behind(outlets, 6)
    ranked = sorted(
        (f.name not in dead, min(far[need] for need in f.needs if need in far), f.name)
        for f in scene.layout.book.functions.values()
        if not f.moves and _can_try(scene, f) and any(need in far for need in f.needs)
    )
    return [scene.layout.book.functions[name] for *_, name in ranked]
