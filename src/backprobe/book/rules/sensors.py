"""A rule about sensors of three wires: does each pin lead where its kind says?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from backprobe.book.draft import Draft
from backprobe.book.feeds import GROUP_ROLE
from backprobe.book.model import BODIES, Pin
from backprobe.book.nets import Node
from backprobe.book.rules.context import Checked, spot_of
from backprobe.book.values import printed_pins
from backprobe.kinds import KINDS

LEADS: Final[Mapping[str, str]] = {
    "ground": "ground",
    "signal": "an input",
    "supply": "a 5 V group",
}
"""What the pins of a sensor are for, and where each leads."""


def sensor_pins_changed(checked: Checked) -> None:
    """A sensor whose ground pin leads to a 5 V group, or the like: changed over, or numbered in
    another order than its kind has them."""
    members = checked.nets.members()
    for name, part in checked.draft.parts.items():
        pins = KINDS[part.kind].aliases
        if not LEADS.keys() <= pins.keys():
            continue
        ends = {pins[what]: _leads(checked, members, (name, pins[what])) for what in LEADS}
        wrong = [what for what in LEADS if ends[pins[what]] not in ("", LEADS[what])]
        if not wrong:
            continue
        first = pins[wrong[0]]
        hop = checked.at[name, first][0]
        printed = printed_pins(part)
        told = [
            f"its {what} pin {printed[pins[what]]} leads to {ends[pins[what]]}" for what in wrong
        ]
        order = [
            printed[next((pin for pin, end in ends.items() if end == LEADS[what]), pins[what])]
            for what in sorted(LEADS, key=lambda what: pins[what])
        ]
        checked.report.add(
            "sensor-pins-changed", spot_of(hop, f"{name}.{printed[first]}", name), name=name,
            told=", ".join(told), kind=KINDS[part.kind].words[0],
            means=", ".join(f"{pins[what]} {what}" for what in LEADS),
            remedy=f"add to its line: pins {' / '.join(order)}"
            if len(set(order)) == len(order)
            else "say on its line how they are printed: pins GROUND / SIGNAL / SUPPLY",
        )  # fmt: skip


def _leads(checked: Checked, members: Mapping[Node, Iterable[Node]], pin: Node) -> str:
    """Where plain wire leads from a pin: one of LEADS' places, "" when nowhere or to several."""
    found = {_place(checked.draft, at) for at in members.get(checked.nets.find(pin), ())} - {""}
    return found.pop() if len(found) == 1 else ""


def _place(draft: Draft, at: Node) -> str:
    name, pin = at
    part = draft.parts.get(name)
    if name in BODIES or (part is not None and part.kind == "ground stud"):
        return "ground"
    if part is not None and part.kind == "battery" and pin == "-":
        return "ground"
    role = draft.roles.get(Pin(name, pin))
    if role is None:
        return ""
    if role.role == "ground":
        return "ground"
    if role.role == GROUP_ROLE:
        return "a 5 V group"
    return "an input" if role.role.endswith(" input") else ""
