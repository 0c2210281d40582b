"""What instruments show under a defect, against the circuit with the instrument written into it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import exp

import numpy as np
import pytest

from backprobe.circuit.base import Bases
from backprobe.circuit.instruments import Tap as Place
from backprobe.circuit.instruments import show, taps_of
from backprobe.circuit.net import Net, build_net
from backprobe.circuit.ports import Cases, Ports
from backprobe.circuit.settle import Settled, limits_of, settle
from backprobe.kinds.records import Bridge, Lift
from oracles import nodal
from oracles.one_at_a_time import Tap, Words, written_out
from oracles.plain import Source
from oracles.small_machines import Changes, defects, machine, ports_of

SEEDS = range(4)
METER = 10e6
LAMP = 7.0


class Case:
    """A small machine with a sample of its defects, settled by the engine."""

    def __init__(self, seed: int) -> None:
        self.net, wires = machine(seed)
        events = defects(self.net, wires, seed)
        rng = np.random.default_rng(seed)
        picked = [0, *sorted(rng.choice(np.arange(1, len(events)), size=40, replace=False))]
        self.events = [events[k] for k in picked]
        made = [ports_of(self.net, changes) for changes in self.events]
        starts = np.cumsum([0, *(len(ports) for ports in made)])
        cases = Cases.of([range(a, b) for a, b in pairwise(starts)])
        ports = Ports.of([port for ports in made for port in ports])
        self.bases = Bases(self.net)
        begin = [(self.net.resting, np.arange(len(self.events)))]
        self.settled: Settled = settle(self.bases, limits_of(self.net), ports, cases, begin)
        nodes = [str(node) for node in rng.choice(self.net.nodes[1:], size=6, replace=False)]
        self.pairs = [*((node, "0") for node in nodes), (nodes[0], nodes[1]), (nodes[2], "plus")]

    def words(self, hypothesis: int) -> Words:
        states = self.settled.states[hypothesis]
        return {at: self.net.states[k].words[states[k]] for at, k in self.net.state.items()}

    def steady(self) -> list[tuple[int, Changes]]:
        return [(h, changes) for h, changes in enumerate(self.events) if self.settled.steady[h]]


@pytest.fixture(scope="module", params=SEEDS)
def case(request) -> Case:
    return Case(request.param)


def difference(volts: dict[str, float], pair: tuple[str, str]) -> float:
    return volts[pair[0]] - volts[pair[1]]


@pytest.mark.parametrize("ohm", [METER, LAMP], ids=["voltmeter", "lamp"])
def test_a_meter_of_so_many_ohms_reads_what_a_resistor_there_would_have(case, ohm):
    """Also for a lamp's ohms, where it shifts the circuit; states held as they are."""
    places = [Place(quantity="volts", p=p, n=n, meter_ohm=ohm) for p, n in case.pairs]
    shown = show(case.bases, case.settled, taps_of(case.net, places), slopes=False)
    for hypothesis, changes in case.steady():
        for k, (p, n) in enumerate(case.pairs):
            fitted = [*changes, Bridge(p=p, n=n, ohm=ohm)]
            answer = nodal.solve(written_out(case.net, case.words(hypothesis), fitted))
            expected = difference(answer.volts, (p, n))
            # A cut-off island hangs on 1 GOhm: its resistance has no more digits than 1e-7.
            assert shown.mean[hypothesis, k] == pytest.approx(expected, abs=2e-6, rel=1e-7)


def test_the_resistance_at_the_probes_is_volts_per_ampere_sent_through(case):
    places = [Place(quantity="ohms", p=p, n=n) for p, n in case.pairs]
    shown = show(case.bases, case.settled, taps_of(case.net, places), slopes=False)
    for hypothesis, changes in case.steady():
        circuit = written_out(case.net, case.words(hypothesis), changes)
        still = nodal.solve(circuit).volts
        for k, (p, n) in enumerate(case.pairs):
            sent = replace(
                circuit, sources=(*circuit.sources, Source(name="ohmmeter", p=n, n=p, amps=1e-3))
            )
            pushed = nodal.solve(sent).volts
            expected = (difference(pushed, (p, n)) - difference(still, (p, n))) / 1e-3
            found = shown.mean[hypothesis, k]
            assert found == pytest.approx(expected, rel=1e-5, abs=1e-5), (changes, p, n)


def test_transfer_ohms_are_volts_here_per_ampere_sent_through_there(case):
    here, there = case.pairs[0], case.pairs[-2]
    place = Place(quantity="ohms", p=here[0], n=here[1], far=there)
    shown = show(case.bases, case.settled, taps_of(case.net, [place]), slopes=False)
    for hypothesis, changes in case.steady():
        circuit = written_out(case.net, case.words(hypothesis), changes)
        source = Source(name="talker", p=there[1], n=there[0], amps=1e-3)
        sent = replace(circuit, sources=(*circuit.sources, source))
        pushed, still = nodal.solve(sent).volts, nodal.solve(circuit).volts
        expected = (difference(pushed, here) - difference(still, here)) / 1e-3
        assert shown.mean[hypothesis, 0] == pytest.approx(expected, rel=1e-5, abs=1e-5), changes


def test_a_clamp_reads_the_branch_current(case):
    names = [element.name for element in case.net.elements][::3]
    places = taps_of(case.net, [Place(quantity="amps", p=name) for name in names])
    shown = show(case.bases, case.settled, places, slopes=False)
    for hypothesis, changes in case.steady():
        if any(isinstance(change, Tap) for change in changes):
            continue  # a tapped wire has two currents
        answer = nodal.solve(written_out(case.net, case.words(hypothesis), changes)).amps
        expected = [answer.get(name, 0.0) for name in names]
        assert shown.mean[hypothesis] == pytest.approx(expected, abs=1e-6, rel=1e-7)


def scaled(net: Net, contacts: float, copper: float) -> Net:
    """The same net with its contacts and its copper scaled."""
    elements = [
        replace(e, ohm=e.ohm * (contacts if e.contact else 1.0) * (copper if e.warms else 1.0))
        for e in net.elements
    ]
    return build_net(
        elements, sources=net.sources, states=net.states, shifts=net.shifts, reference="0"
    )


def test_slopes_are_how_readings_move_with_battery_contacts_and_warmth(case):
    """Battery: per volt, exact. Contacts: over a step of exp(0.5); copper: over 25 K at 0.00393
    per kelvin (IEC 60028). A tapped wire is left out of the last: its place moves with the step."""
    places = [Place(quantity="volts", p=p, n=n, meter_ohm=METER) for p, n in case.pairs]
    shown = show(case.bases, case.settled, taps_of(case.net, places))
    bad, warm = scaled(case.net, exp(0.5), 1.0), scaled(case.net, 1.0, 1 + 0.00393 * 25)
    moved = np.zeros(3)
    for hypothesis, changes in case.steady():
        tapped = any(isinstance(change, Tap) for change in changes)
        nets = [(case.net, 0.0), (case.net, 1.0), (bad, 0.0), (warm, 0.0)]
        for k, (p, n) in enumerate(case.pairs):
            meter = [*changes, Bridge(p=p, n=n, ohm=METER)]
            reads = []
            for net, more in nets:
                lifted = [*meter, Lift(branch="battery/cells", emf=more)]
                answer = nodal.solve(written_out(net, case.words(hypothesis), lifted))
                reads.append(difference(answer.volts, (p, n)))
            battery, contacts, copper = np.subtract(reads[1:], reads[0]) / (1.0, 0.5, 25.0)
            slope = shown.slope[hypothesis, k]
            assert slope[0] == pytest.approx(battery, abs=2e-6, rel=1e-6)
            assert slope[1] == pytest.approx(contacts, abs=5e-6, rel=1e-6)
            if not tapped:
                assert slope[2] == pytest.approx(copper, abs=1e-6, rel=1e-6)
            moved = np.maximum(moved, np.abs((battery, contacts, copper)))
    assert len(case.steady()) > 30
    assert (moved > (0.5, 1e-4, 1e-5)).all()
