"""Laws every network obeys, on small random ones, through the engine; and numpy's dense solve."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.circuit.net import GMIN, Element
from backprobe.kinds.records import Bridge, Lift, Series
from oracles import nodal
from oracles.bench import Bench, battery, opened, resistor
from oracles.one_at_a_time import key_off, written_out

OHMS = st.floats(-3, 5).map(lambda power: 10.0**power)


@st.composite
def networks(draw: st.DrawFn) -> tuple[Element, ...]:
    """A battery, a tree of resistors that reaches every node, and a few resistors across."""
    count = draw(st.integers(2, 8))
    elements = [battery("0", "1", draw(st.floats(1, 28)), draw(st.floats(1e-3, 0.1)))]
    for node in range(2, count + 1):
        other = draw(st.integers(0, node - 1))
        elements.append(resistor(f"tree {node}", str(other), str(node), draw(OHMS)))
    for number in range(draw(st.integers(1, 8))):
        p, n = draw(st.integers(0, count)), draw(st.integers(0, count))
        if p != n:
            elements.append(resistor(f"across {number}", str(p), str(n), draw(OHMS)))
    return tuple(elements)


def all_volts(bench: Bench, *changes: Series | Bridge | Lift) -> np.ndarray:
    return np.array([bench.volts(node, "0", *changes) for node in sorted(bench.net.nodes)])


@given(networks())
def test_healthy_networks_equal_numpys_dense_solve(elements):
    """Conductance matrix by hand and numpy.linalg.solve: every node to 1e-8 V."""
    bench = Bench(*elements)
    nodes = [node for node in bench.net.nodes if node != "0"]
    matrix, right = GMIN * np.eye(len(nodes)), np.zeros(len(nodes))
    for element in elements:
        ends = np.array([(node == element.p) - (node == element.n) for node in nodes], float)
        matrix += np.outer(ends, ends) / element.ohm
        right += ends * element.emf / element.ohm
    expected = np.linalg.solve(matrix, right)
    assert [bench.volts(node) for node in nodes] == pytest.approx(expected, abs=1e-8)


@given(networks(), st.data())
def test_a_changed_network_equals_the_network_built_changed(elements, data):
    """One port on the healthy factorisation, against dense analysis of the rebuilt circuit."""
    bench = Bench(*elements)
    branch = data.draw(st.sampled_from(elements)).name
    p, n = data.draw(st.permutations(bench.net.nodes))[:2]
    change = data.draw(
        st.sampled_from(
            [
                opened(branch),
                Series(branch=branch, ohm=data.draw(OHMS)),
                Bridge(p=p, n=n, ohm=data.draw(OHMS)),
                Bridge(p=p, n=n, ohm=1.0, emf=data.draw(st.floats(-6, 6))),
                Lift(branch=branch, emf=data.draw(st.floats(-6, 6))),
            ]
        )
    )
    expected = nodal.solve(written_out(bench.net, key_off(bench.net), [change])).volts
    found = {node: bench.volts(node, "0", change) for node in bench.net.nodes}
    assert found == pytest.approx(expected, abs=2e-8)


@given(networks(), st.data())
def test_two_changes_at_once_equal_the_network_built_changed(elements, data):
    bench = Bench(*elements)
    first = data.draw(st.sampled_from(elements)).name
    second = data.draw(st.sampled_from([e.name for e in elements if e.name != first] or [""]))
    p, n = data.draw(st.permutations(bench.net.nodes))[:2]
    changes = [opened(first), Bridge(p=p, n=n, ohm=data.draw(OHMS))]
    if second and data.draw(st.booleans()):
        changes[1] = opened(second)
    expected = nodal.solve(written_out(bench.net, key_off(bench.net), changes)).volts
    found = {node: bench.volts(node, "0", *changes) for node in bench.net.nodes}
    # Two opens that cut a node off cancel in a 2 x 2 matrix: 2e-6 V was measured.
    assert found == pytest.approx(expected, abs=1e-5)


@given(networks())
def test_currents_at_every_node_add_up_to_nothing(elements):
    """Kirchhoff's current law, counting the leak of each node."""
    bench = Bench(*elements)
    for node in bench.net.nodes:
        if node == "0":
            continue
        leaving = GMIN * bench.volts(node)
        scale = 1e-12
        for element in elements:
            amps = bench.amps(element.name)
            leaving += amps * ((element.p == node) - (element.n == node))
            scale += abs(amps) * (node in (element.p, element.n))
        assert abs(leaving) < 1e-9 * scale + 1e-10


@given(networks(), st.data())
def test_reciprocity_of_volts_here_per_amp_there(elements, data):
    """Without controlled elements the inverse is symmetric: the volts at b that a source at a
    makes equal those at a that the same source at b makes (reciprocity, H. A. Lorentz 1896)."""
    bench = Bench(*elements)
    nodes = [bench.net.voltage(node) for node in bench.net.nodes if node != "0"]
    a, b = data.draw(st.sampled_from(nodes)), data.draw(st.sampled_from(nodes))
    columns, place = bench.base.columns(np.array([a, b]))
    scale = max(columns[a, place[a]], columns[b, place[b]])
    assert columns[b, place[a]] == pytest.approx(columns[a, place[b]], abs=1e-9 * scale)


def test_a_controlled_element_breaks_reciprocity():
    """The law above can fail: a regulator senses a node it takes nothing from."""
    bench = Bench(
        battery("0", "1", 12.0, 0.1),
        resistor("R1", "1", "2", 10.0),
        Element(name="G", p="2", n="0", ohm=5.0, row=(("1", 0.5),)),
    )
    one, two = bench.net.voltage("1"), bench.net.voltage("2")
    columns, place = bench.base.columns(np.array([one, two]))
    assert abs(columns[two, place[one]] - columns[one, place[two]]) > 0.01


@given(networks(), st.data())
def test_zero_severity_is_healthy(elements, data):
    """No added resistance, a bridge of nothing, no added volts: nothing changes."""
    bench = Bench(*elements)
    branch = data.draw(st.sampled_from(elements)).name
    p, n = data.draw(st.permutations(bench.net.nodes))[:2]
    healthy = all_volts(bench)
    assert all_volts(bench, Series(branch=branch, ohm=1e-15)) == pytest.approx(healthy, abs=1e-9)
    assert all_volts(bench, Bridge(p=p, n=n, ohm=1e18)) == pytest.approx(healthy, abs=1e-9)
    assert all_volts(bench, Lift(branch=branch, emf=0.0)) == pytest.approx(healthy, abs=1e-12)


@given(networks(), st.randoms(use_true_random=False))
def test_relabelling_and_reordering_changes_nothing(elements, random):
    names = {e.p: f"pin {k}" for k, e in enumerate(elements)} | {"0": "0"}
    names |= {e.n: f"way {k}" for k, e in enumerate(elements) if e.n != "0"}
    other = [replace(e, name=f"the {e.name}", p=names[e.p], n=names[e.n]) for e in elements]
    random.shuffle(other)
    bench, renamed = Bench(*elements), Bench(*other)
    for node in bench.net.nodes:
        assert renamed.volts(names[node]) == pytest.approx(bench.volts(node), abs=1e-9)


@given(networks(), st.floats(-6, 6), st.floats(-6, 6), st.data())
def test_superposition_of_two_sources(elements, first, second, data):
    """What two added sources do together is the sum of what each does alone."""
    bench = Bench(*elements)
    one, two = data.draw(st.sampled_from(elements)).name, data.draw(st.sampled_from(elements)).name
    healthy = all_volts(bench)
    alone = [all_volts(bench, Lift(branch=b, emf=e)) for b, e in ((one, first), (two, second))]
    both = all_volts(bench, Lift(branch=one, emf=first), Lift(branch=two, emf=second))
    assert both - healthy == pytest.approx(sum(alone) - 2 * healthy, abs=1e-8)


@given(networks(), st.data())
def test_splitting_a_wire_in_two_halves_changes_no_other_reading(elements, data):
    bench = Bench(*elements)
    wire = data.draw(st.sampled_from([e for e in elements if not e.emf]))
    halves = [
        replace(wire, name="first half", n="middle", ohm=wire.ohm / 2),
        replace(wire, name="second half", p="middle", ohm=wire.ohm / 2),
    ]
    split = Bench(*[e for e in elements if e is not wire], *halves)
    for node in bench.net.nodes:
        # The middle leaks like any node: at most 28 V / 1 GOhm through the circuit's own ohms.
        assert split.volts(node) == pytest.approx(bench.volts(node), abs=28e-9 * 1e5 * 10)
    middle = (bench.volts(wire.p) + bench.volts(wire.n)) / 2
    assert split.volts("middle") == pytest.approx(middle, abs=28e-9 * 1e5 * 10)


@pytest.mark.parametrize("count", [1, 2, 5, 40])
def test_opens_in_series_leave_every_pin_between_them_at_nothing(count):
    """A run of wires, `count` of them open: before the first the battery, after it 0 V."""
    run = [resistor(f"wire {k}", str(k + 1), str(k + 2), 0.01) for k in range(60)]
    bench = Bench(battery("0", "1", 12.6, 0.01), *run, resistor("lamp", "61", "0", 3.0))
    broken = [7 + k for k in range(count)]
    changes = tuple(opened(f"wire {k}") for k in broken)
    volts = np.array([bench.volts(str(node), "0", *changes) for node in range(1, 62)])
    assert volts[: broken[0] + 1] == pytest.approx(12.6, abs=1e-7)
    # Digits go where opens add up in one small matrix: 1.3e-6 V was measured with 40.
    tolerance = 1e-6 if count <= 5 else 1e-5
    assert volts[broken[0] + 1 :] == pytest.approx(0.0, abs=tolerance)
    assert bench.amps("lamp", *changes) == pytest.approx(0.0, abs=tolerance)
