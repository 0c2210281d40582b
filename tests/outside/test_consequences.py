"""Fuses that open and how soon, wires that overheat, defects no reading tells, circuits that never
settle: against published limits, Ohm's law and the circuit written out by hand."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.base.copper import carries, wire_ohm
from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.consequences import (
    AT_ONCE,
    BEFORE,
    HOLDS,
    MAY,
    MINUTES,
    currents,
    fuse_fates,
    wire_heat,
)
from backprobe.defects.outcomes import outcomes
from backprobe.defects.predict import Circuit
from backprobe.kinds.fusing import opens_within
from oracles import nodal, one_at_a_time
from oracles.decode import changes_of
from oracles.machines import machine
from oracles.one_at_a_time import Tap, written_out

ON, RUN = Situation(key="on"), Situation(key="run")


def circuit(text: str) -> Circuit:
    book, problems = read_book("book format 1\nmachine bench, 12 V\n" + text)
    assert book is not None, "\n".join(str(problem) for problem in problems)
    return Circuit.of(book)


def row(whole: Circuit, atom: str, ohm: float = 0.0) -> int:
    """The hypothesis of an atom with the severity nearest to `ohm`."""
    ids = np.array([whole.defects.atoms[number].id for number in whole.defects.atom_of])
    rows = np.flatnonzero(ids == atom)
    assert rows.size, sorted(set(ids))
    return int(rows[np.argmin(np.abs(whole.defects.ohm[rows] - ohm))])


# Share of the rating, and the least and most seconds a blade fuse takes there.
BLADE = [
    (1.00, inf, inf),  # held for 100 h, Littelfuse 287 sheet
    (1.10, inf, inf),  # ISO 8820-3, from memory
    (1.35, 0.75, 600.0),  # Littelfuse 287 sheet, 35 and 40 A
    (1.60, 0.25, 50.0),  # the same, 10 A
    (2.00, 0.15, 5.0),  # the same, 10, 35 and 40 A
    (3.50, 0.08, 0.5),  # the same, 35 and 40 A
    (6.00, 0.0, 0.15),  # the same
]
SLOW = [  # Littelfuse 299 sheet
    (1.00, inf, inf),
    (1.35, 60.0, 1800.0),
    (2.00, 2.0, 50.0),
    (3.50, 0.2, 7.0),
    (6.00, 0.04, 1.0),
]


@pytest.mark.parametrize(("share", "least", "most"), BLADE)
def test_a_blade_fuse_opens_within_its_published_times(share, least, most):
    assert opens_within(share) == (least, most)


@pytest.mark.parametrize(("share", "least", "most"), SLOW)
def test_a_slow_fuse_opens_within_its_published_times(share, least, most):
    assert opens_within(share, slow=True) == (least, most)


@given(st.floats(0, 20), st.floats(0, 20), st.booleans())
def test_a_fuse_never_takes_longer_at_more_amperes(one, two, slow):
    low, high = sorted((one, two))
    first, second = opens_within(low, slow=slow), opens_within(high, slow=slow)
    assert first[0] <= first[1]
    assert second[0] <= first[0]
    assert second[1] <= first[1]


FUSED = """battery: battery 12 V
battery.- > frame, 35 mm2, 0.3 m, wire minus
F1: fuse {amps} A
R1: resistor {ohm} ohm
battery.+ > F1 > R1 > frame, 6 mm2, 0.3 m, wire a / b / c
"""


@pytest.mark.parametrize(
    ("ohm", "fate"),
    [(1.3, HOLDS), (1.0, MAY), (0.8, MINUTES), (0.7, MINUTES), (0.5, AT_ONCE), (0.05, AT_ONCE)],
)
def test_a_fuse_of_10_amperes_by_its_load(ohm, fate):
    """Ohm's law: 12.6 V over the load, 8.3 mohm of battery, 7.7 of fuse, 5 of wire and joints; then the
    table above: 9.5 A holds, 12.3 A is between, 15.3 to 17.5 A within 600 s, 24 A within 5 s."""
    whole = circuit(FUSED.format(amps=10, ohm=ohm))
    alone = whole.within(np.zeros(1, np.int64))
    found = fuse_fates(alone, ON)
    assert found.names == ("F1",)
    assert found.share[0, 0] == pytest.approx(1.26 / (ohm + 0.021), rel=0.01)
    assert found.fate[0, 0] == fate
    assert (found.shortest_s[0, 0], found.longest_s[0, 0]) == opens_within(found.share[0, 0])
    blown = alone.settled(ON).states[0, alone.net.state[("F1", "element")]]
    assert blown == (fate in (MINUTES, AT_ONCE))


def test_of_two_fuses_in_a_row_the_one_that_saves_the_other_is_named():
    """Selectivity: 10 A behind 60 A on a dead short; the larger sees the current only until the
    smaller is open. Common practice, no source."""
    whole = circuit(
        """battery: battery 12 V
battery.- > frame, 35 mm2, 0.3 m, wire minus
F0: fuse 60 A
F1: fuse 10 A
L1: lamp 21 W
battery.+ > F0 > F1 > L1 > frame, 2.5 mm2, 1 m, wire a / b / c / d
"""
    )
    short = row(whole, "wire c/to ground/run")
    found = fuse_fates(whole.within(np.array([0, short])), ON)
    assert found.names == ("F0", "F1")
    assert found.fate.tolist() == [[HOLDS, HOLDS], [HOLDS, AT_ONCE]]
    assert found.share[1, 1] > 10.0
    after = Situation(key="on", after=ON)
    later = fuse_fates(whole.within(np.array([0, short])), after)
    assert later.fate.tolist() == [[HOLDS, HOLDS], [HOLDS, BEFORE]]


def test_an_unfused_wire_on_ground_overheats_and_its_amperes_are_ohms_law():
    """1 mm2 carries 16.5 A (MK Global's catalogue of ISO 6722 class B wire)."""
    whole = circuit(
        """battery: battery 12 V
battery.- > frame, 35 mm2, 0.3 m, wire minus
L1: lamp 21 W
battery.+ > L1 > frame, 1 mm2, 2 m, wire a / b
"""
    )
    assert carries(1e-6) == 16.5
    short = row(whole, "wire a/to ground/run", 1.0)
    ohm = float(whole.defects.ohm[short])
    heat = wire_heat(whole.within(np.array([0, short])), ON)
    k = heat.wires.index("a")
    assert heat.carries[k] == 16.5
    assert not heat.hot[0].any()
    half = wire_ohm(1e-6, 2.0) / 2
    expected = 12.6 / (half + ohm + 8.3e-3) + 1.6
    assert heat.amps[1, k] == pytest.approx(expected, rel=0.05)
    dead = wire_heat(whole.within(np.array([0, row(whole, "wire a/to ground/run")])), ON)
    assert dead.hot[1, k]
    assert [heat.wires[k] for k in np.flatnonzero(dead.hot[1])] == ["minus", "a"]
    assert not wire_heat(whole.within(np.array([0])), ON).hot.any()


def test_both_halves_of_a_rubbed_wire_are_looked_at():
    """The larger of the two currents of a wire that touches something, against the circuit with
    that wire cut in two there."""
    made = machine(100, 2)
    whole = made.circuit
    kinds = np.array([whole.defects.atoms[number].kind for number in whole.defects.atom_of])
    rng = np.random.default_rng(5)
    rubbed = np.flatnonzero(np.isin(kinds, ("to ground", "wire to wire", "to feed")))
    picked = np.array([0, *sorted(rng.choice(rubbed, size=40, replace=False))])
    near = whole.within(picked)
    net, situation = near.net, made.situations["run"]
    settled = near.settled(situation)
    at = np.array([net.current(f"wire {wire}") for wire in near.book.wires], np.int64)
    found = np.abs(currents(near, settled, at, beyond_taps=True))
    beyond = 0
    for hypothesis in range(1, len(picked)):
        words = {name: net.states[k].words[settled.states[hypothesis, k]] for name, k in net.state.items()}  # fmt: skip
        changes = changes_of(net, near.ports, near.cases, hypothesis)
        amps = nodal.solve(written_out(net, words, changes)).amps
        expected = np.array([abs(amps.get(f"wire {wire}", 0.0)) for wire in near.book.wires])
        for name, value in amps.items():
            whole_name, middle, _ = name.partition(" to tap ")
            whole_name, other, _ = (whole_name, middle, "") if middle else name.partition(" to other tap ")  # fmt: skip
            if middle or other:
                k = list(near.book.wires).index(whole_name.removeprefix("wire "))
                beyond += abs(value) > expected[k] + 1e-3
                expected[k] = max(expected[k], abs(value))
        assert any(isinstance(change, Tap) for change in changes)
        assert found[hypothesis] == pytest.approx(expected, abs=1e-5, rel=1e-6)
    assert beyond > 3


def test_the_current_before_a_fuse_opens_is_that_of_a_circuit_whose_fuses_cannot():
    """Against following each defect by hand with every fuse's limit taken away."""
    made = machine(100, 1)
    whole, situation = made.circuit, made.situations["on"]
    rng = np.random.default_rng(3)
    settled = whole.settled(situation)
    names = fuse_fates(whole.within(np.zeros(1, np.int64)), situation).names
    states = [whole.net.state[(name, "element")] for name in names]
    blew = np.flatnonzero((settled.states[:, states] != settled.states[0, states]).any(axis=1))
    picked = np.array([0, *sorted(rng.choice(blew, size=12, replace=False))])
    near = whole.within(picked)
    found = fuse_fates(near, situation)
    net = near.net
    rated = {name: float(near.book.parts[name].attrs["amps"]) for name in names}
    checked = 0
    for hypothesis in range(1, len(picked)):
        changes = changes_of(net, near.ports, near.cases, hypothesis)
        held = _without_fuses(net)
        end = one_at_a_time.settle(held, one_at_a_time.commanded(net, situation), changes)
        if not end.steady or end.margin < 1e-7:
            continue
        for k, name in enumerate(names):
            if found.fate[hypothesis, k] == AT_ONCE:
                expected = abs(end.amps[f"{name}/element"]) / rated[name]
                assert found.share[hypothesis, k] == pytest.approx(expected, rel=1e-6)
                checked += 1
    assert checked >= 8


def _without_fuses(net):
    from dataclasses import replace

    return replace(net, shifts=tuple(shift for shift in net.shifts if shift.pace != 1))


HUNGRY = """battery: battery 12 V
battery.- > frame, 35 mm2, 0.3 m, wire minus
ECU: control unit, on frame
cam: hall sensor
battery.+ > ECU.1, 2.5 mm2, 0.5 m, wire b
ECU.2 > frame, 2.5 mm2, 0.3 m, wire c
ECU.1: supply
ECU.2: ground
ECU.3: 5 V group A
ECU.4: ground
ECU.5: frequency input, pull up 500 ohm to group A
group ECU A: 5 V, limit {limit} mA
ECU.3 > cam.3, 0.75 mm2, 1 m, wire d
ECU.4 > cam.1, 0.75 mm2, 1 m, wire e
cam.2 > ECU.5, 0.75 mm2, 1 m, wire f
"""


def test_a_sensor_that_drags_its_own_supply_down_never_settles():
    """Ohm's law: 6.4 mA on the 606 ohm of the idle sensor and the bleeder make 3.9 V, and it starts
    above 3.8; pulsing, it pulls 500 + 200 ohm to the half, so 2.8 kohm comes on top: 3.2 V, and it
    stops below 3.5."""
    hungry = circuit(HUNGRY.format(limit=6.4)).within(np.zeros(1, np.int64))
    assert not hungry.settled(RUN).steady[0]
    assert "cam" in hungry.moving(RUN, 0)
    assert outcomes(hungry, [RUN]).restless.all()
    fed = circuit(HUNGRY.format(limit=100)).within(np.zeros(1, np.int64))
    assert fed.settled(RUN).steady[0]
    assert fed.moving(RUN, 0) == ()


def test_a_tenth_of_an_ohm_where_nothing_flows_has_no_effect_on_any_reading():
    """Ohm's law: 0.1 ohm in a line of a few milliamperes drops less than a millivolt; an open there
    is another matter."""
    whole = circuit(HUNGRY.format(limit=100))
    mild, broken = row(whole, "wire f/strands/run", 0.1), row(whole, "wire f/open/run")
    found = outcomes(whole.within(np.array([0, mild, broken])), [ON, RUN])
    assert found.quiet.tolist() == [True, True, False]
    assert found.largest_v[1] < 1e-3
    assert found.largest_v[2] > 1.0


def test_a_broken_bus_wire_moves_no_volts_and_is_told_by_the_bus_itself():
    """Both ends of a CAN pair rest at 2.5 V (Kia manual), whole or broken."""
    made = machine(800, 1)
    whole = made.circuit
    wires = whole.book.wires.values()
    between = next(wire.id for wire in wires if {wire.a.part, wire.b.part} == {"SPH 1", "SPH 2"})
    atoms = whole.defects.atoms
    rows = [
        h
        for h, number in enumerate(whole.defects.atom_of)
        if atoms[number].kind == "open" and atoms[number].owners[0] == f"wire {between}"
    ]
    found = outcomes(whole.within(np.array([0, rows[0]])), [ON])
    assert found.largest_v[1] < 0.05
    assert not found.quiet[1]
