"""What a defect comes to in readings: it shows, no reading tells it, or it never settles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np

from backprobe.book.situations import Situation
from backprobe.circuit.net import Flags, Floats, Ints
from backprobe.defects.consequences import currents
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit

TELLS_V: Final = 0.05
"""A smaller shift is not told from a healthy machine: wires and contacts differ by as much.
Judgement."""
TELLS_A: Final = 0.2
"""The same for a clamp. Judgement."""
TELLS_BUS: Final = 0.1
"""The same for ohms from one unit's CAN pair to another's, as a share. Judgement."""
AT_A_TIME: Final = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcomes:
    """What every hypothesis comes to, over some situations (S).

    `restless` (H, S): relays or units never come to rest, no steady reading exists. `quiet` (H,):
    no place moves by TELLS_V, no wire's current by TELLS_A, no fuse, relay or unit changes, and
    no unit hears another less, in any situation. `largest_v` (H,): the largest shift of any place's volts to battery minus; it is at
    `node` (H,) in situation `where` (H,).
    """

    situations: tuple[Situation, ...]
    restless: Flags
    quiet: Flags
    largest_v: Floats
    node: tuple[str, ...]
    where: Ints


def outcomes(circuit: Circuit, situations: Sequence[Situation]) -> Outcomes:
    """What every hypothesis of a circuit comes to. Hypothesis 0 is the healthy machine."""
    net, count = circuit.net, circuit.cases.count
    nodes = len(net.nodes) - 1
    wires = np.array([net.current(f"wire {wire}") for wire in circuit.book.wires], np.int64)
    restless: Flags = np.zeros((count, len(situations)), bool)
    moved: Flags = np.zeros(count, bool)
    largest, at = np.zeros(count), np.zeros(count, np.int64)
    where = np.zeros(count, np.int64)
    for number, situation in enumerate(situations):
        settled = circuit.settled(situation)
        restless[:, number] = ~settled.steady
        moved |= (settled.states != settled.states[0]).any(axis=1)
        for first in range(0, nodes, AT_A_TIME):
            some = np.arange(first, min(first + AT_A_TIME, nodes))
            volts = currents(circuit, settled, some)
            shift = np.abs(volts - volts[0])
            most, here = shift.max(axis=1), shift.argmax(axis=1)
            more = most > largest
            largest[more], at[more], where[more] = most[more], some[here[more]], number
        amps = np.abs(currents(circuit, settled, wires, beyond_taps=True))
        moved |= np.abs(amps - amps[0]).max(axis=1, initial=0.0) > TELLS_A
        moved |= _bus_changed(circuit, situation)
    quiet: Flags = ~moved & (largest <= TELLS_V) & ~restless.any(axis=1)
    return Outcomes(
        situations=tuple(situations),
        restless=restless,
        quiet=quiet,
        largest_v=largest,
        node=tuple(net.nodes[k + 1] for k in at),
        where=where,
    )


def _bus_changed(circuit: Circuit, situation: Situation) -> Flags:
    """(H,) whether what one unit's CAN pair does to another's changed by TELLS_BUS. Volts alone do
    not show a broken bus wire: both ends rest at the same."""
    pairs = _bus_pairs(circuit)
    probes = [
        Probe(kind="transfer", p=here[0], n=here[1], p2=there[0], n2=there[1])
        for here, there in combinations(pairs, 2)
    ]
    if not probes:
        return np.zeros(circuit.cases.count, bool)
    ohms = circuit.seen(situation, probes).mean
    changed: Flags = (np.abs(ohms - ohms[0]) > TELLS_BUS * np.abs(ohms[0])).any(axis=1)
    return changed


def _bus_pairs(circuit: Circuit) -> list[tuple[str, str]]:
    """The inner ends of every unit's CAN high and CAN low pin."""
    ends: dict[str, dict[str, str]] = {}
    for pin, role in circuit.book.roles.items():
        if role.role in ("CAN high", "CAN low"):
            ends.setdefault(pin.part, {})[role.role] = f"{pin.part}:{pin.name}"
    return [(lines["CAN high"], lines["CAN low"]) for lines in ends.values() if len(lines) == 2]
