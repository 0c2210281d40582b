"""Two faults of which neither alone shows: two grounds of one consumer, either of them enough."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.pairs import all_pairs
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Reading, Works
from backprobe.suspects import verdict
from backprobe.suspects.together import failing_in, heaviest, only_together
from backprobe.suspects.verdict import judge_with_pairs

ON = Situation(key="on")
TEXT = """
machine press, 12 V
G1: battery
F1: fuse 10 A, at fuse box
K1: relay with resistor, at fuse box
GP1: ground stud, on frame
GP2: ground stud, on engine
lamp 1: lamp 21 W, at lamp bar
SP1: splice
SP2: splice
G1.+ > F1 > SP2, 1.0 mm2, RD, wire 1a / 1b
SP2 > K1.86, 1.0 mm2, RD, wire 1c
SP2 > K1.30, 1.0 mm2, RD, wire 1d
K1.87 > lamp 1.1, 1.0 mm2, YE, wire 1e
lamp 1.2 > GP1, 1.0 mm2, BN, wire 6
K1.85 > SP1, 1.0 mm2, BN, wire 2
SP1 > GP1, 1.0 mm2, BN, wire 4
SP1 > GP2, 1.0 mm2, BN, wire 5
GP1 > G1.-, 16 mm2, BK, wire 3
GP2 > G1.-, 16 mm2, BK, wire 7
"""


def press() -> Circuit:
    book, problems = read_book(TEXT, "press")
    assert book is not None, problems
    return Circuit.of(book)


def volts(place: str, value: float) -> Reading:
    return Reading(id=place, p=place, value=value, visit=1, situation=ON)


JOB = fold(
    (
        Works(id="w", target="lamp 1", works=False, visit=1, situation=ON),
        volts("F1.2", 12.5),
        volts("K1.86", 12.5),
        volts("K1.85", 12.5),
        volts("SP1", 12.5),
    )
)


def halves(circuit: Circuit, *wires: str) -> list[int]:
    ids = [circuit.defects.atoms[number].id for number in circuit.defects.atom_of]
    return [next(n for n, name in enumerate(ids) if name.startswith(w)) for w in wires]


def test_two_grounds_that_are_both_bad_are_found_though_neither_alone_shows(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """By hand: the coil of K1 returns over SP1 and two ways to battery minus. 12.5 V at SP1, its feed
    whole, says that both are gone; with either alone the relay pulls in and SP1 reads millivolts."""
    circuit = press()
    found = judge_with_pairs(circuit, JOB)
    defects, lead = found.circuit.defects, found.verdict.suspects[0]
    row = int(np.argmax(found.belief.hypothesis))
    assert defects.halves is not None
    states = circuit.settled(ON).states
    assert (states[defects.halves[row]] == states[0]).all(), "either alone changes nothing"
    words = [defects.atoms[defects.atom_of[h]].words for h in defects.halves[row]]
    assert sorted("wire 3" in one for one in words) == [False, True], words
    assert sorted("wire 7" in one for one in words) == [False, True], words
    assert lead.chance > 0.5
    assert found.verdict.not_in_book < 0.1

    monkeypatch.setattr(verdict, "only_together", lambda *_: None)
    without = judge_with_pairs(circuit, JOB).verdict
    assert without.not_in_book > 0.2
    assert without.suspects[0].chance < 0.5


def test_what_is_found_are_the_pairs_that_end_as_neither_half_does() -> None:
    """Every pair of the press, its states compared one by one."""
    circuit = press()
    where = failing_in(JOB)
    assert where == ON
    found = only_together(circuit, ON)
    assert found is not None
    pairs = all_pairs(circuit, heaviest(circuit))
    both = circuit.settled_pairs((pairs.first, pairs.second), ON)
    alone = circuit.settled(ON).states
    states = both.states()
    odd = {
        frozenset((int(a), int(b)))
        for n, (a, b) in enumerate(zip(pairs.first, pairs.second, strict=True))
        if both.steady[n] and np.any((states[n] != alone[a]) & (states[n] != alone[b]))
    }
    listed = {frozenset((int(a), int(b))) for a, b in zip(found.first, found.second, strict=True)}
    assert len(odd) > 3
    assert listed == odd
    assert frozenset(halves(circuit, "wire 4/open", "wire 5/open")) in odd
