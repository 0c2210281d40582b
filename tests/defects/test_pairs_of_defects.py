"""Which pairs of defects are carried, what they weigh, and that they read like what they are."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book.situations import Lead, Situation
from backprobe.circuit.instruments import Tap, taps_of
from backprobe.circuit.pair_readings import show_pairs
from backprobe.circuit.pairs import settle_pairs
from backprobe.circuit.situated import driven_states
from backprobe.defects import pairs as carried
from backprobe.defects.model import RUBBED, TO_GROUND, Probe
from oracles.machines import machine

WHOLE = machine(100, seed=1)


@pytest.fixture(scope="module")
def circuit():
    return WHOLE.circuit


def some_pairs(circuit, count=120, seed=0):
    found = carried.all_pairs(circuit)
    rng = np.random.default_rng(seed)
    return found.only(np.sort(rng.choice(len(found.first), count, replace=False)))


def test_no_pair_is_one_fault_twice(circuit):
    found = carried.all_pairs(circuit)
    defects, cases, net = circuit.defects, circuit.cases, circuit.net
    nodes = len(net.nodes) - 1
    branches = []
    for h in range(cases.count):
        at = circuit.ports.right_at[cases.ports[cases.start[h] : cases.start[h + 1]]]
        branches.append(set(at[at >= nodes].tolist()))
    for one, two in zip(found.first[::97], found.second[::97], strict=True):
        assert defects.atom_of[one] != defects.atom_of[two]
        assert not branches[one] & branches[two]
    assert 0 not in found.first
    assert 0 not in found.second
    seen = {tuple(sorted(pair)) for pair in zip(found.first.tolist(), found.second.tolist())}
    assert len(seen) == len(found.first)


def test_independent_pairs_weigh_what_two_poisson_streams_give(circuit):
    """Simulated: faults of two atoms come at their rates over a long time and stand for STANDING
    years each; counted is how often the second comes while the first stands."""
    defects = circuit.defects
    rng = np.random.default_rng(4)
    a, b, years = 3.0, 5.0, 20_000.0
    first, second = (np.sort(rng.uniform(0, years, rng.poisson(r * years))) for r in (a, b))
    together = 0
    for one, two in ((first, second), (second, first)):
        at = np.searchsorted(two, one)
        together += int((np.searchsorted(two, one + carried.STANDING) - at).sum())
    simulated = together / years
    fake = [1000.0 * a, 1000.0 * b]  # per 1000 machine years
    formula = 2 * fake[0] * fake[1] * carried.STANDING / 1000.0 / 1000.0
    assert simulated == pytest.approx(formula, rel=0.03)
    hypotheses = np.flatnonzero(defects.weight < 1)[:2]
    rates = [defects.atoms[defects.atom_of[h]].rate * defects.weight[h] for h in hypotheses]
    got = carried.independent_rate(defects, hypotheses[:1], hypotheses[1:])
    assert got == pytest.approx([2 * rates[0] * rates[1] * carried.STANDING / 1000.0])


def test_about_one_job_in_twenty_is_a_double_fault(circuit):
    """Judgement: two faults at once in 4.5 of 100 jobs, on a machine of 600 to 750 faults per
    1000 years; the share follows the sum of rates."""
    total = sum(atom.rate for atom in circuit.defects.atoms)
    found = carried.all_pairs(circuit)
    alone = found.rate[~found.one_cause].sum()
    # The square of the sum holds every atom with itself and pairs on one branch too.
    assert alone == pytest.approx(total**2 * carried.STANDING / 1000, rel=0.15)
    assert alone / total * (600 / total) == pytest.approx(0.045, rel=0.15)


def test_pairs_of_one_cause_are_two_wires_of_one_section(circuit):
    found = carried.pairs_of_one_cause(circuit)
    defects = circuit.defects
    kinds = set()
    for one, two in zip(found.first, found.second, strict=True):
        a, b = (defects.atoms[defects.atom_of[h]] for h in (one, two))
        assert set(a.owners) & set(b.owners)
        kinds.add(frozenset((a.kind, b.kind)))
    assert kinds == {
        frozenset((TO_GROUND,)),
        frozenset(("open",)),
        frozenset((TO_GROUND, "open")),
        frozenset((RUBBED, "open")),
    }
    assert found.one_cause.mean() > 0.5


def test_a_second_wire_is_hurt_as_often_as_the_share_says(circuit):
    """Summed over its neighbours, a wire's damage brings a second one SECOND_WIRE times as often
    as it comes, to ground or open as chafed wires end up (.65 and .20 of them)."""
    defects = circuit.defects
    found = carried.pairs_of_one_cause(circuit)
    common = found.rate - carried.independent_rate(defects, found.first, found.second)
    kinds = np.array([defects.atoms[n].kind for n in defects.atom_of])
    both = (kinds[found.first] != RUBBED) & (kinds[found.second] != RUBBED)
    hurt = sum(
        atom.rate
        for atom in defects.atoms
        if atom.kind in (TO_GROUND, "open")
        and len(atom.owners) == 2
        and sum(other.owners[1:] == atom.owners[1:] and other.owners != atom.owners
                for other in defects.atoms if other.kind == "open") > 0
    )  # fmt: skip
    assert common[both].sum() == pytest.approx(hurt * carried.SECOND_WIRE * 0.85, rel=0.1)


def test_carried_pairs_read_as_the_kernel_and_as_both_defects(circuit):
    picked = some_pairs(circuit)
    joined = carried.with_pairs(circuit, picked)
    situation = WHOLE.situations["run"]
    nodes = [name for name in circuit.net.nodes if name.endswith(".1")][:6]
    seen = joined.seen(situation, [Probe(kind="volts", p=node) for node in nodes])
    alone = circuit.seen(situation, [Probe(kind="volts", p=node) for node in nodes])
    count = circuit.cases.count
    assert seen.mean[:count] == pytest.approx(alone.mean, abs=1e-9)
    settled = settle_pairs(
        circuit._bases, circuit._limits, circuit.ports, circuit.cases,
        (picked.first, picked.second),
        alone=[(driven_states(circuit.net, situation), np.arange(count))],
    )  # fmt: skip
    ground = circuit.net.nodes[0]
    places = [Tap(quantity="volts", p=node, n=ground, meter_ohm=10e6) for node in nodes]
    shown = show_pairs(settled, taps_of(circuit.net, places), battery=True)
    calm = settled.steady
    # Pairs of one atom pair stand together in the same order they were asked in.
    assert np.abs(seen.mean[count:].T - shown.mean)[:, calm].max() < 1e-6
    assert np.abs(seen.slope[count:, :, 0].T - shown.battery)[:, calm].max() < 1e-6
    assert np.array_equal(seen.settled[count:], calm)


def test_carried_pairs_name_both_repairs(circuit):
    picked = some_pairs(circuit, 40)
    joined = carried.with_pairs(circuit, picked)
    defects = joined.defects
    groups = {group.key: group for group in defects.groups}
    for number in range(len(picked.first)):
        atom = defects.atoms[defects.atom_of[circuit.cases.count + number]]
        one, two = sorted(
            circuit.defects.atom_of[h] for h in (picked.first[number], picked.second[number])
        )
        a, b = circuit.defects.atoms[one], circuit.defects.atoms[two]
        assert atom.words == f"{a.words}, and {b.words}"
        words = groups[atom.group].words
        assert words in (f"{a.group}, and {b.group}", a.group)
        assert atom.rate > 0
    weights = np.bincount(defects.atom_of, weights=defects.weight)
    assert weights == pytest.approx(1.0)


def test_screening_keeps_the_true_pair(circuit):
    """Readings of a pair that is there, six probes in a situation, 50 mV of spread: the true pair
    is among the best thousandth."""
    found = carried.all_pairs(circuit)
    situation = WHOLE.situations["run"]
    nodes = [name for name in circuit.net.nodes if name.endswith((".1", ".2"))]
    probes = [Probe(kind="volts", p=node) for node in nodes]
    alone = circuit.seen(situation, probes).mean
    rng = np.random.default_rng(8)
    moved = np.abs(alone - alone[0]).max(axis=1) > 0.5
    strong = np.flatnonzero(moved[found.first] & moved[found.second])
    kept = 0
    for number in rng.choice(strong, 12, replace=False):
        truth = found.only(np.array([number]))
        read = carried.with_pairs(circuit, truth).seen(situation, probes).mean[-1]
        fit = -0.5 * np.minimum(((alone - read) / 0.05) ** 2, 50.0)
        best, score = carried.screened(
            found, fit, (alone - alone[0]) / 0.05, keep=len(found.first) // 100
        )
        assert (np.diff(score) <= 0).all()
        kept += int(((best.first == truth.first) & (best.second == truth.second)).any())
    print(f"the true pair is kept in {kept} of 12")
    assert kept >= 9


def test_pairs_remember_what_they_blew_and_meet_fitted_leads(circuit):
    """The kernel for all pairs against carried pairs, by the plain path: running, then key on
    again with a fuse renewed, a lamp fitted."""
    picked = some_pairs(circuit, 150, seed=3)
    joined = carried.with_pairs(circuit, picked)
    nodes = [name for name in circuit.net.nodes if name.endswith(".1")][:4]
    run = WHOLE.situations["run"]
    fuse = next(s.owner for s in circuit.net.states if "blown" in s.words)
    later = Situation(
        key="on",
        on=run.on,
        after=run,
        renewed=frozenset({fuse}),
        fitted=(Lead(kind="lamp 21 W", p=nodes[0], n="battery minus"),),
    )
    probes = [Probe(kind="volts", p=node) for node in nodes]
    plain = joined.seen(later, probes)
    settled = circuit.settled_pairs((picked.first, picked.second), later)
    count = circuit.cases.count
    assert np.array_equal(settled.states(), joined.settled(later).states[count:])
    blown = [k for k, s in enumerate(circuit.net.states) if "blown" in s.words]
    assert settled.states()[:, blown].any()
    calm = settled.steady
    shown = circuit.shown_pairs(settled, probes)
    assert np.abs(plain.mean[count:].T - shown.mean)[:, calm].max() < 1e-6
