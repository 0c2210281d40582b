"""A code's chart as it is printed: its steps stand in one order for every machine, and each is done.

The steps are the checks that the generator makes around the code's own circuit for one who knows the
code alone: what was found since changes neither which there are nor their order. Prices and safety
are those of the machine as it stands.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import numpy as np

from backprobe.book.model import BODIES, MINUS, CodeRule, End
from backprobe.checks.cost import open_places, price, seconds
from backprobe.checks.generate import from_scene
from backprobe.checks.layout import Layout
from backprobe.checks.model import Check
from backprobe.checks.narrow import narrowed
from backprobe.checks.safety import Live, allowed
from backprobe.checks.scene import scene_of
from backprobe.defects.atoms import of_atoms
from backprobe.defects.model import Defects
from backprobe.suspects.model import Belief
from trials.walk import Offer, Turn

CHART: Final = (
    "fuse", "new fuse", "display", "codes", "works", "volts", "millivolts", "drop", "lamp", "ohms",
    "beep", "amps", "unplug", "look", "swap", "sweep", "provoke",
    "trap",
)  # fmt: skip
"""Classes of check in the order of a code's chart: feed, signal, ground, ohms, part. Common
practice, no source."""
CLASSES: Final = ("fuse", "volts", "drop", "ohms")
"""Classes of step a printed chart has: feed and signal, ground, ohms. Common practice, no source."""
REACH = 6
"""Wires that a code's circuit reaches from the unit's pin."""
Step = tuple[str, str, str]


def printed_step(turn: Turn) -> Offer | None:
    """The next step of the chart of the first code that has one left; None after the last of all."""
    layout = turn.layout
    done = {step_of(layout, check) for check in turn.done}
    for code in turn.codes:
        rule = layout.book.codes.get(code)
        if rule is None:
            continue
        left = [check for check in chart(turn, rule) if step_of(layout, check) not in done]
        if left:
            return _first(turn, left, rule)
    return None


def chart(turn: Turn, rule: CodeRule) -> tuple[Check, ...]:
    """Every safe check of a printed class on the code's own circuit."""
    layout, whole, job = turn.layout, turn.job.circuit, turn.job.state
    belief = knowing_the_code(layout, whole.defects, circuit_of(layout, rule))
    near = layout.distance(_pins(layout, rule), REACH)
    nodes = {layout.ends[end].node for end in near} | {
        f"{end.part}{dot}{end.pin}" for end in near for dot in ".:"
    }
    parts = {end.part for end in near} - {rule.unit}
    made = [
        check
        for check in from_scene(scene_of(layout, job, whole.defects, belief))
        if check.does in CLASSES
        and check.id not in job.not_possible
        and _lies_on(nodes, parts, check)
    ]
    some = narrowed(whole, np.flatnonzero(belief.hypothesis > 0.0))
    return allowed(layout, made, Live(some, narrowed(some, np.zeros(1, np.int64))))


def knowing_the_code(layout: Layout, defects: Defects, parts: frozenset[str]) -> Belief:
    """What is suspected by who knows the code alone: all that sits on its circuit, by base rate."""

    def on_it(owners: Iterable[str]) -> bool:
        return any(end.part in parts for owner in owners for end in layout.owner_ends(owner))

    singles = (
        np.arange(len(defects.atoms)) if not defects.single else np.arange(len(defects.single))
    )
    rate = of_atoms(defects, getattr, "rate")[singles]
    rate = rate * [bool(k) and on_it(defects.atoms[k].owners) for k in singles]
    chance = rate / max(float(rate.sum()), 1e-300)
    hypothesis = np.where(
        defects.atom_of < singles.size, chance[np.minimum(defects.atom_of, singles.size - 1)], 0.0
    )
    hypothesis = hypothesis * defects.weight
    hypothesis[0] = 1e-9
    return Belief(
        atom=singles,
        sometimes=np.zeros(singles.size, np.int64),
        chance=chance,
        present=np.ones(singles.size),
        hypothesis=hypothesis,
        evidence=0.0,
    )


def _lies_on(nodes: set[str], parts: set[str], check: Check) -> bool:
    """Whether a check is held at pins of a circuit alone, or looks into a part of it."""
    if check.probe is None:
        return check.target in parts
    held = {check.probe.p, check.probe.n} - {MINUS, *BODIES}
    return bool(held) and held <= nodes


def step_of(layout: Layout, check: Check) -> Step:
    """What makes two checks one step of a chart: held at the same pins, in whatever situation and on
    whichever side of a plug."""
    probe = check.probe
    if probe is None:
        return check.does, check.target, ""
    p, n = (_pin(layout, node) for node in (probe.p, probe.n))
    return check.does, p, n


def _pin(layout: Layout, node: str) -> str:
    touch = layout.touch.get(node)
    return node if touch is None else f"{touch.part}.{touch.pin}"


def circuit_of(layout: Layout, rule: CodeRule) -> frozenset[str]:
    """The parts on the circuit of a code."""
    near = layout.distance(_pins(layout, rule), REACH)
    return frozenset(end.part for end in near) - {rule.unit}


def parts_of(layout: Layout, check: Check) -> frozenset[str]:
    """The parts a check is about."""
    nodes = (check.probe.p, check.probe.n) if check.probe is not None else ()
    touched = [layout.touch[node].part for node in nodes if node in layout.touch]
    return frozenset((*check.opens, *check.target.split(", "), *touched))


def _first(turn: Turn, left: Iterable[Check], rule: CodeRule) -> Offer:
    """By class, then by wires from the unit's pin; in a situation the code is set in, with as few
    plugs off and as soon as can be."""
    layout, job = turn.layout, turn.job.state
    far: dict[str, int] = {}
    for end, wires in layout.distance(_pins(layout, rule), REACH).items():
        far[end.part] = min(wires, far.get(end.part, wires))
    is_open = open_places(layout, job)

    def rank(check: Check) -> tuple[object, ...]:
        its = min((far[p] for p in parts_of(layout, check) if p in far), default=REACH)
        elsewhere = check.situation.key not in rule.when and check.situation.key != "off"
        return (
            CHART.index(check.does),
            its,
            step_of(layout, check),
            elsewhere,
            len(check.situation.unplugged),
            seconds(price(layout, job, check, is_open)),
            check.id,
        )

    check = min(left, key=rank)
    return Offer(check, seconds(price(layout, job, check, is_open)))


def _pins(layout: Layout, rule: CodeRule) -> list[End]:
    """The unit's pins that a code watches."""
    return list(_watched(layout, rule))


def _watched(layout: Layout, rule: CodeRule) -> Iterator[End]:
    roles = {"supply": "supply", "hears": "CAN"}
    for test in rule.tests:
        if test.pin is not None:
            yield End(test.pin.part, test.pin.name)
            continue
        for pin, role in layout.book.roles.items():
            if pin.part == rule.unit and (
                role.group == test.other if test.kind == "rail" else roles[test.kind] in role.role
            ):
                yield End(pin.part, pin.name)
