"""Which pairs of defects are carried, what they weigh, and that they read like what they are."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from backprobe.book.situations import Lead, Situation
from backprobe.circuit.instruments import Tap, taps_of
from backprobe.circuit.pair_readings import show_pairs
from backprobe.circuit.pairs import settle_pairs
from backprobe.circuit.situated import driven_states
from backprobe.defects import pairs as carried
from backprobe.defects.at_meter import AtMeter
from backprobe.defects.model import RUBBED, TO_GROUND, Atom, Defects, Probe
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


def test_two_faults_hold_45_of_995_jobs_shared_as_two_draws_share_them():
    """By hand, no engine: draw two different atoms by their rates, in either order; a job has one
    fault 950 times, two 45 times."""
    rates = {"a": 3.0, "b": 5.0, "c": 0.5, "d": 11.5}
    total = sum(rates.values())
    drawn = {
        frozenset(pair): 2.0 * rates[pair[0]] * rates[pair[1]] / total**2
        for pair in combinations(rates, 2)
    }
    apart = sum(drawn.values())
    atoms = (
        Atom(id="healthy", words="", kind="", group="", owners=(), rate=0.0, source=""),
        *(
            Atom(id=n, words=n, kind="bad", group=n, owners=(n,), rate=r, source="made up")
            for n, r in rates.items()
        ),
    )
    one = np.ones(5)
    defects = Defects(atoms=atoms, groups=(), atom_of=np.arange(5), weight=one, ohm=one, spread=one)
    numbers = list(combinations(range(1, 5), 2))
    got = carried.independent_rate(defects, *np.array(numbers).T)
    wanted = [
        total * (0.045 / 0.95) * drawn[frozenset(atoms[k].id for k in pair)] / apart
        for pair in numbers
    ]
    assert got == pytest.approx(wanted)
    assert got.sum() / total == pytest.approx(0.045 / 0.95)


def test_independent_pairs_of_a_machine_hold_their_share(circuit):
    total = sum(atom.rate for atom in circuit.defects.atoms)
    found = carried.all_pairs(circuit)
    alone = carried.independent_rate(circuit.defects, found.first, found.second).sum()
    # Pairs on one branch, and of two events of many pins, are left out.
    assert 0.85 * 0.045 / 0.95 < alone / total < 0.045 / 0.95


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


def test_carried_pairs_name_both_and_start_with_the_shorter_repair(circuit):
    picked = some_pairs(circuit, 40)
    joined = carried.with_pairs(circuit, picked)
    defects = joined.defects
    mend = {group.key: group.mend_s for group in defects.groups}
    for number in range(len(picked.first)):
        row = circuit.cases.count + number
        atom = defects.atoms[defects.atom_of[row]]
        assert tuple(defects.halves[row]) == (picked.first[number], picked.second[number])
        two = [defects.atoms[defects.atom_of[h]] for h in defects.halves[row]]
        first, other = sorted(
            two, key=lambda a: (mend[a.group], a.words != atom.words[: len(a.words)])
        )
        assert atom.words == f"{first.words}, and {other.words}"
        assert atom.group == first.group
        assert atom.rate > 0
    weights = np.bincount(defects.atom_of, weights=defects.weight)
    assert weights == pytest.approx(1.0)


def test_two_faults_keep_their_halves_when_narrowed(circuit):
    picked = some_pairs(circuit, 3)
    joined = carried.with_pairs(circuit, picked)
    row = circuit.cases.count + 1
    rows = joined.defects.with_halves(np.array([0, row]))
    assert rows.tolist() == sorted({0, picked.first[1], picked.second[1], row})
    near = joined.within(rows).defects
    assert near.twofold.tolist() == [3]
    assert rows[near.halves[3]].tolist() == [picked.first[1], picked.second[1]]
    assert joined.within(np.array([0, row])).defects.twofold.size == 0


def test_pairs_remember_what_they_blew_and_meet_fitted_leads(circuit, monkeypatch):
    """The kernel for all pairs against carried pairs, by the plain path: running, then key on
    again with a fuse renewed, a lamp fitted; the network alone, not what a meter makes of it."""
    monkeypatch.setattr(AtMeter, "show", lambda *_: None)
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
