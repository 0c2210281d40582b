"""A trap for a fault that stays away: what to leave on the machine until it fails again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from backprobe.book.model import BODIES, MINUS
from backprobe.checks.hands import made
from backprobe.checks.model import Check
from backprobe.checks.scene import Scene
from backprobe.checks.wording import node_words
from backprobe.findings.model import Mentioned, Works

CAUGHT: Final = 0.6
"""Chance that a fault that comes and goes fails again within two weeks of work and still does when
one is there. Judgement."""
FOR_NOTHING: Final = 0.03
"""Chance of being called to a machine that has nothing. Judgement."""
TRAPS: Final = 2
"""Traps left for nothing after which the job is handed on. Judgement."""
ABOUT: Final = "trap"
"""What a trap is noted under: it is kept with the job."""
PARKED: Final = (
    "Only if the machine may work with this fault: one that can move it by itself, or take brakes, "
    "steering or lights away, keeps it parked."
)
CARD: Final = (
    "Card for the driver: time, weather, what the machine was doing, what it showed. When it fails: "
    "machine in a safe place, switch nothing off, call."
)


def trap(scene: Scene) -> Iterator[Check]:
    """The trap, when the fault is gone; none where it has stayed away often enough."""
    functions = scene.layout.book.functions
    dead = {f.target for f in scene.job.findings if isinstance(f, Works) and not f.works}
    moving = any(functions[name].moves for name in dead & set(functions))
    left = sum(isinstance(f, Mentioned) and f.about == ABOUT for f in scene.job.findings)
    if left >= TRAPS or not scene.waits:
        return
    yield made(
        "trap",
        "job",
        "Leave a trap, come when it fails again",
        scene.situation("off"),
        hazards=("may-move",) if moving else (),
        setting=_where(scene),
    )


def steps_of(check: Check) -> tuple[str, ...]:
    """What to leave behind, in order. No lamp and no meter left on a unit's lines."""
    left = (
        f"Leave a meter on min/max hold at {check.setting}, or a small lamp behind a 1 A fuse, "
        f"where the driver sees it; leads tied away from hot and moving parts."
    )
    return (PARKED, "Write down all codes first.", *([left] if check.setting else ()), CARD)


def _where(scene: Scene) -> str:
    """The place to watch: the first near the suspicion that is fused and no unit's line, in words."""
    layout = scene.layout
    for touch in scene.near:
        if touch.node == MINUS or touch.part in BODIES or layout.sensitive(touch.node):
            continue
        if layout.net_at(touch.node) not in layout.unfused:
            return node_words(layout, touch.node)
    return ""
