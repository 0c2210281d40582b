"""The generic book and the one-question book against the circuit."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.shop.demo import book_text

KEY_ON, CRANK, RUN = Situation(key="on"), Situation(key="crank"), Situation(key="run")


def circuit_of(name: str) -> Circuit:
    book, problems = read_book(book_text(name))
    assert book is not None, "\n".join(map(str, problems))
    return Circuit.of(book)


@pytest.fixture(scope="module")
def generic() -> Circuit:
    return circuit_of("generic")


@pytest.fixture(scope="module")
def tractor() -> Circuit:
    return circuit_of("unplugged-sensor")


def low_codes(circuit: Circuit, situation: Situation) -> list[set[str]]:
    """Per hypothesis, the codes of the engine unit that hold, rules read literally."""
    found: list[set[str]] = [set() for _ in range(len(circuit.defects.atom_of))]
    powered = circuit.state(situation, "engine unit", "power") == 1
    for rule in circuit.book.codes.values():
        (test,) = rule.tests
        node = f"engine unit:{test.pin.name}" if test.pin else f"engine unit:group {test.other}"
        if test.kind == "supply":
            node = "engine unit:supply"
        volts = circuit.seen(situation, [Probe(kind="inner", p=node, n="engine unit:ground")]).mean[
            :, 0
        ]
        low = -np.inf if test.low is None else test.low
        high = np.inf if test.high is None else test.high
        for row in np.flatnonzero(powered & ((volts < low) | (volts > high))):
            found[row].add(rule.code)
    return found


@pytest.mark.parametrize("name", ["generic", "unplugged-sensor"])
def test_a_healthy_small_machine_cranks_and_reports_nothing(name: str) -> None:
    circuit = circuit_of(name).within(np.zeros(1, np.int64))
    for situation in (KEY_ON, CRANK, RUN):
        assert low_codes(circuit, situation) == [set()]
        assert circuit.settled(situation).steady.all()
    assert circuit.seen(CRANK, [Probe(kind="amps", p="starter/motor")]).mean[0, 0] > 100.0


def test_no_crank_and_dim_display_come_from_the_battery_side_not_the_start_chain(
    generic: Circuit,
) -> None:
    """Common practice: dim display and no crank, look at battery, clamps, isolator, main fuse
    and grounds first; with a bright display at the start chain."""
    starter = np.abs(generic.seen(CRANK, [Probe(kind="share", p="starter")]).mean[:, 0])
    display = generic.seen(KEY_ON, [Probe(kind="share", p="display")]).mean[:, 0]
    groups = np.array([atom.group for atom in generic.defects.atoms])[generic.defects.atom_of]
    dim = set(groups[(starter < 0.3) & (display < 0.5)])
    bright = set(groups[(starter < 0.3) & (display > 0.9)])
    assert {"isolator", "main fuse", "key fuse", "frame stud", "lugs at battery"} <= dim
    assert {"start interlock", "start relay", "starter", "engine strap", "start fuse"} <= bright
    assert dim.isdisjoint({"start interlock", "start relay", "start fuse", "engine strap"})


def test_an_unplugged_sender_and_its_signal_to_ground_set_the_same_lone_code(
    tractor: Circuit,
) -> None:
    """SPN 100 FMI 4 was sent by a compact tractor with the sender's plug pulled: TractorHacking
    CAN-data (MIT), label "LeftSensorUnplugged-CheckEngine". The pull-down is our assumption."""
    pulled = Situation(key="run", unplugged=frozenset({"oil pressure sender"}))
    assert low_codes(tractor.within(np.zeros(1, np.int64)), pulled) == [{"100/4"}]
    atoms = tractor.defects.atoms
    found = low_codes(tractor, RUN)
    sets: dict[str, list[set[str]]] = {}
    for row, atom in enumerate(tractor.defects.atom_of):
        sets.setdefault(atoms[atom].words, []).append(found[row])
    assert sets["plug at oil pressure sender is off"] == [{"100/4"}]
    assert {"100/4"} in sets[
        "wire 7 (oil pressure sender to engine unit) rubbed through to ground along its run"
    ]
    assert sets["plug at fuel pressure sender is off"] == [{"94/4"}]


def test_the_neighbours_of_the_unplugged_sender_read_normal(tractor: Circuit) -> None:
    pulled = Situation(key="run", unplugged=frozenset({"oil pressure sender"}))
    probes = [Probe(kind="inner", p=f"engine unit:{n}", n="engine unit:ground") for n in "567"]
    with_it, without = (tractor.seen(s, probes).mean[0] for s in (RUN, pulled))
    assert without[0] < 0.01
    assert without[1:] == pytest.approx(with_it[1:], abs=0.01)
