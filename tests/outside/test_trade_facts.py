"""What every technician knows, in one small book. Common practice, no source."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from oracles.codes import codes_set

BOOK = """\
book format 1
machine bench, 12 V

battery: battery 12 V
B1: splice
G1: ground stud, on frame
F1: fuse 10 A
F2: fuse 10 A
F9: fuse 15 A
SP1: splice
X1: plug 4 ways
S2: rocker switch
S3: rocker switch
ECU: control unit, on frame
valve A: solenoid 18 W
valve B: solenoid 18 W
valve C: solenoid 18 W
valve D: solenoid 18 W
lamp: lamp 21 W

battery.- > frame, 35 mm2, 0.5 m, wire 1
battery.+ > B1, 35 mm2, 0.5 m, wire 2
B1 > F1 > ECU.1, 1.5 mm2, 2 m, wire 3a / 3b
ECU.2 > G1, 2.5 mm2, 1 m, wire 4
B1 > F2 > valve D > ECU.12, 1.0 mm2, 2 m, wire 5a / 5b / 5c
B1 > F9 > X1.1, 1.5 mm2, 2 m, wire 9a / 9b
X1.1 > SP1 > valve A.1 + valve B.1 + S2.1 + S3.1, 1.0 mm2, 1 m, wire 9c / 10a / 11a / 12a / 13a
valve A.2 > ECU.10, 1.0 mm2, 2 m, wire 10b
valve B.2 > ECU.11, 1.0 mm2, 2 m, wire 11b
S2 > valve C > G1, 1.0 mm2, 2 m, wire 12b / 12c
S3 > lamp > X1.2 > G1, 1.0 mm2, 2 m, wire 13b / 13c / 13d

ECU.1: supply
ECU.2: ground
ECU.10: low side driver, in run
ECU.11: low side driver, in run, with lever
ECU.12: low side driver, in run

code ECU 1001/5 "valve A open": ECU.10 < 0.1 A, key run
code ECU 1002/5 "valve B open": ECU.11 < 0.1 A, key run, with lever
code ECU 1004/5 "valve D open": ECU.12 < 0.1 A, key run
code ECU 168/4 "battery voltage low": supply < 10 V, key run
"""

LIT = Situation(key="run", on=frozenset({"S3"}))


@pytest.fixture(scope="module")
def circuit() -> Circuit:
    book, problems = read_book(BOOK, "bench.book")
    assert book is not None, "\n".join(str(problem) for problem in problems)
    return Circuit.of(book)


def hypotheses(circuit: Circuit, atom: str, ohm: float | None = None) -> int:
    """The hypothesis of an atom, at a severity when it has several."""
    found = [
        h
        for h, a in enumerate(circuit.defects.atom_of)
        if circuit.defects.atoms[a].id == atom and ohm in (None, circuit.defects.ohm[h])
    ]
    assert found, f"no {atom!r} among {sorted({a.id for a in circuit.defects.atoms})}"
    return found[0]


def volts(circuit: Circuit, situation: Situation, *places: str) -> np.ndarray:
    """(H, places) volts to battery minus on a 10 Mohm meter."""
    return circuit.seen(situation, [Probe(kind="volts", p=place) for place in places]).mean


@pytest.mark.parametrize(
    ("commanded", "expected"),
    [
        ((), {"ECU 1001/5"}),
        (("lever",), {"ECU 1001/5", "ECU 1002/5"}),
        (("lever", "S2", "S3"), {"ECU 1001/5", "ECU 1002/5"}),
    ],
)
def test_a_blown_shared_fuse_sets_codes_on_the_monitored_commanded_loads_only(
    circuit, commanded, expected
):
    """Valves A, B, C and a lamp hang on F9; the unit watches A and B, and B only when commanded.
    Valve D on its own fuse keeps quiet."""
    situation = Situation(key="run", on=frozenset(commanded))
    codes = codes_set(circuit.book, circuit, situation)
    assert codes[hypotheses(circuit, "F9/open")] == expected
    assert codes[0] == set()


def test_feed_dead_with_the_fuse_hot_on_both_sides_means_open_downstream(circuit):
    """Every single defect with that picture lies between the fuse and the dead lamp."""
    seen = volts(circuit, LIT, "F9.1", "F9.2", "lamp.1")
    works = circuit.seen(LIT, [Probe(kind="share", p="lamp")]).mean[:, 0]
    picture = (seen[:, 0] > 10.0) & (seen[:, 1] > 10.0) & (seen[:, 2] < 1.0)
    assert (works[picture] < 0.1).all()
    atoms = {int(a) for a in circuit.defects.atom_of[picture]}
    downstream = {"F9", "wire 9b", "X1", "wire 9c", "SP1", "wire 13a", "S3", "wire 13b", "lamp"}
    for atom in atoms:
        found = circuit.defects.atoms[atom]
        assert set(found.owners) <= downstream, found.words
    named = {circuit.defects.atoms[atom].id for atom in atoms}
    assert {"wire 9b/open/run", "wire 9c/open/run", "wire 13b/open/run", "plug X1/off"} <= named
    assert "F9/open" not in named
    assert "wire 9a/open/run" not in named


def test_a_short_that_burnt_open_no_longer_blows_the_fuse(circuit):
    """The wire rubs through and blows F9. It then burns off: a new fuse holds, the lamp is dead.
    As long as it touches, every new fuse blows; and the old one does not mend itself."""
    short = hypotheses(circuit, "wire 13b/to ground/run")
    burnt = hypotheses(circuit, "wire 13b/open/run")
    fresh = Situation(key="run", on=LIT.on, renewed=frozenset({"F9"}), after=LIT)
    same = Situation(key="run", on=LIT.on, after=LIT)
    fuse = {s: circuit.state(s, "F9", "element") for s in (LIT, fresh, same)}
    gone = {s: circuit.state(s, "F9", "element", gone=True) for s in (fresh, same)}
    assert [fuse[s][short] for s in (LIT, fresh, same)] == [1, 1, 1]
    assert [gone[s][short] for s in (fresh, same)] == [0, 1]
    assert fuse[fresh][burnt] == 0
    assert circuit.seen(fresh, [Probe(kind="share", p="lamp")]).mean[burnt, 0] < 0.01


def test_an_unloaded_meter_reads_battery_voltage_through_100_ohm_while_the_lamp_is_dead(circuit):
    """100 ohm in the lamp's feed: with its plug off the meter sees 12.6 V; with the lamp on the
    same wire it does not light, and the meter shows next to nothing at the lamp."""
    bad = hypotheses(circuit, "contact X1.1", 100.0)
    off = Situation(key="on", on=frozenset({"S3"}), unplugged=frozenset({"lamp"}))
    lit = Situation(key="on", on=frozenset({"S3"}))
    open_circuit = volts(circuit, off, "lamp.1")
    assert open_circuit[bad, 0] == pytest.approx(open_circuit[0, 0], abs=0.05)
    assert open_circuit[bad, 0] > 12.5
    assert volts(circuit, lit, "lamp.1")[bad, 0] < 1.0
    assert circuit.seen(lit, [Probe(kind="share", p="lamp")]).mean[bad, 0] < 0.1
