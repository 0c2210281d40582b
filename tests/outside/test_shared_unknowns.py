"""Mean and spread of predictions from the slopes by battery, contacts and warmth, against throwing
the dice: a few hundred machines drawn at random, each solved by plain nodal analysis."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from backprobe.circuit.net import Net, build_net
from backprobe.defects.model import Probe
from oracles import nodal
from oracles.decode import changes_of
from oracles.demo_machine import pins
from oracles.machines import machine
from oracles.one_at_a_time import written_out

DRAWS = 250
SD = np.array([0.3, 0.3, 15.0])
"""Battery volts, ln of contacts, kelvin of copper: the spreads shop.expect shows."""
PER_KELVIN = 0.00393
"""Copper at 20 C (IEC 60028)."""


def drawn(net: Net, more: np.ndarray) -> Net:
    """The same net on a battery of more volts, with other contacts, warmer copper."""
    volts, contacts, kelvin = more
    copper = 1.0 + PER_KELVIN * kelvin
    elements = [
        replace(
            e,
            emf=e.emf + (volts if e.battery else 0.0),
            ohm=e.ohm * (np.exp(contacts) if e.contact else 1.0) * (copper if e.warms else 1.0),
        )
        for e in net.elements
    ]
    return build_net(
        elements,
        sources=net.sources,
        states=net.states,
        shifts=net.shifts,
        reference=net.nodes[0],
    )


@pytest.mark.parametrize("seed", [1, 2])
def test_mean_and_spread_are_those_of_machines_drawn_at_random(seed):
    """The states stay as settled. Where a pin spreads by more than 2 mV: the mean within four
    standard errors and a tenth of the spread, the spread within a sixth (250 draws: 4.5 % one
    standard error; contacts are drawn as a factor, so the slope is a chord)."""
    made = machine(100, seed)
    rng = np.random.default_rng(seed)
    kinds = np.array([made.circuit.defects.atoms[a].kind for a in made.circuit.defects.atom_of])
    picked = [int(rng.choice(np.flatnonzero(kinds == kind))) for kind in ("to ground", "strands")]
    bad = np.flatnonzero((kinds == "bad contact") & (np.abs(made.circuit.defects.ohm - 0.5) < 0.1))
    circuit = made.circuit.within(np.array(sorted({0, *picked, int(rng.choice(bad))})))
    situation = made.situations["run"]
    net = circuit.net
    nodes = [str(n) for n in np.array(net.nodes)[1:][pins(net.nodes)[1:]]]
    seen = circuit.seen(situation, [Probe(kind="inner", p=node) for node in nodes])
    assert seen.settled.all()
    spread = np.sqrt(((seen.slope * SD) ** 2).sum(axis=2))
    dice = rng.normal(size=(DRAWS, 3)) * SD
    compared = 0
    for h in range(circuit.cases.count):
        states = circuit.settled(situation).states[h]
        words = {at: net.states[k].words[states[k]] for at, k in net.state.items()}
        changes = changes_of(net, circuit.ports, circuit.cases, h)
        found = np.empty((DRAWS, len(nodes)))
        for k, more in enumerate(dice):
            volts = nodal.solve(written_out(drawn(net, more), words, changes)).volts
            found[k] = [volts[node] for node in nodes]
        mean, sd = found.mean(axis=0), found.std(axis=0, ddof=1)
        wide = sd > 0.002
        off = np.abs(mean - seen.mean[h])[wide]
        assert (off <= 4 * sd[wide] / np.sqrt(DRAWS) + 0.1 * sd[wide]).all()
        assert spread[h][wide] == pytest.approx(sd[wide], rel=1 / 6)
        assert (spread[h][~wide] < 0.004).all()
        compared += int(wide.sum())
    assert compared > 80
