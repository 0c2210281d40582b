"""Which step of a check a caution belongs to: it is said there, before the step, and once.

That a warning stands right before the step it is for is how technical manuals of the trade do it
(from memory: ANSI Z535.6, MIL-STD-40051).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from backprobe.kinds.hazards import HAZARDS

HANDS: Final = ("Key off, wait", "Key stays off", "Unplug", "Plug", "Pull", "Put", "Key off")
LEADS: Final = ("Meter on", "Clamp on", "Milliohm meter", "Fit a")
LAMP: Final = ("Put a", "Feed", "Fit a")
PROVE: Final = "Prove it."
"""How the proof that ends a repair begins."""
PROOF: Final = (PROVE, "What failed before")
BEGINS: Final[Mapping[str, tuple[str, ...]]] = {
    "unplug-live": HANDS,
    "injector-drive": (*HANDS, *LEADS),
    "battery-gas": ("Lift the battery minus", "Battery minus back on"),
    "battery-off-running": ("Lift the battery minus", "Battery minus back on"),
    "ohms-live": LEADS,
    "stored-charge": LEADS,
    "no-piercing": LEADS,
    "unit-lines": (*LAMP, *LEADS),
    "hot-lamp": LAMP,
    "fire": LAMP,
    "spray": ("Wet", *PROOF),
    "hot-parts": ("Warm", "Bring the machine"),
    "may-move": HANDS,
    "starter-bypass": HANDS,
    "short-circuit": ("Lift the battery minus", *LAMP, *LEADS),
    "thin-jumper": ("Fit a",),
    "fuse-rating": ("Fit a new", "Pull", *LAMP),
    "crank-limit": ("A second person cranks", *PROOF),
    "moving-parts": ("Start the engine",),
    "fumes": ("Start the engine", "Bring the machine", *PROOF),
}
"""How the step begins that a hazard belongs to, the best first; one that is not here, or finds none,
is said before the first step."""


def cautions_at(
    hazards: Sequence[str], steps: Sequence[str]
) -> tuple[tuple[tuple[str, str], ...], ...]:
    """For every step the cautions said before it, words and authority."""
    at: list[list[tuple[str, str]]] = [[] for _ in steps]
    for slug in hazards:
        hazard = HAZARDS.get(slug)
        if hazard is not None and at:
            at[_step_of(slug, steps)].append((hazard.words, hazard.authority))
    return tuple(tuple(one) for one in at)


def _step_of(slug: str, steps: Sequence[str]) -> int:
    for begins in BEGINS.get(slug, ()):
        for number, step in enumerate(steps):
            if step.startswith(begins):
                return number
    return 0
