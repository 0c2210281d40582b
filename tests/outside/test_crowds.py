"""Many hypotheses brought to rest together, against each by itself."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.circuit.instruments import NUMBERS, Tap, show, show_in_blocks, taps_of
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


def test_block_by_block_every_hypothesis_is_read_once_and_as_all_at_once():
    circuit = Circuit.of(machine(130, 2).book)
    settled = circuit.settled(usual_life(machine(130, 2).book)[0])
    nodes = circuit.net.nodes
    meters = (10e6, 144.0 / 21.0)
    places = [
        Tap(quantity="volts", p=n, n=nodes[0], meter_ohm=ohm) for ohm in meters for n in nodes
    ]
    taps = taps_of(circuit.net, places * (1 + NUMBERS // (circuit.cases.count * len(places))))
    whole = show(circuit._bases, settled, taps, slopes=False).mean
    times = np.zeros(circuit.cases.count, int)
    blocks = list(show_in_blocks(circuit._bases, settled, taps))
    assert len(blocks) > 1
    for rows, shown in blocks:
        times[rows] += 1
        assert shown == pytest.approx(whole[rows], abs=1e-9)
    assert (times == 1).all()
