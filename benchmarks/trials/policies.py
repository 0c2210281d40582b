"""Other ways to choose the next check: at the same prices, with the same weighing and bar.

All but one take one of the checks that still tell something, which is kinder than paper would be: a
chart goes on asking what cannot tell any more, as the one of printed.py does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

import numpy as np

from backprobe.book.model import End
from backprobe.checks.layout import Layout
from backprobe.checks.model import Check
from backprobe.findings.model import Looked
from trials.printed import CHART, circuit_of, parts_of, printed_step
from trials.walk import By, Policy, Turn, proposed

TRADE: Final = (
    "codes", "display", "provoke", "sweep", "works", "look", "fuse", "new fuse", "millivolts",
    "volts", "lamp", "unplug", "swap", "drop", "amps", "ohms", "beep",
    "trap",
)  # fmt: skip
"""What a practised man does first: what is shown, what still works, look along the shared path,
fuses, volts under load, unplug, ohms last. Common practice; order from a review by the trade."""
LOOKS = 2
"""Places looked at before anything is measured: five to ten minutes along the shared path, common
practice."""
FUSES = ("fuse", "fusible link", "circuit breaker")


def trade_order(turn: Turn) -> int:
    """By class, the cheapest first; after two looks he measures, and looks on when that is done."""
    looked = sum(isinstance(finding, Looked) for finding in turn.job.findings)
    order = TRADE if looked < LOOKS else (*(d for d in TRADE if d != "look"), "look")
    return _first(turn, turn.telling, order)


def code_by_code(turn: Turn) -> int:
    """The chart of the first code to its end, then that of the next; without codes as the trade."""
    layout = turn.plan.scene.layout
    for code in turn.codes:
        rule = layout.book.codes.get(code)
        if rule is None:
            continue
        parts = circuit_of(layout, rule)
        own = [k for k in turn.telling if parts & parts_of(layout, turn.plan.checks[k])]
        if own:
            return _first(turn, own, CHART)
    return trade_order(turn)


def from_the_fuse(turn: Turn) -> int:
    """Volts from the fuse of the leading suspect outwards, pin by pin; then as the trade."""
    plan, layout = turn.plan, turn.plan.scene.layout
    far = _from_fuse(layout, plan.scene.owners)
    walk = [
        (far[end], float(plan.seconds[k]), int(k))
        for k in turn.telling
        if plan.checks[k].does in ("volts", "lamp", "millivolts")
        and (end := _end(layout, plan.checks[k])) in far
    ]
    fuses = [k for k in turn.telling if plan.checks[k].does == "fuse"]
    if fuses:
        return _first(turn, fuses, TRADE)
    return min(walk)[2] if walk else trade_order(turn)


def half_split(turn: Turn) -> int:
    """The reading that comes nearest to leaving half of the suspicion on either side."""
    mass = turn.plan.stories.mass
    shows = turn.plan.table.outcome[turn.telling] @ mass / mass.sum()
    uneven = np.abs(shows - 0.5).min(axis=1)
    ranked = np.lexsort((turn.plan.seconds[turn.telling], np.round(uneven, 3)))
    return int(turn.telling[ranked[0]])


def information(turn: Turn) -> int:
    """The check that tells most, whatever it costs."""
    return int(turn.telling[np.argmax(turn.scores.bits[turn.telling])])


PRINTED: Final = "as printed"
POLICIES: Final[Mapping[str, Policy]] = {
    "proposals": proposed,
    "code by code": By(code_by_code),
    "trade order": By(trade_order),
    "from the fuse": By(from_the_fuse),
    "half-split": By(half_split),
    "information": By(information),
    PRINTED: By(trade_order, printed_step),
}
BASELINES: Final = tuple(name for name in POLICIES if name != "proposals")


def _first(turn: Turn, some: Iterable[int], order: tuple[str, ...]) -> int:
    """By class, then by seconds, then by what it tells."""

    def rank(number: int) -> tuple[float, float, float]:
        seconds, bits = turn.plan.seconds[number], turn.scores.bits[number]
        return order.index(turn.plan.checks[number].does), round(float(seconds)), -float(bits)

    return int(min(some, key=rank))


def _from_fuse(layout: Layout, owners: Iterable[str]) -> Mapping[End, int]:
    """Wires between the fuse nearest to the leading suspects and every end."""
    fuses = {name for name, part in layout.book.parts.items() if part.kind in FUSES}
    for owner in owners:
        reached = layout.distance(layout.owner_ends(owner), 12)
        found = sorted((far, end.part) for end, far in reached.items() if end.part in fuses)
        if found:
            return layout.distance(layout.end_at[found[0][1]], 40)
    return {}


def _end(layout: Layout, check: Check) -> End | None:
    touch = layout.touch.get(check.probe.p) if check.probe is not None else None
    return End(touch.part, touch.pin, touch.side) if touch is not None else None
