"""What some circuits of a machine have worked out, others take over; nothing they read changes by it.

Laws, no source needed: a reading under a hypothesis does not depend on who else is asked about.
"""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest

from backprobe.book.situations import Lead, Situation
from backprobe.circuit import settle
from backprobe.defects import settled_once
from backprobe.defects.model import Defects, Probe
from backprobe.defects.pairs import all_pairs, with_pairs
from backprobe.defects.predict import Circuit
from oracles.machines import machine

MADE = machine(100, seed=4)
ON, RUN = Situation(key="on"), Situation(key="run")
LATER = replace(RUN, after=replace(ON, after=Situation(key="run")))
NODES = [n for n in MADE.circuit.net.nodes if n.endswith((".1", ".2"))][:9]
PROBES = [Probe(kind="volts", p=node) for node in NODES]


def fresh() -> Circuit:
    return Circuit.of(MADE.book)


def drawn(seed: int, count: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return np.union1d(rng.choice(MADE.circuit.cases.count, count, replace=False), 0)


@pytest.mark.parametrize("situation", [ON, LATER], ids=["key on", "with a past"])
@pytest.mark.parametrize("gone", [False, True])
def test_whoever_asked_before_the_readings_are_the_same(situation: Situation, gone: bool) -> None:
    whole = fresh().seen(situation, PROBES, gone=gone)
    circuit = fresh()
    for seed in range(4):
        rows = drawn(seed, 30 + 40 * seed)
        seen = circuit.within(rows).seen(situation, PROBES, gone=gone)
        assert seen.mean == pytest.approx(whole.mean[rows], abs=1e-7)
        assert seen.slope == pytest.approx(whole.slope[rows], abs=1e-4)
        assert (seen.settled == whole.settled[rows]).all()
    after = circuit.seen(situation, PROBES, gone=gone)
    assert after.mean == pytest.approx(whole.mean, abs=1e-7)
    assert [
        (circuit.within(rows).settled(situation, gone=gone).states == part).all()
        for rows in (drawn(9, 50),)
        for part in (circuit.settled(situation, gone=gone).states[rows],)
    ] == [True]


def test_in_a_crowd_a_switch_with_a_bad_contact_reads_as_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A crowded pattern is walked on a factorisation of its own (circuit.settle); what is measured of
    its digits there holds there alone. Of 300 nodes a switched branch with a defect read as sound."""
    monkeypatch.setattr(settle, "CROWD", 5_000)
    made = machine(300, seed=1)
    switched = Situation(key="on", on=frozenset({"S1"}))
    whole = Circuit.of(made.book)
    probes = [Probe(kind="volts", p=n) for n in whole.net.nodes if n.endswith((".1", ".87"))]
    crowd = whole.seen(switched, probes).mean
    assert len(whole.settled(switched).references) > 1
    kind = np.array([a.kind == "bad contact" for a in whole.defects.atoms])
    rows = np.concatenate([[0], np.flatnonzero(kind[whole.defects.atom_of])])
    alone = Circuit.of(made.book).within(rows).seen(switched, probes).mean
    assert crowd[rows] == pytest.approx(alone, abs=1e-7)
    owner = np.array(["S1" in whole.defects.atoms[a].owners for a in whole.defects.atom_of[rows]])
    assert np.abs(alone[owner] - alone[0]).max() > 5.0


def test_what_one_circuit_settled_the_next_one_does_not_settle_again() -> None:
    circuit = fresh()
    circuit.within(drawn(1, 60)).seen(RUN, PROBES)
    (place,) = circuit.memory.places.values()
    first = place.rest.states
    circuit.within(drawn(1, 60), rough=True).seen(RUN, PROBES)
    assert place.rest.states is first
    more = np.union1d(drawn(1, 60), drawn(2, 60))
    circuit.within(more).seen(RUN, PROBES)
    assert place.rest.count == more.size
    assert (place.rest.states[: len(first)] == first).all()


def test_what_was_blown_before_keeps_hypotheses_apart() -> None:
    """A fuse that a short blew stays blown while the short is gone, unless a new one is fitted."""
    circuit = fresh()
    lasting = circuit.settled(RUN).states[:, circuit._lasting]
    blown = np.flatnonzero((lasting != lasting[0]).any(axis=1))
    assert blown.size
    rows = np.append(0, blown[:20])
    some, past = circuit.within(rows), replace(ON, after=RUN)
    fuses = frozenset(circuit.net.states[k].owner for k in circuit._lasting)
    kept = some.settled(past, gone=True).states
    renewed = some.settled(replace(past, renewed=fuses), gone=True).states
    assert (kept[1:] != renewed[1:]).any(axis=1).all()
    assert (renewed == renewed[0]).all()
    assert (fresh().within(rows).settled(past, gone=True).states == kept).all()


def test_pairs_beside_singles_keep_their_own_places() -> None:
    circuit = fresh()
    pairs = all_pairs(circuit, drawn(3, 12)).only(np.arange(20))
    joined = with_pairs(circuit, pairs)
    count = circuit.cases.count
    rows = np.append(0, count + np.arange(20))
    seen = joined.within(rows).seen(RUN, PROBES).mean
    again = with_pairs(fresh(), pairs.only(np.arange(20)[::-1]))
    other = again.within(rows).seen(RUN, PROBES).mean
    assert seen[1:] == pytest.approx(other[1:][::-1], abs=1e-7)
    places = circuit.memory.joined(circuit.ident[pairs.first], circuit.ident[pairs.second])
    assert np.unique(places).size == 20
    assert places.min() >= settled_once.FIRST_PAIR > count


def test_a_diode_reading_beside_others_stands_in_its_place() -> None:
    circuit = fresh().within(drawn(5, 20))
    off = Situation(key="off", battery_off=True)
    diode = Probe(kind="diode", p=NODES[0], n=NODES[1])
    plain = Probe(kind="ohms", p=NODES[2], n=NODES[3])
    both = circuit.seen(off, [plain, diode, plain])
    assert (both.mean[:, 0] == both.mean[:, 2]).all()
    assert (both.mean[:, 1] == circuit.seen(off, [diode]).mean[:, 0]).all()


def test_no_probe_gives_an_empty_answer() -> None:
    seen = fresh().within(drawn(6, 5)).seen(ON, [])
    count = drawn(6, 5).size
    assert seen.mean.shape == (count, 0)
    assert seen.slope.shape == (count, 0, 3)


def test_what_is_least_lately_asked_for_is_forgotten(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settled_once, "SETTLED", 200)
    monkeypatch.setattr(settled_once, "EVERY", 1)
    circuit = fresh().within(drawn(7, 90))
    before = circuit.seen(ON, PROBES).mean
    for key in ("run", "off", "crank"):
        circuit.seen(Situation(key=key), PROBES)
    assert len(circuit.memory.places) <= 3
    assert circuit.seen(ON, PROBES).mean == pytest.approx(before, abs=1e-9)


def test_a_situation_sent_to_another_process_finds_itself() -> None:
    """Strings hash otherwise there, so what was worked out here must not travel."""
    lead = Lead(kind="jumper", p="a", n="b")
    situation = Situation(key="run", on=frozenset({"S1"}), fitted=(lead,), after=ON)
    hash(situation)
    sent = pickle.loads(pickle.dumps(situation))
    assert sent == situation
    assert "hash" not in vars(sent)
    assert {situation: 1}[sent] == 1


def test_defects_of_some_keep_their_weights() -> None:
    circuit = fresh()
    rows = drawn(8, 40)
    defects: Defects = circuit.defects.only(rows)
    some = circuit.only(rows, defects=defects)
    assert some.defects.weight.tolist() == circuit.defects.weight[rows].tolist()
    assert some.ident.tolist() == rows.tolist()
