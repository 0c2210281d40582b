"""Many hypotheses brought to rest together, against each by itself."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.circuit.step import CROWD
from backprobe.defects.predict import Circuit
from backprobe.shop.outlook import usual_life
from oracles.machines import machine


@pytest.mark.parametrize("seed", [1, 3])
def test_a_crowd_comes_to_rest_as_each_of_it_does_alone(seed):
    """In a crowd it is told by a bound who moves as the healthy machine does; alone nobody is."""
    book = machine(130, seed).book
    whole = Circuit.of(book)
    rng = np.random.default_rng(seed)
    some = np.sort(rng.choice(np.arange(1, whole.cases.count), 400, replace=False))
    for situation in usual_life(book):
        if situation.after is not None:
            continue
        crowd = whole.settled(situation)
        _, sizes = np.unique(crowd.states, axis=0, return_counts=True)
        assert sizes.max() >= 4 * CROWD
        moved = 0
        for part in np.split(some, 8):
            alone = Circuit.of(book).within(np.append(0, part)).settled(situation)
            assert (alone.states[1:] == crowd.states[part]).all()
            assert (alone.steady[1:] == crowd.steady[part]).all()
            moved += int((alone.states[1:] != crowd.states[0]).any(axis=1).sum())
        assert moved, "some of them end otherwise than the healthy machine"
