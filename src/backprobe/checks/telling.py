"""Which functions of a machine tell most when somebody knows whether they work."""

from __future__ import annotations

from typing import Final

from backprobe.book.model import BODIES, Function
from backprobe.checks.layout import Layout

MOST: Final = 12
"""Questions one is ready to answer at once. Judgement."""
FUSES: Final = ("fuse", "fusible link", "circuit breaker")
ENDS: Final = ("battery", "ground stud", "alternator")
"""Where a walk stops: nearly everything hangs on these."""


def telling(layout: Layout, most: int = MOST) -> tuple[Function, ...]:
    """Functions, most telling first: each one hangs on most of what none before it hangs on.

    A function that works clears its loads, switches and relays, their fuse and what lies between.
    Ties go by the order of the book. Nothing is predicted: this only walks along the wires.
    """
    behind = {f.name: _behind(layout, f) for f in layout.book.functions.values()}
    asked: list[Function] = []
    known: set[str] = set()
    left = list(layout.book.functions.values())
    while left and len(asked) < most:
        best = max(left, key=lambda f: len(behind[f.name] - known))
        asked.append(best)
        known |= behind[best.name]
        left.remove(best)
    return tuple(asked)


def _behind(layout: Layout, function: Function) -> set[str]:
    """Parts a function hangs on, from its loads to the first fuse and the ground."""
    start = [n for n in (*function.needs, *function.commands) if n in layout.book.parts]
    found, waiting = set(start), list(start)
    while waiting:
        part = waiting.pop()
        if part not in start and _stops(layout, part):
            continue
        nets = {layout.net[end] for end in layout.end_at.get(part, ())}
        for net in sorted(nets):
            for end in layout.members.get(net, ()):
                if end.part not in found and end.part not in BODIES:
                    found.add(end.part)
                    waiting.append(end.part)
    return found


def _stops(layout: Layout, part: str) -> bool:
    """Whether a part is noted and not walked through: fuses, studs, units, other loads."""
    kind = layout.kind(part)
    if kind is None or part in layout.units:
        return True
    return bool(kind.load) or kind.name in (*FUSES, *ENDS)
