"""Laws that pairs of defects must keep, on small machines drawn at random."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backprobe.circuit.bases import Bases
from backprobe.circuit.instruments import Tap as Place
from backprobe.circuit.instruments import show, taps_of
from backprobe.circuit.limits import limits_of
from backprobe.circuit.net import Element, build_net
from backprobe.circuit.pair_readings import read_by, read_pairs, show_pairs
from backprobe.circuit.pairs import settle_pairs
from backprobe.circuit.ports import Cases, Port, Ports
from backprobe.circuit.settle import settle
from oracles.small_machines import defects, machine, ports_of


@cache
def small(seed):
    """A machine, its single-port defects and a few events of many pins."""
    net, wires = machine(seed)
    events = defects(net, wires, seed)
    made, lists = [], []
    for changes in events:
        own = ports_of(net, changes)
        lists.append(tuple(range(len(made), len(made) + len(own))))
        made += own
    return net, events, Ports.of(made), lists


def apart(net, ports, lists, pairs):
    """Pairs of different branches and vectors."""
    nodes = len(net.nodes) - 1

    def touched(h):
        at = ports.right_at[list(lists[h])]
        shapes = {
            (*ports.left_at[p], *ports.left[p], *ports.right_at[p], *ports.right[p])
            for p in lists[h]
        }
        return set(at[at >= nodes].tolist()) | shapes

    return [
        (a, b) for a, b in pairs
        if a != b and not touched(a) & touched(b)
    ]  # fmt: skip


def ended(net, ports, lists, pairs, start=None):
    first, second = np.array(pairs, np.int64).T
    begin = net.resting if start is None else start
    return settle_pairs(
        Bases(net), limits_of(net), ports, Cases.of(lists), (first, second),
        alone=[(begin, np.arange(len(lists)))],
    )  # fmt: skip


def volts(net, settled, meter=10e6):
    ground = net.nodes[0]
    places = [Place(quantity="volts", p=n, n=ground, meter_ohm=meter) for n in net.nodes]
    return show_pairs(settled, taps_of(net, places))


def drawn(seed, count=60):
    net, events, ports, lists = small(seed)
    rng = np.random.default_rng(seed + 100)
    pairs = apart(net, ports, lists, rng.integers(0, len(events), (count, 2)).tolist())
    return net, ports, lists, pairs


@settings(max_examples=6, deadline=None)
@given(seed=st.integers(0, 30))
def test_the_order_of_a_pair_does_not_matter(seed):
    net, ports, lists, pairs = drawn(seed)
    one = ended(net, ports, lists, pairs)
    two = ended(net, ports, lists, [(b, a) for a, b in pairs])
    assert np.array_equal(one.states(), two.states())
    assert np.array_equal(one.steady, two.steady)
    gap = np.abs(volts(net, one).mean - volts(net, two).mean)[:, one.steady]
    assert gap.max() < 1e-6


@settings(max_examples=6, deadline=None)
@given(seed=st.integers(0, 30), order=st.randoms(use_true_random=False))
def test_renumbering_hypotheses_and_pairs_changes_nothing(seed, order):
    net, ports, lists, pairs = drawn(seed)
    new = list(range(1, len(lists)))
    order.shuffle(new)
    new = [0, *new]  # the healthy one stays first
    back = {old: k for k, old in enumerate(new)}
    mixed = list(range(len(pairs)))
    order.shuffle(mixed)
    one = ended(net, ports, lists, pairs)
    two = ended(
        net, ports, [lists[h] for h in new],
        [(back[pairs[k][0]], back[pairs[k][1]]) for k in mixed],
    )  # fmt: skip
    assert np.array_equal(one.states()[mixed], two.states())
    gap = np.abs(volts(net, one).mean[:, mixed] - volts(net, two).mean)[:, two.steady]
    assert gap.max() < 1e-6


@settings(max_examples=6, deadline=None)
@given(seed=st.integers(0, 30))
def test_a_partner_without_severity_leaves_the_single(seed):
    """No series resistance (1e-18 ohm), no bridge (1e18 ohm; leaks are 1e9): the other half."""
    net, _, ports, lists = small(seed)
    here = ((net.current("wire 3"), 1.0),)
    ends = ((net.voltage("plus"), 1.0), (net.voltage("frame"), -1.0))
    none = [
        Port(left=(), right=here, alpha=1.0),
        Port(left=(), right=ends, alpha=1.0),
        Port(left=ends, right=ends, alpha=1e18),
        Port(left=here, right=here, alpha=-1e18),
    ]
    more = ports.plus(Ports.of(none))
    numbers = [*lists, *[(ports.count + k,) for k in range(len(none))]]
    pairs = apart(
        net, more, numbers,
        [(h, len(lists) + h % len(none)) for h in range(1, len(lists))],
    )  # fmt: skip
    settled = ended(net, more, numbers, pairs)
    bases = Bases(net)
    alone = settle(
        bases, limits_of(net), ports, Cases.of(lists), [(net.resting, np.arange(len(lists)))]
    )
    which = np.array([h for h, _ in pairs])
    assert np.array_equal(settled.states(), alone.states[which])
    places = [Place(quantity="volts", p=n, n="0", meter_ohm=10e6) for n in net.nodes]
    single = show(bases, alone, taps_of(net, places), slopes=False)
    calm = settled.steady
    pair = volts(net, settled)
    assert np.abs(pair.mean - single.mean[which].T)[:, calm].max() < 1e-6
    load = 1.0 + single.source[which].T
    assert (np.abs(pair.source - single.source[which].T) / load)[:, calm].max() < 1e-3


def test_defects_of_circuits_far_apart_superpose():
    """Two lamps on a stiff battery: what one defect does to the lamps, and the other, adds up."""
    elements = [Element(name="battery/cells", p="plus", n="0", ohm=1e-7, emf=12.6, battery=True)]
    for k in range(2):
        elements += [
            Element(name=f"wire {k}", p="plus", n=f"a{k}", ohm=0.05),
            Element(name=f"lamp {k}", p=f"a{k}", n=f"b{k}", ohm=7.0),
            Element(name=f"return {k}", p=f"b{k}", n="0", ohm=0.03),
        ]
    net = build_net(elements, reference="0")
    ports = []
    for k in range(2):
        for name in (f"wire {k}", f"return {k}"):
            here = ((net.current(name), 1.0),)
            ports += [Port(left=here, right=here, alpha=-1.0 / ohm) for ohm in (0.5, 20.0)]
    lists = [(), *[(k,) for k in range(len(ports))]]
    pairs = [(one, two) for one in range(1, 5) for two in range(5, 9)]
    pairs += [(0, h) for h in range(1, 9)]
    seen = volts(net, ended(net, Ports.of(ports), lists, pairs), meter=inf).mean
    single = {h: seen[:, 16 + h - 1] for h in range(1, 9)}
    healthy = volts(net, ended(net, Ports.of(ports), lists, [(0, 0)]), meter=inf).mean[:, 0]
    for number, (one, two) in enumerate(pairs[:16]):
        together = single[one] + single[two] - healthy
        assert np.abs(seen[:, number] - together).max() < 1e-5
        # Ohm's law beside it: 12.6 V over 7.08 ohm and what was added.
        added = [0.5, 20.0]
        amps = 12.6 / (7.08 + added[(one - 1) % 2])
        lamp = seen[net.node["a0"], number] - seen[net.node["b0"], number]
        assert lamp == pytest.approx(7.0 * amps, abs=1e-5)


def test_two_opens_in_one_path_leave_the_piece_between_dead():
    """A piece cut off at both ends hangs on its leak alone: 0 V, at any resistance around it."""
    for ohm in (1e-4, 1e-2, 1.0):
        chain = [f"n{k}" for k in range(6)]
        elements = [Element(name="battery/cells", p="plus", n="0", ohm=1e-3, emf=12.6)]
        for k, (p, n) in enumerate(zip(["plus", *chain], [*chain, "0"], strict=True)):
            elements.append(Element(name=f"wire {k}", p=p, n=n, ohm=1.0 if k == 6 else ohm))
        net = build_net(elements, reference="0")
        places = [((net.current(f"wire {k}"), 1.0),) for k in range(6)]
        ports = [Port(left=here, right=here, alpha=0.0) for here in places]
        lists = [(), *[(k,) for k in range(6)]]
        pairs = [(a, b) for a in range(1, 7) for b in range(a + 1, 7)]
        seen = volts(net, ended(net, Ports.of(ports), lists, pairs), meter=inf).mean
        for number, (a, b) in enumerate(pairs):
            for k in range(6):
                place = seen[net.node[f"n{k}"], number]
                # n0 is behind wire 0: fed as long as it stands before the first open.
                expected = 12.6 if k < a - 1 else 0.0
                assert place == pytest.approx(expected, abs=3e-7), (ohm, a, b, k)


def test_every_pair_is_read_once_and_two_meters_share_a_pass():
    net, ports, lists, pairs = drawn(3, 200)
    settled = ended(net, ports, lists, pairs)
    places = [Place(quantity="volts", p=n, n="0", meter_ohm=10e6) for n in net.nodes]
    taps = taps_of(net, places)
    lamp = replace(taps, meter=np.full(len(net.nodes), 144 / 21))
    seen, again = np.zeros(len(pairs), int), np.zeros(len(pairs), int)
    whole, light = show_pairs(settled, lamp).mean, show_pairs(settled, taps).mean
    for block in read_pairs(settled, taps):
        seen[block.pairs] += 1
        assert np.array_equal(block.shown(lamp).T, whole[:, block.pairs])
    for some, (first, second) in read_by(settled, taps, lamp):
        again[some] += 1
        assert np.abs(first.T - light[:, some]).max() < 1e-12
        assert np.abs(second.T - whole[:, some]).max() < 1e-12
    assert (seen == 1).all()
    assert (again == 1).all()


def test_a_pair_that_starts_elsewhere_ends_as_if_alone_there():
    """What was blown before stays blown: pairs told to start with a blown fuse."""
    net, ports, lists, pairs = drawn(1, 120)
    blown = net.resting.copy()
    fuse = next(k for k, s in enumerate(net.states) if s.owner == "F0")
    blown[fuse] = net.states[fuse].words.index("blown")
    first, second = np.array(pairs, np.int64).T
    some = np.arange(0, len(pairs), 2)
    settled = settle_pairs(
        Bases(net), limits_of(net), ports, Cases.of(lists), (first, second),
        alone=[(net.resting, np.arange(len(lists)))],
        together=[(blown, some)],
    )  # fmt: skip
    plain = ended(net, ports, lists, pairs)
    other = ended(net, ports, lists, pairs, start=blown)
    expected = plain.states()
    expected[some] = other.states()[some]
    assert np.array_equal(settled.states(), expected)
    assert (settled.states()[some, fuse] == blown[fuse]).all()


def test_two_events_of_many_pins_end_as_all_their_ports_together():
    net, _, ports, lists = small(0)
    many = [h for h, own in enumerate(lists) if len(own) > 1]
    pairs = apart(net, ports, lists, [(a, b) for a in many for b in many if a < b])
    both = [tuple(lists[a]) + tuple(lists[b]) for a, b in pairs]
    settled = ended(net, ports, lists, pairs)
    bases = Bases(net)
    start = [(net.resting, np.arange(len(both)))]
    alone = settle(bases, limits_of(net), ports, Cases.of(both), start)
    assert len(pairs) > 0
    assert (settled.states() != net.resting).any()
    assert np.array_equal(settled.states(), alone.states)
    assert np.array_equal(settled.steady, alone.steady)
    places = [Place(quantity="volts", p=n, n="0") for n in net.nodes]
    single = show(bases, alone, taps_of(net, places), slopes=False).mean
    gap = np.abs(volts(net, settled, meter=inf).mean - single.T)[:, settled.steady]
    assert gap.max() < 1e-6


def test_no_pairs_and_no_ports_are_no_trouble():
    net, _, ports, lists = small(2)
    none = np.zeros(0, np.int64)
    empty = settle_pairs(
        Bases(net), limits_of(net), ports, Cases.of(lists), (none, none),
        alone=[(net.resting, np.arange(len(lists)))],
    )  # fmt: skip
    assert empty.count == 0
    assert empty.states().shape == (0, len(net.states))
    assert volts(net, empty).mean.shape == (len(net.nodes), 0)
    bare = ended(net, Ports.of([]), [(), ()], [(0, 1)])
    alone = ended(net, ports, lists, [(0, 0)])
    assert np.array_equal(bare.states(), alone.states())
    assert np.abs(volts(net, bare).mean - volts(net, alone).mean).max() < 1e-9
