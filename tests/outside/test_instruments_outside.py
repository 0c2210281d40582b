"""What instruments show under a defect, against the circuit with the instrument written into it."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import exp

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Lead, Situation
from backprobe.circuit.bases import Bases
from backprobe.circuit.fittings import lamp_for
from backprobe.circuit.instruments import Tap as Place
from backprobe.circuit.instruments import show, taps_of
from backprobe.circuit.limits import limits_of
from backprobe.circuit.net import Net, build_net
from backprobe.circuit.ports import Cases, Ports
from backprobe.circuit.settle import settle
from backprobe.circuit.settled import Settled
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.kinds.records import Bridge, Lift
from backprobe.shop.effects import effects
from backprobe.suspects.meters import LOW_IMPEDANCE_OHM
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


BENCH = """book format 1
machine bench, {volts} V
battery: battery
battery.- > frame, 35 mm2, 0.3 m, wire minus
"""


def built(text: str, volts: int = 12) -> Circuit:
    book, problems = read_book(BENCH.format(volts=volts) + text)
    assert book is not None, "\n".join(str(problem) for problem in problems)
    return Circuit.of(book).within(np.zeros(1, np.int64))


def shown_by(circuit: Circuit, situation: Situation, *probes: Probe) -> list[float]:
    seen = circuit.seen(situation, probes)
    assert seen.settled.all()
    return [float(value) for value in seen.mean[0]]


ON = Situation(key="on")
DIODE = """D1: diode 3 A
K1: relay 90 ohm, suppressed diode
D1.1 > frame, 1 mm2, 0.5 m, wire a
D1.2 > K1.30, 1 mm2, 0.5 m, wire b
"""
PULLED = Situation(key="off", unplugged=frozenset({"D1"}), pulled=frozenset({"K1"}))


def test_a_diode_tester_shows_the_junction_one_way_and_its_own_volts_the_other():
    """1 mA through 0.65 V and 0.1 ohm of slope; silicon 0.5 to 0.8 V, OL the other way (textbook)."""
    forward, backward = (
        Probe(kind="diode", p="D1:1", n="D1:2"),
        Probe(kind="diode", p="D1:2", n="D1:1"),
    )
    there, back = shown_by(built(DIODE), PULLED, forward, backward)
    assert there == pytest.approx(0.65, abs=0.01)
    assert back == pytest.approx(3.0, abs=0.01)
    (still,) = shown_by(built(DIODE), PULLED, Probe(kind="ohms", p="D1:1", n="D1:2"))
    assert still > 1e6, "the ohm range opens no junction"


def test_a_diode_tester_reads_a_coil_as_its_ohms_whichever_way():
    """90 ohm from 3 V behind 3 kohm: 87 mV (voltage divider), too little for the diode across the
    coil either way round."""
    probes = [Probe(kind="diode", p=p, n=n) for p, n in (("K1:86", "K1:85"), ("K1:85", "K1:86"))]
    assert shown_by(built(DIODE), PULLED, *probes) == pytest.approx([3 * 90 / 3090] * 2, rel=1e-3)


def test_a_low_impedance_meter_does_not_see_stray_volts_through_damp():
    """Voltage divider: 100 kohm of damp from the battery shows all its volts on 10 Mohm, 0.37 V on
    3 kohm."""
    damp = built("R1: resistor 100 kohm\nS1: switch\nbattery.+ > R1 > S1 > frame, 1 mm2, 0.5 m\n")
    usual, loading = shown_by(
        damp,
        ON,
        Probe(kind="volts", p="S1.1"),
        Probe(kind="volts", p="S1.1", meter_ohm=LOW_IMPEDANCE_OHM),
    )
    assert usual == pytest.approx(12.6 * 10e6 / 10.1e6, rel=1e-3)
    assert loading == pytest.approx(12.6 * 3e3 / 103e3, rel=1e-4)


@pytest.mark.parametrize(
    ("volts", "lamp", "amps"),
    [
        (12, "lamp 21 W", 1.75),
        (12, "lamp 55 W", 4.6),
        (24, "lamp 24 V 21 W", 0.875),
        (24, "lamp 24 V 70 W", 2.9),
    ],
)
def test_the_lamps_of_the_trade_draw_their_watts(volts, lamp, amps):
    """Watts over volts at the nominal voltage: 12 V 55 W 4.6 A, 21 W 1.75 A; 24 V 70 W 2.9 A."""
    lit = built("", volts)
    fitted = Situation(key="on", fitted=(Lead(kind=lamp, p="battery.+", n="battery minus"),))
    (read,) = shown_by(lit, fitted, Probe(kind="volts", p="battery.+"))
    (drawn,) = shown_by(lit, fitted, Probe(kind="amps", p="battery/cells"))
    assert abs(drawn) == pytest.approx(amps * read / volts, rel=0.01)
    assert lamp_for(float(volts), large="55" in lamp or "70" in lamp) == lamp


def test_a_lamp_in_place_of_a_fuse_burns_bright_on_a_short_and_dim_on_its_load():
    """55 W in series with 21 W: lamps that take U / 12 V to the power 0.55 of their amperes share the volts as
    (55 / 21)^(1 / 0.55), 1.86 V of 12.6, worked by hand (rerating of lamps, from memory); and with a dead
    short."""
    machine = """F1: fuse 10 A
L1: lamp 21 W
S1: switch
battery.+ > F1 > L1 > frame, 1 mm2, 0.5 m, wire a / b / c
F1.2 > S1 > frame, 1 mm2, 0.5 m, wire d / e
"""
    lamp = Lead(kind="lamp 55 W", p="F1.1", n="F1.2")
    pulled = Situation(key="on", pulled=frozenset({"F1"}), fitted=(lamp,))
    across = Probe(kind="volts", p="F1.1", n="F1.2")
    (load,) = shown_by(built(machine), pulled, across)
    (short,) = shown_by(built(machine), replace(pulled, on=frozenset({"S1"})), across)
    assert load == pytest.approx(1.86, rel=0.06)
    assert short == pytest.approx(12.6, rel=0.02)


GROUND = """F1: fuse {amps} A
L1: lamp {watts} W
battery.+ > F1 > L1.1, 2.5 mm2, 0.5 m, wire a / b
L1.2 > S1 > frame, 2.5 mm2, 0.5 m, wire c / d
S1: switch
"""
"""A lamp whose ground goes through a switch; a jumper past the switch proves it."""


@pytest.mark.parametrize(
    ("watts", "amps", "lead", "lit"),
    [
        (55, 30, "fused jumper", True),
        (200, 30, "fused jumper", False),
        (200, 30, "jumper", True),
        (200, 5, "fused jumper", False),
    ],
)
def test_a_fused_jumper_carries_a_lamp_and_opens_on_more_than_135_percent(watts, amps, lead, lit):
    """ISO 8820-3: a 10 A fuse opens within 600 s at 13.5 A. 55 W are 4.7 A, 200 W 17 A."""
    fitted = Situation(key="on", fitted=(Lead(kind=lead, p="L1.2", n="battery minus"),))
    circuit = built(GROUND.format(amps=amps, watts=watts))
    (drawn,) = shown_by(circuit, fitted, Probe(kind="amps", p="L1/filament"))
    assert (drawn > 4.0) == lit
    assert lit or drawn == pytest.approx(0.0, abs=1e-6)
    blown = circuit.state(fitted, "F1", "element")[0]
    assert blown == (amps == 5), "of two fuses in a row the worse overloaded goes"


def test_a_fused_jumper_holds_for_some_defects_and_opens_for_others():
    """Every hypothesis has its own jumper: a shorted lamp opens it, a healthy one does not."""
    book, problems = read_book(BENCH.format(volts=12) + GROUND.format(amps=30, watts=55))
    assert book is not None, problems
    whole = Circuit.of(book)
    ids = [whole.defects.atoms[number].id for number in whole.defects.atom_of]
    circuit = whole.within(np.array([0, ids.index("L1/shorted")]))
    fitted = Situation(key="on", fitted=(Lead(kind="fused jumper", p="L1.2", n="battery minus"),))
    seen = circuit.seen(fitted, [Probe(kind="amps", p="wire b"), Probe(kind="inner", p="L1.2")])
    assert seen.mean[:, 0] == pytest.approx([4.7, 0.0], abs=0.2)
    assert seen.mean[0, 1] < 0.3
    assert seen.mean[1, 1] == pytest.approx(12.6, abs=0.1)
    assert circuit.jumper_opened(fitted).tolist() == [False, True]
    (does,) = effects(circuit, [np.array([1])], [fitted])
    assert "the fused jumper's own fuse opens" in does


def test_a_booster_cable_as_ground_strap_takes_over_the_cranking_current():
    """Two paths share the current as their conductances (Ohm's law)."""
    text = """key: key switch
starter: starter, on engine
strap: ground strap, on engine / frame
battery.+ > starter.30, 35 mm2, 1.5 m, wire a
battery.+ > key.30, 4 mm2, 1 m, wire b
key.50 > starter.50, 4 mm2, 1 m, wire d
"""
    book, problems = read_book(BENCH.format(volts=12) + text)
    assert book is not None, problems
    whole = Circuit.of(book)
    ids = [whole.defects.atoms[number].id for number in whole.defects.atom_of]
    bad = [h for h, name in enumerate(ids) if name == "strap/bad lug 1"]
    worst = bad[int(np.argmax(np.where(whole.defects.ohm[bad] < 1.0, whole.defects.ohm[bad], 0)))]
    circuit = whole.within(np.array([0, worst]))
    crank = Situation(key="crank")
    cable = replace(crank, fitted=(Lead(kind="booster cable", p="engine", n="battery minus"),))
    turns = Probe(kind="amps", p="starter/motor")
    without, with_it = (circuit.seen(s, [turns]).mean[:, 0] for s in (crank, cable))
    assert without[1] < 0.5 * without[0]
    assert with_it[1] == pytest.approx(with_it[0], rel=0.05)
    assert with_it[0] > 180.0
