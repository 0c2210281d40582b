"""Checks of places on the machine: a close look, and provoking a fault that is gone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from backprobe.checks.cost import minutes_of
from backprobe.checks.hands import FUSES, made
from backprobe.checks.model import Check
from backprobe.checks.scene import Scene
from backprobe.checks.wording import listed
from backprobe.findings.model import CodesFound, Looked, Provoked, Works

LOOKS = 16
LOOK_S, LOOK_MORE_S = 180.0, 60.0
"""Seconds of a close look at a part, and at the plug or lugs at it as well. Judgement."""
NAMED = 4
"""Wires asked for by name where a stretch of loom is looked at: who sees damage sees whose it is."""
WALK = 3
"""Loom sections gone through in one look or provocation, at most."""
COVERS = 3
"""Covers behind which all that is suspected is gone through in one provocation, at most."""
PROVOKED = 8
PROVOKE_S, PROVOKE_EACH_S = 90.0, 120.0
"""Seconds of a provocation: the watch set up, and each place. Judgement; wiggling a whole
machine's loom takes 10-30 min (common practice)."""
CONDITIONS: dict[str, tuple[str, str, str]] = {
    "moved": ("Move", "by hand, tap it, flex it every 15 cm", ""),
    "wet": ("Wet", "with a hand spray, water with a pinch of salt", "spray"),
    "hot": ("Warm", "with a heat gun, hand-warm and no more", "hot-parts"),
}
"""How a condition is brought about. Common practice for intermittent faults, no source."""


def at_places(scene: Scene) -> Iterator[Check]:
    """Looks near the suspicion; provocations when the fault is gone."""
    yield from _looks(scene)
    if scene.waits:
        yield from _provoke(scene)


def _looks(scene: Scene) -> Iterator[Check]:
    weight: dict[str, float] = {}
    wires: dict[str, dict[str, float]] = {}
    joints = scene.layout.joints
    for atom, share in scene.suspected:
        chance = share * atom.visible
        if chance <= 1e-4 or atom.group not in scene.groups:
            continue
        for place in atom.places:
            for target in {place.words, place.section} - {""}:
                weight[target] = weight.get(target, 0.0) + chance * place.share
                here = wires.setdefault(target, {})
                here[atom.group] = here.get(atom.group, 0.0) + chance * place.share
        if not atom.places:
            for owner in atom.owners:
                if owner in scene.layout.book.parts and not _is_fuse(scene, owner):
                    # The plug and the part behind it are told apart by the eye.
                    target = atom.group if joints.get(atom.group) == owner else owner
                    weight[target] = weight.get(target, 0.0) + chance
    book = scene.layout.book
    known = {**book.parts, **joints, **book.sections, **book.spots}
    ranked = sorted((n for n in weight if n in known), key=lambda n: (-weight[n], n))
    done: set[str] = set()
    for target in ranked[:LOOKS]:
        part = joints.get(target, target)
        if part in book.parts:
            if part not in done:
                yield _look_at(scene, part, [n for n in ranked if joints.get(n, n) == part])
            done.add(part)
            continue
        spot = scene.layout.book.spots.get(target)
        section = target in scene.layout.book.sections
        where = (spot.section if spot else target,)
        words = (
            f"Look at the loom section {target} from end to end"
            if section
            else f"Look closely at {target}, on {spot.section}"
            if spot
            else f"Look closely at {target}"
        )
        seconds = 120.0 if spot else 360.0 if section else LOOK_S
        yield made(
            "look",
            target,
            words,
            scene.situation("off"),
            opens=where,
            setting=", ".join(_named(wires.get(target, {}))),
            seconds=seconds,
            hazards=heat(scene, target),
        )
    yield from _look_walks(scene, weight)


def _named(weight: Mapping[str, float]) -> list[str]:
    """The wires that are asked for by name where a stretch of loom is looked at."""
    return sorted(sorted(weight), key=lambda name: -weight[name])[:NAMED]


def _look_at(scene: Scene, part: str, places: Sequence[str]) -> Check:
    """One look at a part and the plug or lugs at it, of which `places` are suspected, these first:
    the eye tells them apart."""
    seen = {f.target for f in scene.job.findings if isinstance(f, Looked) and f.trusted}
    wanted = sorted((n for n in places if n not in seen), key=lambda n: n == part) or [*places]
    kind = scene.layout.kind(part)
    task = next((t for t in kind.tasks if t.does == "look"), None) if kind else None
    return made(
        "look",
        ", ".join(wanted),
        f"Look closely at {listed(wanted)}{f': {task.words}' if task else ''}",
        scene.situation("off"),
        opens=(part,),
        seconds=LOOK_S + LOOK_MORE_S * (len(wanted) - 1),
        hazards=tuple(dict.fromkeys((*heat(scene, part), *(task.hazards if task else ())))),
    )


def _is_fuse(scene: Scene, part: str) -> bool:
    """A fuse is pulled to be looked at, which is a check of its own."""
    return scene.layout.book.parts[part].kind in FUSES


def _look_walks(scene: Scene, weight: Mapping[str, float]) -> Iterator[Check]:
    seen = {f.target for f in scene.job.findings if isinstance(f, Looked) and f.trusted}
    for walk in walks(scene, {name: w for name, w in weight.items() if name not in seen}):
        yield made(
            "look",
            ", ".join(walk),
            f"Look along the loom: {', '.join(walk)}",
            scene.situation("off"),
            opens=walk,
            seconds=180.0 + 180.0 * len(walk),
            hazards=tuple(dict.fromkeys(h for name in walk for h in heat(scene, name))),
        )


def walks(scene: Scene, weight: Mapping[str, float]) -> list[tuple[str, ...]]:
    """Sections that hang together, up to WALK, begun at each of the likeliest; within a walk the
    one that promises most per minute of getting there comes first."""
    found: dict[frozenset[str], tuple[str, ...]] = {}
    book = scene.layout.book
    ranked = sorted((n for n in weight if n in book.sections), key=lambda n: (-weight[n], n))
    for start in ranked[:4]:
        walk = [start]
        while len(walk) < WALK:
            ends = {e for name in walk for e in (book.sections[name].a, book.sections[name].b)}
            more = [
                n
                for n in ranked
                if n not in walk and ends & {book.sections[n].a, book.sections[n].b}
            ]
            if not more:
                break
            walk.append(more[0])
        if len(walk) > 1:
            found.setdefault(frozenset(walk), tuple(_in_order(scene, walk, weight)))
    return list(found.values())


def _in_order(scene: Scene, walk: Sequence[str], weight: Mapping[str, float]) -> list[str]:
    def rate(name: str) -> float:
        opening, closing, _ = minutes_of(scene.layout, name)
        return weight[name] / (opening + closing + PROVOKE_EACH_S)

    return sorted(walk, key=lambda name: (-rate(name), name))


def heat(scene: Scene, target: str) -> tuple[str, ...]:
    """The caution of a part, section or spot where it is hot."""
    spot = scene.layout.book.spots.get(target)
    words = f"{target} {scene.layout.place(target)}".lower()
    hot = (spot is not None and spot.exposure == "hot") or any(
        word in words for word in ("exhaust", "turbo", "glow", "cylinder", "coolant")
    )
    return ("hot-parts",) if hot else ()


def _provoke(scene: Scene) -> Iterator[Check]:
    """Bring the condition back, at one place or at several one after the other, and watch."""
    layout = scene.layout
    watch = watched(scene)
    situation = next((s for s in scene.live if s.key in ("on", "run")), None)
    if situation is None or not watch:
        return
    weight: dict[tuple[str, str], float] = {}
    for atom, share in scene.suspected:
        chance = share * (atom.sometimes > 0)
        if chance <= 1e-4 or atom.group not in scene.groups:
            continue
        places = {place.section for place in atom.places if place.section} or {
            owner for owner in atom.owners if owner in layout.book.parts
        }
        for condition in CONDITIONS:
            factor = float(getattr(atom, condition))
            if factor > 1.0 or condition == "moved":
                for place in sorted(places):
                    key = (place, condition)
                    weight[key] = weight.get(key, 0.0) + chance * factor
    ranked = sorted(weight, key=lambda key: (-weight[key], key))
    targets: dict[tuple[str, tuple[str, ...]], None] = {}
    tried = {
        (place, found.condition)
        for found in scene.job.findings
        if isinstance(found, Provoked) and found.trusted
        for place in found.places
    }
    for condition in CONDITIONS:
        here = {
            p: w for (p, c), w in weight.items() if c == condition and (p, condition) not in tried
        }
        for walk in walks(scene, here):
            targets.setdefault((condition, walk))
        parts = [p for p in here if p in layout.book.parts]
        for some in _together(scene, sorted(parts, key=lambda p: (-here[p], p)), here):
            targets.setdefault((condition, tuple(_in_order(scene, some, here))))
    for place, condition in ranked[: PROVOKED * 2]:
        targets.setdefault((condition, (place,)))
    for condition, walk in targets:
        verb, how, hazard = CONDITIONS[condition]
        running = ("moving-parts",) if situation.key == "run" else ()
        hot = [h for name in walk for h in heat(scene, name)]
        last = "; note which piece you hold when it shows" if len(walk) > 1 else ""
        yield made(
            "provoke",
            ", ".join(walk),
            f"{verb} {listed(walk)} {how}; watch {watch}{last}",
            situation,
            opens=walk,
            condition=condition,
            setting=watch,
            seconds=PROVOKE_S + PROVOKE_EACH_S * len(walk),
            hazards=tuple(h for h in (hazard, *hot, *running) if h),
        )


def _together(
    scene: Scene, parts: Sequence[str], weight: Mapping[str, float]
) -> Iterator[Sequence[str]]:
    """Parts worth going through one after the other: the likeliest, and those behind one cover, which
    is opened once. `parts`: the likeliest first."""
    behind: dict[str, list[str]] = {}
    for part in parts:
        behind.setdefault(scene.layout.cover(part), []).append(part)
    here = sorted(behind.values(), key=lambda some: -sum(weight[p] for p in some))[:COVERS]
    for some in (parts, *here):
        if len(some) > 1:
            yield some[:WALK]


def watched(scene: Scene) -> str:
    """What to keep an eye on while a fault is provoked: the value or code the complaint came with."""
    book = scene.layout.book
    for finding in reversed(scene.job.findings):
        if not isinstance(finding, CodesFound):
            continue
        codes = [c for c in (*finding.active, *finding.stored) if (finding.unit, c) in book.codes]
        rules = [book.codes[finding.unit, code] for code in codes]
        for rule in rules:
            for display in book.displays.values():
                if display.unit == rule.unit and any(t.pin == display.pin for t in rule.tests):
                    return f"the display value {display.name} and code {rule.code}"
        if rules:
            return f"code {rules[0].code} ({rules[0].words})"
    dead = [f.target for f in scene.job.findings if isinstance(f, Works) and not f.works]
    for name in reversed(dead):
        if name in book.functions and not book.functions[name].moves:
            return f"whether it works: {name}"
    return next(
        (f"the display value {d.name}" for d in book.displays.values()),
        "what the complaint was about",
    )
