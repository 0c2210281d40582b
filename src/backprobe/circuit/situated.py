"""What a situation does to a network: the states it sets, and the leads it fits."""

from __future__ import annotations

from collections.abc import Sequence

from backprobe.book.model import MINUS
from backprobe.book.situations import Lead, Situation
from backprobe.circuit.net import Net, StateOf, States
from backprobe.circuit.ports import Port

RESISTOR = "resistor 1 kohm"
LEAD_OHM = {
    "lamp 21 W": 12.0**2 / 21.0,
    "lamp 55 W": 12.0**2 / 55.0,
    RESISTOR: 1000.0,
    "jumper": 0.03,
    "booster cable": 0.002,
}
"""Resistance of what can be fitted, ohm. Lamps hot at 12 V; jumper and cable: judgement."""


def driven_states(net: Net, situation: Situation) -> States:
    """(S,) the state vector a situation starts from: key, commands and plugs as they are set,
    everything the circuit moves at rest."""
    parted = set(situation.unplugged | situation.pulled)
    if situation.battery_off:
        parted.add(MINUS)
    states = net.resting.copy()
    for number, state in enumerate(net.states):
        word = _word(state, situation, parted)
        if word in state.words:
            states[number] = state.words.index(word)
    return states


def _word(state: StateOf, situation: Situation, parted: set[str]) -> str:
    if state.driven == "key":
        return situation.key
    if state.driven == "mated":
        return "no" if parted.intersection(state.parted_by) else "yes"
    if state.driven == "operated":
        return state.words[1] if commanded(state, situation) else state.words[0]
    return state.rest


def commanded(state: StateOf, situation: Situation) -> bool:
    """Whether a part or driver is operated: named outright, or by its own keys and needs."""
    if state.owner in situation.on:
        return True
    if not state.keys and not state.needs:
        return False
    return (not state.keys or situation.key in state.keys) and situation.on.issuperset(state.needs)


def lead_ports(net: Net, leads: Sequence[Lead]) -> list[Port]:
    """Ports of fitted leads. KeyError names an unknown lead or node."""
    ports = []
    for lead in leads:
        ends = ((net.voltage(lead.p), 1.0), (net.voltage(lead.n), -1.0))
        ports.append(Port(left=ends, right=ends, alpha=LEAD_OHM[lead.kind]))
    return ports
