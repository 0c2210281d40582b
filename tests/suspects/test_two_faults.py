"""Two faults at once: the algebra against enumeration by hand, and pairs found on a machine."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import Any

import numpy as np
import pytest

from backprobe.defects.model import Probe
from backprobe.defects.pairs import PairList, all_pairs, with_pairs
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, AnyFinding, Failing, Reading
from backprobe.suspects.model import Belief
from backprobe.suspects.odd import TWO
from backprobe.suspects.twofold import led, one_left
from backprobe.suspects.verdict import judge, judge_with_pairs
from backprobe.suspects.weigh import weigh
from oracles.machines import machine

YES, CURED = {True: 0.95 / 0.5, False: 0.03 / 0.5}, 0.97
RATES = {"A": 2.0, "B": 3.0, "C": 5.0, "A + B": 0.4}
COMES = {"A": 0.1, "B": 0.3, "C": 0.0}


def by_hand(parts: tuple[str, ...], coming: str) -> dict[tuple[str, ...], float]:
    """Chance of "failing" in visit 1, A repaired, "failing" in visit 2, and of what is left then.
    Every course is gone through: `coming` shows with .1, .5 or .9 in a visit, the others always."""
    found: dict[tuple[str, ...], float] = {}
    for rho, shows1, cured, shows2 in product((0.1, 0.5, 0.9), *[(True, False)] * 3):
        chance = 1.0 / 3.0
        chance *= rho if shows1 else 1.0 - rho
        chance *= rho if shows2 else 1.0 - rho
        chance *= CURED if cured else 1.0 - CURED
        if "A" not in parts and not cured:
            continue
        chance *= 1.0 if "A" in parts else 1.0 / CURED
        left = tuple(p for p in parts if not (p == "A" and cured))
        first = any(shows1 if p == coming else True for p in parts)
        second = any(shows2 if p == coming else True for p in left)
        found[left] = found.get(left, 0.0) + chance * YES[first] * YES[second]
    return found


def test_two_faults_one_of_which_is_mended_weigh_what_enumeration_gives(bench: Any) -> None:
    """Prior and posterior of two faults beside singles, all courses of the visits enumerated, no
    engine code. Figures of the model: judgement."""
    atoms = [bench.atom(n, rate=RATES[n], sometimes=COMES[n]) for n in COMES]
    comes = COMES["A"] + COMES["B"] - 2.0 * COMES["A"] * COMES["B"]
    atoms.append(bench.atom("A + B", rate=RATES["A + B"], sometimes=comes, group="A"))
    defects = bench.defects(*atoms)
    halves = np.array([[-1, -1]] * 4 + [[1, 2]])
    predictor = bench.tables(replace(defects, halves=halves))
    job = bench.job(
        Failing(id="a", visit=1, answer="yes"),
        Act(id="b", visit=2, act="repaired", target="A"),
        Failing(id="c", visit=2, answer="yes"),
    )
    total = sum(RATES.values())
    joint: dict[tuple[str, tuple[str, ...]], float] = {
        ("healthy", ()): 0.03 * YES[False] ** 2,
        ("outside", ()): 0.02,
    }
    for name, rate in RATES.items():
        parts = tuple(name.split(" + "))
        stories = {"": 1.0 - comes if len(parts) == 2 else 1.0 - COMES[name]}
        if len(parts) == 1:
            stories[name] = COMES[name]
        else:  # the one comes and goes and the other does not
            stories["A"] = COMES["A"] * (1.0 - COMES["B"])
            stories["B"] = COMES["B"] * (1.0 - COMES["A"])
        for coming, share in stories.items():
            for left, chance in by_hand(parts, coming).items():
                at = (name, left)
                prior = 0.95 * rate / total * share
                joint[at] = joint.get(at, 0.0) + prior * chance
    evidence = sum(joint.values())
    belief = weigh(bench.book(), predictor, job)
    for number, name in enumerate(RATES, 1):
        wanted = sum(chance for (n, _), chance in joint.items() if n == name) / evidence
        assert belief.chance[belief.atom == number].sum() == pytest.approx(wanted, rel=1e-9)
    assert belief.alone is not None
    pair = sum(chance for (n, _), chance in joint.items() if n == "A + B")
    assert belief.alone[4] == pytest.approx([0.0, joint["A + B", ("B",)] / pair])
    # What is left of two faults when A is mended is B.
    after = one_left(predictor.defects, belief)
    b = joint["B", ("B",)] + joint["A + B", ("B",)]
    assert after.hypothesis[2] == pytest.approx(b / evidence)
    assert after.chance.sum() == pytest.approx(1.0)
    assert after.hypothesis.sum() == pytest.approx(belief.hypothesis.sum())


WHOLE = machine(100, seed=1)
RUN = WHOLE.situations["run"]


@pytest.fixture(scope="module")
def broken() -> Any:
    """Two broken wires that cut off different pins: their hypotheses, readings at those pins."""
    circuit = WHOLE.circuit
    defects = circuit.defects
    nodes = [n for n in circuit.net.nodes if n.endswith((".1", ".2", ".87", ".30"))]
    alone = circuit.seen(RUN, [Probe(kind="volts", p=node) for node in nodes]).mean
    moved = np.abs(alone - alone[0]) > 2.0
    of_kind = [h for h, a in enumerate(defects.atom_of) if defects.atoms[a].kind == "open"]
    opens = [h for h in np.random.default_rng(2).permutation(of_kind) if 2 <= moved[h].sum() <= 5]
    places = [set(defects.atoms[defects.atom_of[h]].owners) for h in opens]
    one, two = next(
        (a, b)
        for k, a in enumerate(opens)
        for j, b in enumerate(opens[:k])
        if not (moved[a] & moved[b]).any() and not places[k] & places[j]
    )
    pair = all_pairs(circuit, np.array([one, two]))
    probes = [Probe(kind="volts", p=node) for node in nodes]
    read = with_pairs(circuit, pair).within(np.array([0, circuit.cases.count])).seen(RUN, probes)
    findings = tuple(
        Reading(id=f"r{k}", situation=RUN, p=node, value=float(read.mean[1, k]))
        for k, node in enumerate(nodes)
    )
    return one, two, moved, findings


def test_readings_of_two_broken_wires_name_both(broken: Any) -> None:
    """Every place of each path reads the same at pins: the pair that leads cuts off what both cut
    off, and explains the readings far better than any single."""
    one, two, moved, findings = broken
    circuit = WHOLE.circuit
    found = judge_with_pairs(circuit, fold(findings))
    defects, belief = found.circuit.defects, found.belief
    twos = defects.twofold
    assert belief.hypothesis[twos].sum() > 0.8
    best = int(twos[np.argmax(belief.hypothesis[twos])])
    a, b = defects.halves[best]
    assert (moved[a] | moved[b]).tolist() == (moved[one] | moved[two]).tolist()
    single, verdict = judge(circuit.book, circuit, fold(findings))
    assert single.evidence < belief.evidence - 1.5
    leading = found.verdict.suspects[0]
    assert leading.beside
    assert leading.chance > verdict.suspects[0].chance - 0.5
    ways = [way for odd in found.verdict.contradictions for way in odd.ways_out]
    assert TWO not in ways


def test_mending_one_of_two_leaves_the_other(broken: Any) -> None:
    """The first is mended and the machine still fails: one that cuts off what the second cut off is
    still to mend, alone or beside one that reads as the first did, and the plan is made on that."""
    one, two, moved, findings = broken
    circuit = WHOLE.circuit
    group = circuit.defects.atoms[circuit.defects.atom_of[one]].group
    later: tuple[AnyFinding, ...] = (
        *findings,
        Act(id="m", visit=2, act="repaired", target=group, situation=RUN),
        Failing(id="y", visit=2, answer="yes", situation=RUN),
    )
    found = judge_with_pairs(circuit, fold(later))
    defects = found.circuit.defects
    after = one_left(defects, found.belief)
    singles = circuit.cases.count
    like = (moved == moved[two]).all(axis=1)
    alone = after.hypothesis[:singles]
    assert moved[np.argmax(alone)].tolist() == moved[two].tolist()
    twos = defects.twofold
    beside = after.hypothesis[twos][like[defects.halves[twos]].any(axis=1)]
    assert alone[like].sum() > 0.1
    assert alone[like].sum() + beside.sum() > 0.8
    assert after.hypothesis.sum() == pytest.approx(found.belief.hypothesis.sum())


def test_one_fault_that_explains_all_leaves_no_room_for_pairs(broken: Any) -> None:
    one, _, _, findings = broken
    circuit = WHOLE.circuit
    probes = [Probe(kind="volts", p=finding.p) for finding in findings]
    read = circuit.within(np.array([0, one])).seen(RUN, probes).mean[1]
    job = fold([replace(f, value=float(v)) for f, v in zip(findings, read, strict=True)])
    found = judge_with_pairs(circuit, job)
    assert found.circuit is circuit
    belief, verdict = judge(circuit.book, circuit, job)
    assert np.array_equal(found.belief.chance, belief.chance)
    assert found.verdict.suspects == verdict.suspects


def test_a_pair_stands_under_the_half_left_to_mend_however_its_severities_are_written() -> None:
    """One was mended: it is the other, in both severities, though the halves of one are the other way
    round."""
    circuit = WHOLE.circuit
    atom_of, atoms = circuit.defects.atom_of, circuit.defects.atoms
    many = next(a for a in range(1, len(atoms)) if (atom_of == a).sum() > 1)
    one = next(h for h in range(1, atom_of.size) if atoms[atom_of[h]].group != atoms[many].group)
    mild, grave = np.flatnonzero(atom_of == many)[:2]
    for rows in ((mild, grave), (grave, mild)):
        pairs = PairList(
            first=np.array([one, rows[0]]),
            second=np.array([rows[1], one]),
            rate=np.ones(2),
            one_cause=np.zeros(2, bool),
        )
        carried = with_pairs(circuit, pairs)
        last = carried.cases.count - 2
        chance, alone = np.zeros(last + 2), np.zeros((last + 2, 2))
        chance[last:] = 0.9, 0.1
        alone[last:] = (0.0, 0.97), (0.97, 0.0)
        belief = Belief(
            atom=np.zeros(0, np.int64),
            sometimes=np.zeros(0, np.int64),
            chance=np.zeros(0),
            present=np.zeros(0),
            hypothesis=chance,
            evidence=0.0,
            alone=alone,
        )
        pair = led(carried, belief).defects.atoms[-1]
        assert (pair.group, pair.second) == (atoms[many].group, atoms[atom_of[one]].group)
