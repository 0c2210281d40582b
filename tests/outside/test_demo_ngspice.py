"""The demo machine, healthy and with 300 defects, against ngspice: every pin to 1e-6 V,
the terminals inside parts, which float when a plug is off, to 1e-5 V."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from backprobe.circuit.instruments import Tap, show, taps_of
from oracles import ngspice as spice
from oracles.decode import changes_of
from oracles.demo_machine import SITUATIONS, demo_circuit, pins, sample
from oracles.one_at_a_time import written_out

PER_SITUATION = 80


@pytest.mark.parametrize(("number", "name"), list(enumerate(SITUATIONS)), ids=list(SITUATIONS))
def test_every_node_of_the_demo_machine_equals_ngspice(number, name, ngspice, tmp_path: Path):
    """The states are the engine's; test_demo_one_at_a_time proves those. Taps cut a wire in two,
    so ngspice sees more nodes than the engine; those in common are compared."""
    whole = demo_circuit()
    circuit = whole.within(sample(whole, PER_SITUATION, seed=100 + number))
    net, situation = circuit.net, SITUATIONS[name]
    settled = circuit.settled(situation)
    places = taps_of(net, [Tap(quantity="volts", p=node, n=net.nodes[0]) for node in net.nodes])
    shown = show(circuit._bases, settled, places, slopes=False).mean

    steady = [int(h) for h in np.flatnonzero(settled.steady)]
    decks = []
    for hypothesis in steady:
        words = {
            at: net.states[k].words[settled.states[hypothesis, k]] for at, k in net.state.items()
        }
        changes = changes_of(net, circuit.ports, circuit.cases, hypothesis)
        decks.append(written_out(net, words, changes))
    answers = spice.solve(decks, tmp_path)
    error = np.array(
        [
            np.abs(answer[: len(net.nodes)] - shown[hypothesis])
            for hypothesis, answer in zip(steady, answers)
        ]
    )
    touched = pins(net.nodes)
    atoms = [circuit.defects.atoms[circuit.defects.atom_of[h]] for h in steady]
    worst = atoms[int(error[:, touched].max(axis=1).argmax())]
    print(
        f"{name}: {len(steady)} of {settled.cases.count} hypotheses, {len(net.nodes)} nodes, "
        f"{len({atom.kind for atom in atoms})} kinds of defect, worst at a pin "
        f"{error[:, touched].max():.1e} V ({worst.words}), inside parts "
        f"{error[:, ~touched].max():.1e} V"
    )
    assert len(steady) >= 76  # healthy and 75 defects: 300 in all
    assert error[:, touched].max() < 1e-6
    assert error[:, ~touched].max() < 1e-5
