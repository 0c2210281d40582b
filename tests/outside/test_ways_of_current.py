"""Current that finds another way: back through loads, through units without feed or ground, and a
bus seen from every end. Figures by Ohm's law and the voltage divider, worked beside each."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Lead, Situation
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit

HEAD = """book format 1
machine bench, 12 V
battery: battery 12 V{more}
battery.- > frame, 35 mm2, 0.3 m, wire minus
"""
ON = Situation(key="on")


class Bench:
    """A machine from a text, healthy or with one defect."""

    def __init__(self, text: str, atom: str = "", more: str = "") -> None:
        book, problems = read_book(HEAD.format(more=more) + text)
        assert book is not None, "\n".join(str(problem) for problem in problems)
        whole = Circuit.of(book)
        row = 0
        if atom:
            ids = [whole.defects.atoms[number].id for number in whole.defects.atom_of]
            row = ids.index(atom)
        self.circuit = whole.within(np.array(sorted({0, row})))
        self.row = 1 if row else 0

    def read(self, situation: Situation, probe: Probe) -> float:
        seen = self.circuit.seen(situation, [probe])
        assert seen.settled.all()
        return float(seen.mean[self.row, 0])

    def volts(self, p: str, situation: Situation = ON, n: str = "battery minus") -> float:
        return self.read(situation, Probe(kind="inner", p=p, n=n))

    def amps(self, p: str, situation: Situation = ON) -> float:
        return self.read(situation, Probe(kind="amps", p=p))

    def word(self, part: str, state: str, situation: Situation = ON) -> str:
        net = self.circuit.net
        number = self.circuit.state(situation, part, state)[self.row]
        return net.states[net.state[(part, state)]].words[number]


LIGHTS = """F1: fuse 10 A
F2: fuse 10 A
L1: lamp 21 W
L2: lamp 21 W
L3: lamp 21 W
G1: splice
battery.+ > F1 > L1.1, 1 mm2, 0.5 m, wire a / b
battery.+ > F2 > L2.1, 1 mm2, 0.5 m, wire c / d
F2.2 > L3.1, 1 mm2, 0.5 m, wire e
L1.2 > G1, 1 mm2, 0.5 m, wire f
L2.2 > G1, 1 mm2, 0.5 m, wire g
G1 > frame, 1 mm2, 0.5 m, wire h
L3.2 > frame, 1 mm2, 0.5 m, wire i
"""


def test_a_lost_ground_feeds_back_through_a_lamp_into_a_circuit_whose_fuse_is_out():
    """Three equal lamps in series on 12.6 V: a third each, so 4.2 V where the fuse is out and
    8.4 V on the shared ground. "Pull the fuse; if the dead side still shows volts, find the load it
    comes through": common practice."""
    bad = Bench(LIGHTS, "wire h/open/run")
    pulled = Situation(key="on", pulled=frozenset({"F2"}))
    assert bad.volts("F2.2", pulled) == pytest.approx(4.2, abs=0.05)
    assert bad.volts("G1", pulled) == pytest.approx(8.4, abs=0.05)
    dim = 21.0 / 12.0 * (4.2 / 12.0) ** 0.55  # rerating of lamps, as in tests/kinds
    assert abs(bad.amps("L3/filament", pulled)) == pytest.approx(dim, rel=0.12)
    assert bad.amps("L2/filament", pulled) == pytest.approx(-dim, rel=0.12)
    good = Bench(LIGHTS)
    assert good.volts("F2.2", pulled) == pytest.approx(0.0, abs=0.02)


UNIT = """F1: fuse 10 A
ECU: control unit, on frame
V1: solenoid 18 W
T1: thermistor
battery.+ > F1 > ECU.1, 2.5 mm2, 0.5 m, wire a / b
ECU.2 > frame, 2.5 mm2, 0.3 m, wire c
battery.+ > V1.1, 1 mm2, 0.5 m, wire d
V1.2 > ECU.6, 1 mm2, 0.5 m, wire e
ECU.1: supply
ECU.2: ground
ECU.3: 5 V group A
ECU.4: ground
ECU.5: analogue input, pull up 2.2 kohm to supply
ECU.6: low side driver, in on run
R1: resistor 500 ohm
group ECU A: 5 V, limit 100 mA
ECU.3 > R1 > ECU.4, 0.75 mm2, 0.5 m, wire f / g
ECU.5 > T1 > ECU.4, 0.75 mm2, 0.5 m, wire h / i
"""


def test_a_unit_that_lost_its_feed_drives_nothing_and_supplies_nothing():
    """Its driver lets go: the whole feed stands at the pin, through the coil. Its 5 V is gone."""
    off = Situation(key="on", pulled=frozenset({"F1"}))
    unit = Bench(UNIT)
    assert unit.word("ECU", "power") == "on"
    assert unit.amps("V1/coil") == pytest.approx(12.5 / 8.15, rel=0.03)
    assert unit.word("ECU", "power", off) == "off"
    assert unit.amps("V1/coil", off) == pytest.approx(0.0, abs=1e-3)
    assert unit.volts("ECU.6", off) == pytest.approx(12.6, abs=0.01)
    assert unit.volts("ECU:group A", off) == pytest.approx(0.0, abs=1e-3)


def test_a_unit_that_lost_its_ground_lifts_its_sensors_ground():
    """Nothing takes its leak of 20 kohm away: everything that was its ground floats up to the
    battery, less what a driver's 100 kohm and the 10 Mohm of a meter take."""
    bad = Bench(UNIT, "wire c/open/run")
    assert bad.word("ECU", "power") == "off"
    assert bad.amps("V1/coil") == pytest.approx(0.0, abs=1e-3)
    for pin in ("ECU.2", "ECU.4", "T1.2"):
        assert bad.read(ON, Probe(kind="volts", p=pin)) == pytest.approx(12.6, abs=0.1)
    assert bad.volts("ECU:group A", n="ECU:ground") == pytest.approx(0.0, abs=0.01)


def test_a_signal_wire_on_the_battery_feeds_a_dead_units_rail_through_its_pull():
    """A sneak path: 12.6 V through 2.2 kohm into the rail's leak of 20 kohm and what else hangs on
    it; far too little to wake it, enough to puzzle a meter."""
    lead = Lead(kind="jumper", p="T1.1", n="battery.+")
    dead = Situation(key="on", pulled=frozenset({"F1"}), fitted=(lead,))
    unit = Bench(UNIT)
    found = unit.volts("ECU:supply", dead)
    assert found == pytest.approx(12.6 * 20 / 22.2, rel=0.02)
    assert unit.read(dead, Probe(kind="volts", p="ECU.1")) == pytest.approx(found, abs=0.05)
    loaded = Probe(kind="volts", p="ECU.1", meter_ohm=3000.0)
    assert unit.read(dead, loaded) == pytest.approx(12.6 * 2.61 / 4.81, rel=0.03)


def test_a_line_so_fed_may_wake_a_unit_that_should_be_dead():
    """The same through a driver's load: 8 ohm of coil on a high side driver stuck on."""
    text = UNIT.replace("low side driver, in on run", "high side driver")
    text = text.replace("V1.2 > ECU.6", "V1.2 > ECU.6")
    stuck = Bench(text, "ECU.6/driver stuck on")
    off = Situation(key="on", pulled=frozenset({"F1"}))
    assert stuck.volts("ECU:supply", off) > 7.0
    assert stuck.word("ECU", "power", off) != "off"


CRANK = """F1: fuse 10 A
ECU: control unit, on frame
key: key switch
starter: starter, on engine
strap: ground strap, on engine / frame
battery.+ > starter.30, 35 mm2, 1.5 m, wire a
battery.+ > key.30, 4 mm2, 1 m, wire b
key.50 > starter.50, 4 mm2, 1 m, wire c
key.15 > F1 > ECU.1, 2.5 mm2, 1 m, wire d / e
ECU.2 > frame, 2.5 mm2, 0.3 m, wire f
ECU.1: supply
ECU.2: ground
"""


@pytest.mark.parametrize(("ohm", "word"), [(0.008, "on"), (0.030, "on"), (0.075, "resetting")])
def test_a_weak_battery_resets_a_unit_while_cranking_and_not_before(ohm, word):
    """Voltage divider with the starter's 50 mohm and some cable: 10.7 V, 8.2 V, and 5.5 V, under the
    6 V a unit still works at (an engine maker's cranking table goes down to 6 V in the cold)."""
    bench = Bench(CRANK, more=f", ohm {ohm} ohm")
    assert bench.word("ECU", "power") == "on"
    assert bench.word("ECU", "power", Situation(key="crank")) == word


@pytest.mark.parametrize(
    ("celsius", "low", "high"), [(-15, 7.0, 10.5), (0, 8.0, 11.0), (20, 8.0, 11.2)]
)
def test_a_cold_half_charged_battery_cranks_lower(celsius, low, high):
    """An engine maker's table: 6 to 8 V at -23 to -7 C, 7 to 9 to 10 C, 8 to 10 to 27 C, for an
    engine that is harder to turn in the cold; the battery alone loses less."""
    crank = Situation(key="crank")
    cold = Bench(CRANK, more=f", charge 50 %, temperature {celsius} C")
    warm = Bench(CRANK)
    assert low < cold.volts("battery.+", crank) < high
    assert cold.volts("battery.+", crank) < warm.volts("battery.+", crank) - 0.3
    assert cold.volts("battery.+", Situation(key="off")) == pytest.approx(12.24, abs=0.02)


BUS = """ECU: control unit, on frame
display: display, on frame
gateway: control unit, on frame
SPH: splice
SPL: splice
battery.+ > ECU.1, 1 mm2, 0.5 m, wire 1
battery.+ > display.1, 1 mm2, 0.5 m, wire 2
battery.+ > gateway.1, 1 mm2, 0.5 m, wire 3
ECU.2 > frame, 1 mm2, 0.5 m, wire 4
display.2 > frame, 1 mm2, 0.5 m, wire 5
gateway.2 > frame, 1 mm2, 0.5 m, wire 6
ECU.7 > SPH, 0.5 mm2, 1 m, wire 7
ECU.8 > SPL, 0.5 mm2, 1 m, wire 8
SPH > display.7, 0.5 mm2, 1 m, wire 9
SPL > display.8, 0.5 mm2, 1 m, wire 10
SPH > gateway.7, 0.5 mm2, 1 m, wire 11
SPL > gateway.8, 0.5 mm2, 1 m, wire 12
"""
for _unit, _ends in (("ECU", "yes"), ("display", "yes"), ("gateway", "{third}")):
    BUS += f"{_unit}.1: supply\n{_unit}.2: ground\n"
    BUS += f"{_unit}.7: CAN high, terminated {_ends}\n{_unit}.8: CAN low\n"
DEAD = Situation(key="off", battery_off=True)


@pytest.mark.parametrize(("third", "ohm"), [("no", 60.0), ("yes", 40.0)])
def test_terminators_in_parallel(third, ohm):
    """120 ohm each: two are 60 (Kia manual), three are 40 (parallel resistors). The units' own 10 to
    50 kohm take a little off."""
    bus = Bench(BUS.format(third=third))
    for unit in ("ECU", "display", "gateway"):
        read = bus.read(DEAD, Probe(kind="ohms", p=f"{unit}.7", n=f"{unit}.8"))
        assert read == pytest.approx(ohm, rel=0.02)


@pytest.mark.parametrize("gone", ["ECU", "display"])
def test_one_terminator_unplugged_is_120(gone):
    bus = Bench(BUS.format(third="no"))
    off = Situation(key="off", battery_off=True, unplugged=frozenset({gone}))
    read = bus.read(off, Probe(kind="ohms", p="gateway.7", n="gateway.8"))
    assert read == pytest.approx(120.0, rel=0.02)


def heard(bus: Bench, here: str, there: str, situation: Situation = ON) -> float:
    """Ohms from one unit's pair to another's: what 1 A of talk there makes here."""
    return bus.read(
        situation,
        Probe(
            kind="transfer",
            p=f"{here}:7",
            n=f"{here}:8",
            p2=f"{there}:7",
            n2=f"{there}:8",
        ),
    )


PAIRS = [("ECU", "display"), ("display", "gateway"), ("gateway", "ECU")]


def test_on_a_healthy_bus_everybody_hears_everybody_alike():
    """60 ohm in parallel with the 1 kohm of each of three that talk, both ways (reciprocity)."""
    bus = Bench(BUS.format(third="no"))
    for here, there in PAIRS:
        assert heard(bus, here, there) == pytest.approx(1 / (1 / 60 + 3 / 1000), rel=0.02)
        assert heard(bus, there, here) == pytest.approx(heard(bus, here, there), rel=1e-6)


def test_an_open_line_cuts_off_the_unit_behind_it_alone():
    bus = Bench(BUS.format(third="no"), "wire 11/open/run")
    assert heard(bus, "ECU", "display") == pytest.approx(1 / (1 / 60 + 2 / 1000), rel=0.02)
    assert abs(heard(bus, "ECU", "gateway")) < 15.0
    assert abs(heard(bus, "display", "gateway")) < 15.0


def test_a_pair_touching_silences_everybody():
    bus = Bench(BUS.format(third="no"))
    short = Situation(key="on", fitted=(Lead(kind="jumper", p="SPH", n="SPL"),))
    for here, there in PAIRS:
        assert abs(heard(bus, here, there, short)) < 1.0


@pytest.mark.parametrize(
    ("line", "to", "high", "low"),
    [
        ("SPH", "battery minus", 0.0, 0.4),
        ("SPL", "battery minus", 0.0, 0.0),
        ("SPH", "battery.+", 12.6, 11.85),
        ("SPL", "battery.+", 11.85, 12.6),
    ],
)
def test_a_line_on_ground_or_on_the_feed_takes_the_other_with_it(line, to, high, low):
    """A car maker's table: high to ground 0 and 0.3 to 0.5 V; low to ground 0 and near 0; either to
    the battery: that one at battery volts, the other 0.75 V below. The engine's drive is an average
    without a diode: within 0.8 V, never below ground nor above the battery."""
    bus = Bench(BUS.format(third="no"))
    fitted = Situation(key="on", fitted=(Lead(kind="jumper", p=line, n=to),))
    for node, volts in (("SPH", high), ("SPL", low)):
        assert bus.volts(node, fitted) == pytest.approx(volts, abs=0.8)
        assert -0.05 < bus.volts(node, fitted) < 12.65


OUTPUT = """F1: fuse 10 A
U1: control unit 0.5 A
U1.1: supply
U1.2: ground
U1.3: high side driver
L1: lamp 21 W
battery.+ > F1 > U1.1, 1 mm2, 0.5 m, wire a / b
U1.2 > frame, 1 mm2, 0.5 m, wire c
U1.3 > L1 > frame, 1 mm2, 0.5 m, wire d / e
"""


def test_an_output_fed_from_outside_wakes_a_unit_whose_fuse_is_out():
    """A jumper on the lamp's wire: the diode across the transistor passes it to the unit's supply, 0.7 V
    below the battery, enough to run it (makers' notes on high side switches, from memory)."""
    bench = Bench(OUTPUT)
    out = Situation(key="on", pulled=frozenset({"F1"}))
    assert bench.word("U1", "power", out) == "off"
    live = Lead(kind="jumper", p="battery.+", n="L1.1")
    fed = Situation(key="on", pulled=frozenset({"F1"}), fitted=(live,))
    assert bench.word("U1", "power", fed) == "on"
    assert bench.volts("battery.+", fed) - bench.volts("U1:supply", fed) == pytest.approx(
        0.7, abs=0.1
    )
