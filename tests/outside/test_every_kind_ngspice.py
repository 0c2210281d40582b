"""Every kind of part, every role of a unit's pin, every kind of defect of each, and every instrument,
against ngspice: parts wired at random, one deck per defect."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from backprobe.book.situations import Lead, Situation
from backprobe.circuit.instruments import Tap, show, taps_of
from backprobe.defects.at_meter import AtMeter
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.kinds import KINDS, ROLES
from backprobe.kinds.records import Bridge
from oracles import ngspice as spice
from oracles import one_at_a_time
from oracles.decode import changes_of
from oracles.demo_machine import pins
from oracles.every_kind import MACHINES, UNITS, one_of_each
from oracles.machines import machine
from oracles.one_at_a_time import Words, written_out
from oracles.plain import Plain, Source

METER, LAMP = 10e6, 144 / 21


def working(circuit: Circuit, key: str) -> Situation:
    """Every part commanded, so that every branch is looked at."""
    roles = {str(pin) for pin in circuit.book.roles}
    return Situation(key=key, on=frozenset({*circuit.book.parts, *roles}))  # type: ignore[arg-type]


def one_of_every_sort(whole: Circuit, seed: int) -> Circuit:
    """Healthy, and one hypothesis of every kind of defect of every kind of part and role."""
    rng = np.random.default_rng(seed)
    groups: dict[tuple[str, str], list[int]] = {}
    for hypothesis, number in enumerate(whole.defects.atom_of):
        atom = whole.defects.atoms[number]
        owner = next((o for o in atom.owners if o in whole.book.parts), "")
        sort = whole.book.parts[owner].kind if owner else ""
        role = next((r.role for p, r in whole.book.roles.items() if str(p) in atom.id), "")
        groups.setdefault((role or sort, atom.kind), []).append(hypothesis)
    picked = [int(rng.choice(rows)) for rows in groups.values()]
    return whole.within(np.array(sorted({0, *picked})))


def words_of(circuit: Circuit, situation: Situation, hypothesis: int) -> Words:
    states = circuit.settled(situation).states[hypothesis]
    return {at: circuit.net.states[k].words[states[k]] for at, k in circuit.net.state.items()}


def deck(circuit: Circuit, situation: Situation, hypothesis: int, *more: Bridge) -> Plain:
    changes = changes_of(circuit.net, circuit.ports, circuit.cases, hypothesis)
    return written_out(circuit.net, words_of(circuit, situation, hypothesis), [*changes, *more])


UNIT_KEYS = [(unit, key) for unit in UNITS for key in ("on", "crank", "off")]
CASES = [(0, "on"), (1, "run"), (2, "crank"), *UNIT_KEYS]


def test_the_machines_have_every_kind_every_role_and_every_defect_of_theirs():
    circuits = [one_of_each(machine, 1) for machine in MACHINES]
    books = [circuit.book for circuit in circuits]
    assert {part.kind for book in books for part in book.parts.values()} == set(KINDS)
    assert {role.role for book in books for role in book.roles.values()} == set(ROLES)
    listed = {atom.kind for circuit in circuits for atom in circuit.defects.atoms}
    made = {
        failure.name for kind in (*KINDS.values(), *ROLES.values()) for failure in kind.failures
    }
    assert made <= listed


@pytest.mark.parametrize(("made", "key"), CASES, ids=[f"{m}, {key}" for m, key in CASES])
def test_every_kind_with_every_defect_equals_ngspice(made, key, ngspice, tmp_path: Path):
    """All voltages, the states as the engine left them; those are proven below."""
    whole = one_of_each(made, 1)
    circuit = one_of_every_sort(whole, 1)
    situation = working(circuit, key)
    net, settled = circuit.net, circuit.settled(situation)
    places = taps_of(net, [Tap(quantity="volts", p=node, n=net.nodes[0]) for node in net.nodes])
    shown = show(circuit._bases, settled, places, slopes=False).mean
    steady = [int(h) for h in np.flatnonzero(settled.steady)]
    answers = spice.solve([deck(circuit, situation, h) for h in steady], tmp_path)
    error = np.array(
        [np.abs(a[: len(net.nodes)] - shown[h]) for h, a in zip(steady, answers, strict=True)]
    )
    touched = pins(net.nodes)
    print(f"{len(steady)} defects, {len(net.nodes)} nodes, worst {error[:, touched].max():.1e} V, {error.max():.1e}")  # fmt: skip
    # A unit on a poor feed may reset for ever: held against the hand method below.
    restless = np.flatnonzero(~settled.steady)
    assert len(restless) <= 1
    assert all(circuit.moving(situation, int(h)) for h in restless)
    assert error[:, touched].max() < 1e-6
    assert error.max() < 1e-5


@pytest.mark.parametrize(("made", "key"), CASES, ids=[f"{m}, {key}" for m, key in CASES])
def test_every_kind_ends_in_the_states_the_hand_method_ends_in(made, key):
    circuit = one_of_every_sort(one_of_each(made, 2), 10)
    situation = working(circuit, key)
    settled = circuit.settled(situation)
    start, near = one_at_a_time.commanded(circuit.net, situation), 0
    for hypothesis in range(circuit.cases.count):
        changes = changes_of(circuit.net, circuit.ports, circuit.cases, hypothesis)
        end = one_at_a_time.settle(circuit.net, start, changes)
        if end.margin < 1e-7:
            near += 1
            continue
        assert settled.steady[hypothesis] == end.steady
        if not end.steady:
            continue
        assert words_of(circuit, situation, hypothesis) == end.words
    assert near < 0.1 * circuit.cases.count


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_instrument_on_a_random_machine_equals_ngspice(
    seed, ngspice, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """Voltmeter and lamp as a resistor at the probes, a fitted lamp with the states it moves, the
    ohmmeter as volts per ampere sent through, the clamp as millivolts along the wire; the network
    alone, not what a meter makes of it (test_fitted_lamps, test_at_meter)."""
    monkeypatch.setattr(AtMeter, "show", lambda *_: None)
    made = machine(100, seed)
    situation = made.situations["run"]
    whole = made.circuit
    rng = np.random.default_rng(seed)
    many = rng.choice(np.arange(1, whole.cases.count), size=10, replace=False)
    circuit = whole.within(np.array([0, *sorted(many)]))
    net = circuit.net
    pair = [
        str(node) for node in rng.choice(np.array(net.nodes)[pins(net.nodes)], 4, replace=False)
    ]
    probes = [
        Probe(kind="volts", p=pair[0], n=pair[1], meter_ohm=METER),
        Probe(kind="volts", p=pair[2], n=pair[3], meter_ohm=LAMP),
        Probe(kind="ohms", p=pair[0], n=pair[2]),
    ]
    read = circuit.seen(situation, probes).mean
    lead = Lead(kind="lamp 21 W", p=pair[2], n=pair[3])
    fitted = replace(situation, fitted=(lead,))
    lit = circuit.seen(fitted, [Probe(kind="inner", p=pair[2], n=pair[3])]).mean[:, 0]
    wires = [str(wire) for wire in rng.choice(list(made.book.wires), 6, replace=False)]
    amps = circuit.seen(situation, [Probe(kind="amps", p=wire) for wire in wires]).mean
    decks: list[Plain] = []
    for h in range(circuit.cases.count):
        plain = deck(circuit, situation, h)
        sent = Source(name="ohmmeter", p=pair[2], n=pair[0], amps=1e-3)
        decks += [
            plain,
            deck(circuit, situation, h, Bridge(p=pair[0], n=pair[1], ohm=METER)),
            deck(circuit, situation, h, Bridge(p=pair[2], n=pair[3], ohm=LAMP)),
            replace(plain, sources=(*plain.sources, sent)),
            deck(circuit, fitted, h, Bridge(p=pair[2], n=pair[3], ohm=LAMP)),
        ]
    answers = spice.solve(decks, tmp_path)
    at = net.node
    for h in range(circuit.cases.count):
        bare, meter, lamp, pushed, hung = answers[5 * h : 5 * h + 5]
        a, b, c, d = (at[node] for node in pair)
        assert read[h, 0] == pytest.approx(meter[a] - meter[b], abs=2e-6)
        assert read[h, 1] == pytest.approx(lamp[c] - lamp[d], abs=2e-6)
        ohm = ((pushed[a] - pushed[c]) - (bare[a] - bare[c])) / 1e-3
        assert read[h, 2] == pytest.approx(ohm, rel=1e-4, abs=1e-3)
        assert lit[h] == pytest.approx(hung[c] - hung[d], abs=2e-6)
        for k, wire in enumerate(wires):
            element = net.elements[net.branch[f"wire {wire}"]]
            drop = bare[at[element.p]] - bare[at[element.n]]
            tapped = abs(element.ohm * amps[h, k] - drop) > 1e-7
            owners = circuit.defects.atoms[circuit.defects.atom_of[h]].owners
            assert not tapped or f"wire {wire}" in owners, "only a wire that is hurt may differ"
