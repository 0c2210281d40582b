"""Pairs of defects: end states and voltages against following each pair by hand, written out in
full and solved in extended precision (oracles.one_at_a_time, oracles.nodal)."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest

from backprobe.circuit.bases import Bases
from backprobe.circuit.instruments import Tap as Place
from backprobe.circuit.instruments import taps_of
from backprobe.circuit.limits import limits_of
from backprobe.circuit.pair_readings import show_pairs
from backprobe.circuit.pairs import settle_pairs
from backprobe.circuit.ports import Cases, Ports
from backprobe.circuit.situated import driven_states
from backprobe.kinds.records import Bridge, Series
from oracles import one_at_a_time
from oracles.decode import changes_of
from oracles.machines import machine as synthetic
from oracles.one_at_a_time import Tap
from oracles.small_machines import defects, machine, ports_of

NEAR = 1e-7
"""A move decided by less than this, V or A or share, may go either way in doubles."""


def branches(changes):
    """What two defects must not share to be a pair: a branch, or both nodes."""
    names = set()
    for change in changes:
        match change:
            case Tap():
                names |= {change.branch, change.to if change.to_t is not None else change.branch}
            case Bridge():
                names.add((change.p, change.n))
            case _:
                names.add(change.branch)
    return names


def drawn(events, count, rng, *, prefer=None):
    """Pairs of events without a common branch; `prefer` draws that many from among some."""
    pairs = set()
    while len(pairs) < count:
        pool = prefer if prefer and len(pairs) < count // 3 else range(len(events))
        one, two = (int(pool[int(k)]) for k in rng.integers(0, len(pool), 2))
        many = sum(len(events[h]) > 1 for h in (one, two)) > 1
        if one != two and not many and not branches(events[one]) & branches(events[two]):
            pairs.add((one, two))
    return np.array(sorted(pairs), np.int64)


def compared(net, events, ports, cases, pairs, start):
    bases = Bases(net)
    settled = settle_pairs(
        bases, limits_of(net), ports, cases, (pairs[:, 0], pairs[:, 1]),
        alone=[(start, np.arange(cases.count))],
    )  # fmt: skip
    ground = net.nodes[0]
    taps = taps_of(net, [Place(quantity="volts", p=node, n=ground) for node in net.nodes])
    shown = show_pairs(settled, taps).mean
    words_at = {at: net.states[k].words[start[k]] for at, k in net.state.items()}
    moved, near, errors = 0, 0, []
    states = settled.states()
    for number, (one, two) in enumerate(pairs):
        changes = (*events[one], *events[two])
        end = one_at_a_time.settle(net, words_at, changes)
        if end.margin < NEAR:
            near += 1
            continue
        assert settled.steady[number] == end.steady, changes
        if not end.steady:
            continue
        words = {at: net.states[k].words[states[number, k]] for at, k in net.state.items()}
        assert words == end.words, changes
        moved += words != words_at
        expected = np.array([end.volts[node] for node in net.nodes])
        errors.append(float(np.abs(shown[:, number] - expected).max()))
    print(
        f"{len(pairs)} pairs, {moved} move a state, {near} too near to call, "
        f"error worst {max(errors):.1e}, median {np.median(errors):.1e} V"
    )
    return moved, near, np.array(errors)


@pytest.mark.parametrize("seed", range(4))
def test_pairs_of_a_small_machine_end_where_the_hand_method_ends(seed):
    net, wires = machine(seed)
    events = defects(net, wires, seed)
    made, lists = [], []
    for changes in events:
        own = ports_of(net, changes)
        lists.append(range(len(made), len(made) + len(own)))
        made += own
    opens = [
        h for h, changes in enumerate(events)
        if len(changes) == 1 and isinstance(changes[0], Series) and changes[0].ohm == inf
    ]  # fmt: skip
    pairs = drawn(events, 150, np.random.default_rng(seed), prefer=opens)
    moved, near, errors = compared(net, events, Ports.of(made), Cases.of(lists), pairs, net.resting)
    assert moved > 40
    assert near < 50  # opens leave diodes without any current: at their limit
    assert errors.max() < 2e-7


@pytest.mark.parametrize("situation", ["run", "crank"])
def test_pairs_of_a_synthetic_machine_end_where_the_hand_method_ends(situation):
    whole = synthetic(100, seed=2)
    circuit = whole.circuit
    events = [
        tuple(changes_of(circuit.net, circuit.ports, circuit.cases, h))
        for h in range(circuit.cases.count)
    ]
    rng = np.random.default_rng(5)
    opens = [
        h for h, changes in enumerate(events)
        if len(changes) == 1 and isinstance(changes[0], Series) and changes[0].ohm == inf
    ]  # fmt: skip
    pairs = drawn(events, 80, rng, prefer=opens)
    start = driven_states(circuit.net, whole.situations[situation])
    moved, near, errors = compared(circuit.net, events, circuit.ports, circuit.cases, pairs, start)
    assert moved > 20
    assert near < 15
    assert errors.max() < 2e-7
