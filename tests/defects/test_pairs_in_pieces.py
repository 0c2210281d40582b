"""Pairs worked off in pieces, by several at once and in any order, end as one after the other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np
import pytest

from backprobe.book.situations import Situation
from backprobe.circuit import pair_pieces
from backprobe.circuit.crew import ALONE, Crew
from backprobe.circuit.pairs import SettledPairs
from backprobe.circuit.patterns import forget, no_patterns, numbers_of
from backprobe.defects.pairs import two_faults
from backprobe.defects.predict import Circuit
from backprobe.shop.crew import Threads
from backprobe.shop.outlook import usual_life
from backprobe.suspects.together import heaviest
from oracles.machines import machine

T = TypeVar("T")
MADE = machine(160, seed=3)
*_, CRANK, _, ALL_ON = usual_life(MADE.book)
LATER = replace(ALL_ON, after=CRANK)


class LastFirst:
    """Several at once, as if the last piece were always done first."""

    many = 3

    def __init__(self) -> None:
        self.most = 0

    def work(self, jobs: Sequence[Callable[[], T]]) -> list[T]:
        """What each job gives, in their order."""
        self.most = max(self.most, len(jobs))
        return [job() for job in reversed(jobs)][::-1]


def settled(crew: Crew, situation: Situation) -> SettledPairs:
    """Every pair of defects of the machine at rest."""
    circuit = Circuit.of(MADE.book, crew)
    return circuit.settled_pairs(two_faults(circuit, heaviest(circuit)), situation)


def same(one: SettledPairs, two: SettledPairs) -> bool:
    """Whether they are the same to the last bit, numbers of patterns and all."""
    names = ("first", "second", "patterns", "end", "steady")
    return all(np.array_equal(getattr(one, name), getattr(two, name)) for name in names)


@pytest.mark.parametrize("situation", [ALL_ON, LATER])
def test_pieces_end_as_one_after_the_other(
    situation: Situation, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pair_pieces, "LEAST", 4_000)
    plain, backwards = settled(ALONE, situation), LastFirst()
    assert len(plain.patterns) > 500
    assert same(plain, settled(backwards, situation))
    assert backwards.most > 6
    assert same(plain, settled(Threads(2), situation))
    assert same(plain, settled(Threads(5), situation))


def test_what_pieces_meet_anew_has_to_be_renumbered(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the numbers each piece gives on its own, pairs would end elsewhere."""
    monkeypatch.setattr(pair_pieces, "LEAST", 4_000)
    for kind in (pair_pieces.Following, pair_pieces.Looking):
        with monkeypatch.context() as broken:
            broken.setattr(kind, "renumber", lambda *_: None)
            assert not same(settled(ALONE, ALL_ON), settled(LastFirst(), ALL_ON)), kind


def test_few_pairs_are_not_cut_in_pieces() -> None:
    """Handing out costs more than it brings."""
    crew = LastFirst()
    circuit = Circuit.of(MADE.book, crew)
    few = two_faults(circuit, heaviest(circuit)[:40])
    plain = Circuit.of(MADE.book).settled_pairs(few, ALL_ON)
    assert same(plain, circuit.settled_pairs(few, ALL_ON))
    assert crew.most <= 3


def test_patterns_forgotten_leave_no_trace() -> None:
    rng = np.random.default_rng(5)
    states = np.unique(rng.integers(0, 4, (3000, 9), dtype=np.int8), axis=0)
    rng.shuffle(states)
    known, numbers = numbers_of(no_patterns(9), states[:700])
    before = known.slot.copy()
    assert numbers.tolist() == list(range(700))
    for more in (states[700:720], states[690:1000]):
        same_room, _ = numbers_of(known, more)
        assert same_room.slot is known.slot
        forget(known, 700)
        assert known.met[0] == 700
        assert np.array_equal(known.slot, before)
    grown, _ = numbers_of(known, states)
    assert grown.slot is not known.slot
    forget(grown, 700)
    _, again = numbers_of(grown, states[::-1])
    assert again[-700:].tolist() == numbers[::-1].tolist()
