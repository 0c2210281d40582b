"""The baselines of the benchmark solve what they say, and its page invents nothing."""

from __future__ import annotations

import subprocess

import bench
import engine
import numpy as np
import pairs
import pytest
import truth
from naive import Naive
from page import page
from spice import Deck
from subject import Subject, subject, touched, words_of

from backprobe.circuit.instruments import show
from oracles import nodal
from oracles.machines import machine
from oracles.one_at_a_time import written_out

FIRST, SECOND = 7, 5


@pytest.fixture(scope="module")
def of() -> Subject:
    return subject(machine(100, 3))


def refined(of: Subject, *cases: int) -> np.ndarray:
    """Volts of every node with these defects at the healthy states, in extended precision."""
    net = of.circuit.net
    changes = [change for case in cases for change in of.changes(int(of.lone[case]))]
    plain = written_out(net, words_of(of.circuit, of.run, 0), changes)
    volts = nodal.solve(plain).volts
    return np.array([volts[node] for node in of.nodes])


def on_different_branches(of: Subject, one: int, two: int) -> bool:
    first, second = (touched(of.changes(int(of.lone[case]))) for case in (one, two))
    return not first & second


def test_the_naive_way_solves_singles_and_pairs(of):
    defects = [of.changes(int(case)) for case in of.lone[:24]]
    plain = Naive(of.healthy, defects)
    for one in range(24):
        assert np.abs(plain.volts(plain.solve(one), of.nodes) - refined(of, one)).max() < 1e-7
    compared = 0
    for one, two in ((k, (5 * k + 3) % 24) for k in range(24)):
        if on_different_branches(of, one, two):
            solved = plain.volts(plain.solve(one, two), of.nodes)
            assert np.abs(solved - refined(of, one, two)).max() < 1e-7
            compared += 1
    assert compared > 15


def test_the_spice_deck_solves_pair_by_pair_what_it_says(of, ngspice, tmp_path):
    """The same deck the library gets, in a process: the inner index first, then the outer."""
    defects = [of.changes(int(case)) for case in of.lone[: FIRST + SECOND]]
    deck = Deck(of.healthy, defects[:FIRST], defects[FIRST:])
    (tmp_path / "deck.cir").write_text("\n".join(deck.ready(of.nodes)), encoding="ascii")
    subprocess.run(
        [ngspice, "-b", "-r", "deck.raw", "deck.cir"], cwd=tmp_path, check=True, capture_output=True
    )
    head, numbers = (tmp_path / "deck.raw").read_bytes().split(b"Binary:\n", 1)
    names = [line.split("\t")[2] for line in head.decode().splitlines() if line.startswith("\t")]
    table = np.frombuffer(numbers, "=f8").reshape(SECOND, FIRST, len(names))
    column = [names.index(f"v({deck.node[node]})") for node in of.nodes]
    compared = 0
    for one in range(FIRST):
        for two in range(SECOND):
            if on_different_branches(of, one, FIRST + two):
                off = np.abs(table[two, one, column] - refined(of, one, FIRST + two))
                assert off.max() < 1e-2  # ngspice stops at its own tolerances
                assert np.median(off) < 1e-4
                compared += 1
    assert compared > 25


def test_singles_are_read_in_full_and_end_where_the_hand_method_ends(of):
    found = engine.singles(of)
    assert found.count == of.circuit.cases.count
    assert found.seconds > 0
    judged = truth.judge(of.circuit, of.run, truth.single_lists(of, 30, 1))
    assert (judged.cases, judged.wrong) == (30, 0)
    assert judged.near < 3
    assert judged.worst < 1e-9


def test_singles_by_the_tables_of_pairs_end_where_the_hand_method_ends(of):
    found = pairs.singles(of)
    assert found.count == of.circuit.cases.count - 1
    assert found.seconds > 0
    judged = truth.judge_pairs(of.circuit, of.run, truth.with_nobody(of, 60, 1))
    assert (judged.cases, judged.wrong) == (60, 0)
    assert judged.near < 6
    assert judged.worst < 1e-9


def test_the_judge_counts_an_end_state_that_is_wrong(of):
    circuit = of.circuit.within(np.arange(4))
    settled = circuit.settled(of.run)
    volts = show(circuit._bases, settled, truth.everywhere(circuit), slopes=False).mean
    changes = [of.changes(hypothesis) for hypothesis in range(4)]

    def found(states: np.ndarray) -> int:
        judged = truth.compared(circuit, of.run, changes, states, settled.steady, volts)
        return judged.wrong

    assert found(settled.states) == 0
    states = settled.states.copy()
    relay = circuit.net.state["K1", "contact"]
    states[2, relay] = 1 - states[2, relay]
    assert found(states) == 1


def test_pairs_are_measured_and_end_where_the_hand_method_ends(of):
    six = pairs.six_probes(of, 2000)
    assert six.count > 1000
    assert six.seconds > 0
    judged = truth.judge_pairs(of.circuit, of.run, truth.pair_sample(of, 30, 1))
    assert (judged.cases, judged.wrong) == (30, 0)
    assert judged.worst < 1e-6


@pytest.mark.parametrize(("number", "seed"), [(3, 104), (4, 105), (7, 108)])
def test_what_is_rounding_beside_it_leaves_a_resistance_its_current(number: int, seed: int) -> None:
    """Machines on which a thing of nothing but rounding once took a second one's current away."""
    of = subject(machine(100 + 5 * number, seed))
    for name in ("on", "crank"):
        sample = truth.pair_sample(of, 41, number)
        judged = truth.judge_pairs(of.circuit, of.machine.situations[name], sample)
        assert (judged.cases, judged.wrong) == (41, 0)


def test_what_was_not_measured_is_said_so(of):
    size = bench.Size(of=of, singles=engine.singles(of), session=engine.session(of.machine.text))
    judged = truth.judge(of.circuit, of.run, truth.single_lists(of, 4, 1))
    size.single_error = size.pair_error = judged
    size.peak = {"session": 0.0, "returned": 0.0}
    text = page(bench.rows({100: size}, truth.Counted()), {100: size}, 1.0)
    for line in text.splitlines():
        if (
            line.startswith("| ngspice, a process")
            or "one round" in line
            or "| the same at 1500" in line
        ):
            assert "not measured" in line
        if "end states" in line and line.startswith("|"):
            assert "not measured" in line
