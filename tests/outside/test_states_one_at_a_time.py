"""End states and voltages of the engine against following one defect at a time by hand."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.circuit.bases import Bases
from backprobe.circuit.instruments import Tap as Place
from backprobe.circuit.instruments import show, taps_of
from backprobe.circuit.limits import limits_of
from backprobe.circuit.ports import Cases, Ports
from backprobe.circuit.settle import settle
from oracles import one_at_a_time
from oracles.small_machines import defects, machine, ports_of

NEAR = 1e-7
"""A move decided by less than this, V or A or share, may go either way in doubles."""


@pytest.mark.parametrize("seed", range(8))
def test_every_defect_of_a_small_machine_ends_where_the_hand_method_ends(seed):
    net, wires = machine(seed)
    events = defects(net, wires, seed)
    ports, lists = [], []
    for changes in events:
        made = ports_of(net, changes)
        lists.append(range(len(ports), len(ports) + len(made)))
        ports += made
    bases = Bases(net)
    everything = np.arange(len(events))
    settled = settle(
        bases, limits_of(net), Ports.of(ports), Cases.of(lists), [(net.resting, everything)]
    )
    places = taps_of(net, [Place(quantity="volts", p=node, n="0") for node in net.nodes])
    shown = show(bases, settled, places, slopes=False).mean
    rest = one_at_a_time.key_off(net)
    moved, worst, near = 0, 0.0, 0
    for number, changes in enumerate(events):
        end = one_at_a_time.settle(net, rest, changes)
        if end.margin < NEAR:
            near += 1
            continue
        assert settled.steady[number] == end.steady, changes
        if not end.steady:
            continue
        words = {at: net.states[k].words[settled.states[number, k]] for at, k in net.state.items()}
        assert words == end.words, changes
        moved += words != rest
        expected = np.array([end.volts[node] for node in net.nodes])
        worst = max(worst, float(np.abs(shown[number] - expected).max()))
    print(f"{len(events)} defects, {moved} move a state, worst {worst:.1e} V")
    assert moved > len(events) / 4
    assert near < len(events) / 10
    assert worst < 1e-9
