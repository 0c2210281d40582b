"""What who mends a part must be told: of the part itself, of its place, of the proof that follows."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from backprobe.book.model import End
from backprobe.book.situations import Key
from backprobe.checks.layout import Layout
from backprobe.checks.places import heat
from backprobe.checks.safety import WIRE_ONLY
from backprobe.checks.scene import Scene
from backprobe.defects.model import RepairGroup
from backprobe.findings.model import Works

MEASURED: Final = frozenset({"unit-lines", "no-piercing", "ohms-live", "stored-charge", "welding"})
"""Cautions of a kind for who measures or welds at it."""
OPENED: Final = "high-pressure-fuel"
"""The caution of a part that closes a line of fuel or oil."""
UNFUSED: Final = ("battery-gas", "short-circuit", "battery-off-running")
"""Cautions where the battery's minus comes off first."""
MINUS_FIRST: Final = ("battery", "ground strap")
"""Kinds whose work begins at the battery's minus though no fuse is missing. Common practice."""
TURNING: Final[Mapping[str, tuple[str, ...]]] = {
    "run": ("moving-parts", "fumes"),
    "crank": ("crank-limit", "moving-parts"),
}
BROUGHT_BACK: Final[Mapping[str, tuple[str, ...]]] = {
    "wet": ("spray",),
    "hot": ("hot-parts", "moving-parts", "fumes"),
}
"""Cautions of a condition that is brought about once more."""
_LIQUID = re.compile(r"\b(rail|pressure)\b")
_GAS = re.compile(r"\b(boost|manifold|intake|charge air|exhaust|ambient|atmospheric|tyre)\b")


def repair_words(layout: Layout, group: RepairGroup) -> str:
    """What is done to a group: a part is renewed, what is all wire, contact and strap is mended, and a battery is
    charged and tested first (common practice, no source)."""
    kind = layout.kind(group.key)
    if kind is None or kind.name in WIRE_ONLY:
        return f"Mend {group.words}"
    return f"{'Charge and test' if kind.name == 'battery' else 'Renew'} {group.words}"


def failing_key(scene: Scene) -> Key:
    """The key position the complaint shows in: a proof is tried there."""
    return scene.live[0].key if scene.live else "on"


def proof_hazards(scene: Scene, condition: str) -> tuple[str, ...]:
    """Cautions of a proof in a condition ("" for none), with what failed tried again."""
    functions = scene.layout.book.functions
    dead = {f.target for f in scene.job.findings if isinstance(f, Works) and not f.works}
    moves = any(functions[n].moves and functions[n].key != "crank" for n in dead & {*functions})
    return (
        *TURNING.get(failing_key(scene), ()),
        *(("may-move",) if moves else ()),
        *BROUGHT_BACK.get(condition, ()),
    )


def repair_hazards(scene: Scene, group: RepairGroup, condition: str) -> tuple[str, ...]:
    """Cautions of mending a group and of its proof, each once."""
    layout, parts = scene.layout, scene.layout.book.parts
    whole = group.key in parts
    part = group.key if whole else layout.joints.get(group.key, "")
    kind = layout.kind(part)
    own = [slug for slug in (kind.hazards if kind else ()) if slug not in MEASURED]
    if whole and kind is not None and kind.letter in ("B", "S") and _holds_pressure(scene, part):
        own.insert(0, OPENED)
    if not whole and OPENED in own:
        own.remove(OPENED)
    warm = [slug for name in group.access for slug in heat(scene, name)]
    first = ("unplug-live", *heavy(scene, group.key))
    return tuple(dict.fromkeys((*first, *own, *warm, *proof_hazards(scene, condition))))


def heavy(scene: Scene, key: str) -> tuple[str, ...]:
    """Cautions of a repair for which the battery's minus comes off: on copper that a battery feeds
    with no fuse before it, on the battery and its ground straps."""
    layout = scene.layout
    owners = {owner for atom in scene.defects.atoms if atom.group == key for owner in atom.owners}
    kinds = [kind.name for owner in owners if (kind := layout.kind(owner))]
    wires = {name: wire for name, wire in layout.book.wires.items() if f"wire {name}" in owners}
    ends = [end for wire in wires.values() for end in (wire.a, wire.b)]
    ends += [end for owner in owners for end in layout.end_at.get(owner, ())]
    live = any(layout.net.get(end, -1) in layout.unfused for end in ends)
    return UNFUSED if live or any(kind in MINUS_FIRST for kind in kinds) else ()


def _holds_pressure(scene: Scene, part: str) -> bool:
    """Whether a sensor or switch is screwed into a line of fuel or oil, by its name, its place and what
    a display calls its value."""
    layout = scene.layout
    nets = {layout.net[end] for end in layout.end_at.get(part, ())}
    shown = [
        value.name
        for value in layout.book.displays.values()
        if layout.net.get(End(value.pin.part, value.pin.name), -1) in nets
    ]
    words = " ".join((part, layout.place(part), *shown)).lower()
    return bool(_LIQUID.search(words)) and not _GAS.search(words)
