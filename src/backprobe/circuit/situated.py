"""What a situation does to a network: the states it sets, and the leads it fits."""

from __future__ import annotations

from collections.abc import Sequence

from backprobe.book.model import MINUS
from backprobe.book.situations import Lead, Situation
from backprobe.circuit.fittings import FITTINGS, RESISTOR
from backprobe.circuit.net import Net, StateOf, States
from backprobe.circuit.ports import Port

__all__ = ["LEAD_OHM", "RESISTOR", "commanded", "driven_states", "lead_ports"]

LEAD_OHM = {kind: fitting.ohm for kind, fitting in FITTINGS.items()}
"""Resistance of what can be fitted, ohm."""


def driven_states(net: Net, situation: Situation) -> States:
    """(S,) the state vector a situation starts from: key, commands and plugs as they are set,
    everything the circuit moves at rest."""
    parted = set(situation.unplugged | situation.pulled)
    if situation.battery_off:
        parted.add(MINUS)
    states = net.resting.copy()
    for number, state in enumerate(net.states):
        if not state.driven:
            continue
        word = _word(state, situation, parted)
        if word in state.words:
            states[number] = state.words.index(word)
    return states


def _word(state: StateOf, situation: Situation, parted: set[str]) -> str:
    if state.driven == "key":
        return situation.key
    if state.driven == "mated":
        return "no" if parted.intersection(state.parted_by) else "yes"
    return state.words[1] if commanded(state, situation) else state.words[0]


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
        fitting = FITTINGS[lead.kind]
        ports.append(Port(left=ends, right=ends, alpha=fitting.ohm, emf=fitting.emf))
    return ports
