"""Two faults at once, weighed by the same code as one: carried pairs are hypotheses like any."""

from __future__ import annotations

import numpy as np

from backprobe.defects.model import Probe
from backprobe.defects.pairs import all_pairs, screened, with_pairs
from backprobe.findings.fold import fold
from backprobe.findings.model import Reading
from backprobe.suspects.weigh import weigh
from oracles.machines import machine


def of_kind(circuit, kind, *, seed):
    """The hypotheses of a kind, shuffled."""
    whole = circuit.defects
    rng = np.random.default_rng(seed)
    found = [h for h, a in enumerate(whole.atom_of) if whole.atoms[a].kind == kind]
    return rng.permutation(found)


def test_readings_of_two_broken_wires_name_both():
    """Volts at the pins of a machine with two broken wires in different sections: a pair that
    cuts off all that both cut off leads, and explains the readings better than any single."""
    whole = machine(100, seed=1)
    circuit, run = whole.circuit, whole.situations["run"]
    defects = circuit.defects
    nodes = [n for n in circuit.net.nodes if n.endswith((".1", ".2", ".87", ".30"))]
    probes = [Probe(kind="volts", p=node) for node in nodes]
    alone = circuit.seen(run, probes).mean
    moved = np.abs(alone - alone[0]) > 2.0
    opens = [h for h in of_kind(circuit, "open", seed=2) if 1 <= moved[h].sum() <= 4]
    places = [set(defects.atoms[defects.atom_of[h]].owners) for h in opens]
    one, two = next(
        (a, b)
        for k, a in enumerate(opens)
        for j, b in enumerate(opens[:k])
        if not (moved[a] & moved[b]).any() and not places[k] & places[j]
    )
    every = all_pairs(circuit)
    at = np.flatnonzero(
        ((every.first == one) & (every.second == two))
        | ((every.first == two) & (every.second == one))
    )
    assert at.size == 1
    read = with_pairs(circuit, every.only(at)).seen(run, probes).mean[-1]
    asked = np.arange(len(nodes))
    findings = [
        Reading(id=f"r{k}", visit=1, at_s=60.0 * k, situation=run, p=nodes[k], value=float(read[k]))
        for k in asked
    ]
    job = fold(findings)
    spread = 0.1
    fit = np.maximum(-0.5 * ((alone[:, asked] - read[asked]) / spread) ** 2, -20.0)
    kept, _ = screened(every, fit, (alone - alone[0])[:, asked] / spread, keep=300)
    carried = with_pairs(circuit, kept)
    belief = weigh(whole.book, carried, job)
    by_atom = np.zeros(len(carried.defects.atoms))
    inside = belief.atom >= 0
    np.add.at(by_atom, belief.atom[inside], belief.chance[inside])
    best = carried.defects.atoms[int(by_atom.argmax())]
    assert best.kind == "two faults"
    # Every fault at one place of each path reads the same at pins: the pair that leads must touch
    # what both of them cut off.
    hurt = [
        np.abs(alone - alone[0])[carried.defects.atom_of[: len(alone)] == atom].max(axis=0) > 2.0
        for atom in range(len(defects.atoms))
        if defects.atoms[atom].id in best.id.split(" + ")
    ]
    assert len(hurt) == 2
    assert not ((moved[one] | moved[two]) & ~(hurt[0] | hurt[1])).any()
    assert by_atom[len(defects.atoms) :].sum() > 0.8
    single = weigh(whole.book, circuit, job)
    assert single.evidence < belief.evidence - 1.5
