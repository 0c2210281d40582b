"""Two defects at once: which pairs are worth carrying, what they weigh, what they would read.

Independent pairs. Of 1000 machines that come in, 950 have one defect and 45 two that have nothing to
do with each other (ONE, TWO); which two follows their rates a, b out of all rates R:

    rate of the pair = TWO / ONE * 2 a b / (R^2 - sum of all rates squared) * R

per 1000 machine years, so pairs compete with singles in the same unit and together hold their share.

Pairs of one cause. What rubbed one wire of a section through may have hurt a second one as well:
the rate of the first times SECOND_WIRE, shared among its neighbours, times how a chafed wire ends
up (rates.CHAFE); two wires rubbed to each other may leave one of them broken: OPEN_TOO.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import permutations
from typing import Final

import numpy as np

from backprobe.circuit.pair_twos import Marks, are_apart, every_two
from backprobe.circuit.ports import Cases
from backprobe.circuit.transfer import vectors_of
from backprobe.defects.model import (
    RUBBED,
    TO_GROUND,
    Atom,
    Defects,
    Flags,
    Floats,
    Ints,
)
from backprobe.defects.predict import Circuit
from backprobe.kinds import rates

ONE: Final = 0.95
TWO: Final = 0.045
"""Chances that a machine that comes in has one defect, two that are independent. Judgement; three or
more (0.005) are left to "not in this book"."""
SECOND_WIRE: Final = 0.10
"""Chance that what chafed one wire of a section hurt another one in the same place. Judgement."""
OPEN_TOO: Final = 0.10
"""Chance that one of two wires rubbed to each other is broken there. Judgement."""
INDEPENDENT: Final = "independence: 45 of 1000 jobs shared by the product of both rates; judgement"
ONE_CAUSE: Final = "common cause in one loom section: a share of the single's rate; judgement"


@dataclass(frozen=True, slots=True, kw_only=True)
class PairList:
    """Pairs of hypotheses: `first`, `second` (m,), `rate` (m,) per 1000 machine years with both
    severities' weights in it, `one_cause` (m,) True where a common cause gives most of it."""

    first: Ints
    second: Ints
    rate: Floats
    one_cause: Flags

    def only(self, which: Ints) -> PairList:
        """Some of them, in the given order."""
        return PairList(
            first=self.first[which],
            second=self.second[which],
            rate=self.rate[which],
            one_cause=self.one_cause[which],
        )

    def then(self, other: PairList) -> PairList:
        """These, and of the others those that are not among them."""
        known = set(zip(self.first.tolist(), self.second.tolist(), strict=True))
        known |= {(b, a) for a, b in known}
        each = zip(other.first.tolist(), other.second.tolist(), strict=True)
        more = other.only(np.array([n for n, pair in enumerate(each) if pair not in known], int))
        return PairList(
            first=np.concatenate([self.first, more.first]),
            second=np.concatenate([self.second, more.second]),
            rate=np.concatenate([self.rate, more.rate]),
            one_cause=np.concatenate([self.one_cause, more.one_cause]),
        )


def all_pairs(circuit: Circuit, hypotheses: Ints | None = None) -> PairList:
    """Every pair of the hypotheses (all when None) that is two faults, with its rate."""
    return rated(circuit, *two_faults(circuit, hypotheses))


def two_faults(circuit: Circuit, hypotheses: Ints | None = None) -> tuple[Ints, Ints]:
    """(m,), (m,) every pair of the hypotheses (all when None) that is two faults: of two atoms, on two
    branches, at most one of them an event of many pins."""
    defects, cases = circuit.defects, circuit.cases
    some = np.arange(1, cases.count) if hypotheses is None else np.unique(hypotheses)
    some = some[defects.atom_of[some] > 0]
    many = np.diff(cases.start) > 1
    order = np.concatenate([some[many[some]], some[~many[some]]])
    first, second = np.empty((2, len(order) * (len(order) - 1) // 2), np.int64)
    count = every_two(_marks(circuit), order, int(many[some].sum()), first, second)
    return first[:count], second[:count]


def rated(circuit: Circuit, first: Ints, second: Ints) -> PairList:
    """Pairs with their rate, whatever their cause."""
    rate = independent_rate(circuit.defects, first, second)
    common = _common(circuit, first, second)
    return PairList(first=first, second=second, rate=rate + common, one_cause=common > rate)


def independent_rate(defects: Defects, first: Ints, second: Ints) -> Floats:
    """Per 1000 machine years, of pairs that have nothing to do with each other."""
    each = rates_of(defects)
    return together(defects, each[first], each[second])


def rates_of(defects: Defects) -> Floats:
    """(H,) per 1000 machine years, of every hypothesis."""
    rate: Floats = np.array([a.rate for a in defects.atoms])[defects.atom_of] * defects.weight
    return rate


def together(defects: Defects, one: Floats, two: Floats) -> Floats:
    """Rate of independent pairs of defects that come at rates `one` and `two`."""
    each = np.array([atom.rate for atom in defects.atoms])
    total = each.sum()
    rate: Floats = 2.0 * one * two * (TWO / ONE) * total / (total**2 - (each**2).sum())
    return rate


def pairs_of_one_cause(circuit: Circuit) -> PairList:
    """Pairs that one chafed place of a section explains: two wires to ground, one to ground and
    one broken, both broken; two rubbed to each other of which one is broken."""
    defects = circuit.defects
    of_atom = _by_atom(defects)
    firsts, seconds, found = [], [], []
    for (one, two), each in one_cause(circuit).items():
        a, b = (grid.ravel() for grid in np.meshgrid(of_atom[one], of_atom[two], indexing="ij"))
        firsts.append(a)
        seconds.append(b)
        found.append(each * defects.weight[a] * defects.weight[b])
    none = np.zeros(0, np.int64)
    first, second = np.concatenate([none, *firsts]), np.concatenate([none, *seconds])
    common = np.concatenate([np.zeros(0), *found])
    rate = independent_rate(defects, first, second)
    return PairList(first=first, second=second, rate=rate + common, one_cause=common > rate)


def with_pairs(circuit: Circuit, pairs: PairList) -> Circuit:
    """The circuit with pairs as further hypotheses, after all its singles: atoms of their own
    ("A, and B"), mended first at the one whose repair is the shorter. Answers as any Circuit does."""
    defects, cases = circuit.defects, circuit.cases
    atom_of, second_of = defects.atom_of[pairs.first], defects.atom_of[pairs.second]
    low, high = np.minimum(atom_of, second_of), np.maximum(atom_of, second_of)
    distinct, label = np.unique(np.stack([low, high], axis=1), axis=0, return_inverse=True)
    label = label.ravel()
    rate = np.bincount(label, weights=pairs.rate, minlength=len(distinct))
    common = np.bincount(label, weights=pairs.one_cause * pairs.rate, minlength=len(distinct))
    mend = {group.key: group.mend_s for group in defects.groups}
    atoms = list(defects.atoms)
    for number, each in enumerate(distinct):
        one, two = sorted((defects.atoms[k] for k in each), key=lambda a: mend[a.group])
        source = ONE_CAUSE if common[number] > rate[number] / 2.0 else INDEPENDENT
        atoms.append(both(one, two, rate=float(rate[number]), source=source))
    joined = [
        _ports(cases, int(a)) + _ports(cases, int(b)) for a, b in zip(pairs.first, pairs.second)
    ]
    more = Cases.of(joined)
    total = np.where(rate > 0, rate, 1.0)[label]
    return circuit.beside(
        more=circuit.memory.joined(circuit.ident[pairs.first], circuit.ident[pairs.second]),
        cases=Cases(
            start=np.concatenate([cases.start, cases.start[-1] + more.start[1:]]),
            ports=np.concatenate([cases.ports, more.ports]),
        ),
        defects=replace(
            defects,
            atoms=tuple(atoms),
            single=defects.single or defects.atoms,
            loose=None,
            atom_of=np.concatenate([defects.atom_of, len(defects.atoms) + label]),
            weight=np.concatenate([defects.weight, pairs.rate / total]),
            ohm=np.concatenate([defects.ohm, defects.ohm[pairs.first]]),
            spread=np.concatenate(
                [
                    defects.spread,
                    np.maximum(defects.spread[pairs.first], defects.spread[pairs.second]),
                ]
            ),
            halves=np.concatenate(
                [
                    np.full((defects.atom_of.size, 2), -1),
                    np.stack([pairs.first, pairs.second], axis=1),
                ]
            ),
        ),
    )


def both(one: Atom, two: Atom, *, rate: float, source: str) -> Atom:
    """Two atoms as one, the first of which is mended first."""
    half = [replace(place, share=place.share / 2.0) for place in one.places + two.places]
    return Atom(
        id=f"{one.id} + {two.id}",
        words=f"{one.words}, and {two.words}",
        kind="two faults",
        group=one.group,
        second=two.group,
        owners=tuple(dict.fromkeys(one.owners + two.owners)),
        rate=rate,
        source=source,
        sometimes=one.sometimes + two.sometimes - 2.0 * one.sometimes * two.sometimes,
        wet=max(one.wet, two.wet),
        hot=max(one.hot, two.hot),
        moved=max(one.moved, two.moved),
        visible=1.0 - (1.0 - one.visible) * (1.0 - two.visible),
        places=tuple(half) if one.places and two.places else one.places or two.places,
    )


def _ports(cases: Cases, hypothesis: int) -> list[int]:
    return [int(p) for p in cases.ports[cases.start[hypothesis] : cases.start[hypothesis + 1]]]


def _by_atom(defects: Defects) -> dict[int, Ints]:
    """The hypotheses of every atom."""
    order = np.argsort(defects.atom_of, kind="stable")
    bounds = np.searchsorted(defects.atom_of[order], np.arange(len(defects.atoms) + 1))
    return {n: order[bounds[n] : bounds[n + 1]] for n in range(len(defects.atoms))}


def one_cause(circuit: Circuit) -> dict[tuple[int, int], float]:
    """Rates of pairs of atoms with a common cause, lower atom number first; worked out once."""
    if circuit.one_cause is None:
        circuit.one_cause = _one_cause(circuit.defects)
    return circuit.one_cause


def _one_cause(defects: Defects) -> dict[tuple[int, int], float]:
    hurt: dict[str, dict[str, list[int]]] = {}
    rubbed: list[int] = []
    broken: dict[tuple[str, str], int] = {}
    for number, atom in enumerate(defects.atoms):
        if atom.kind in (TO_GROUND, "open") and len(atom.owners) == 2:
            wire, section = atom.owners
            hurt.setdefault(section, {}).setdefault(wire, []).append(number)
            if atom.kind == "open":
                broken[(wire, section)] = number
        elif atom.kind == RUBBED:
            rubbed.append(number)
    result: dict[tuple[int, int], float] = {}

    def add(one: int, two: int, rate: float) -> None:
        key = (min(one, two), max(one, two))
        result[key] = result.get(key, 0.0) + rate

    for wires in hurt.values():
        crowd = max(1, len(wires) - 1)
        for one, two in permutations(wires, 2):
            for a in wires[one]:
                for b in wires[two]:
                    share = rates.CHAFE[defects.atoms[b].kind]
                    add(a, b, defects.atoms[a].rate * SECOND_WIRE * share / crowd)
    for number in rubbed:
        *wires_of, section = defects.atoms[number].owners
        for wire in wires_of:
            if (wire, section) in broken:
                add(number, broken[(wire, section)], defects.atoms[number].rate * OPEN_TOO / 2.0)
    return result


def _common(circuit: Circuit, first: Ints, second: Ints) -> Floats:
    """(m,) what a common cause adds to the rate of pairs of hypotheses."""
    defects = circuit.defects
    table = one_cause(circuit)
    if not table or not len(first):
        return np.zeros(len(first))
    many = len(defects.atoms)
    keys = np.array([one * many + two for one, two in table], np.int64)
    order = np.argsort(keys)
    keys, rate = keys[order], np.array(list(table.values()))[order]
    one, two = defects.atom_of[first], defects.atom_of[second]
    wanted = np.minimum(one, two) * many + np.maximum(one, two)
    at = np.minimum(np.searchsorted(keys, wanted), len(keys) - 1)
    found = np.where(keys[at] == wanted, rate[at], 0.0)
    result: Floats = found * defects.weight[first] * defects.weight[second]
    return result


def apart(circuit: Circuit, first: Ints, second: Ints) -> Flags:
    """(m,) True where two hypotheses are of different atoms and share no branch and no port."""
    result = np.empty(len(first), bool)
    are_apart(_marks(circuit), first, second, result)
    return result


def _marks(circuit: Circuit) -> Marks:
    """What tells whether two hypotheses are two faults."""
    cases, ports, net = circuit.cases, circuit.ports, circuit.net
    nodes = len(net.nodes) - 1
    owner = np.repeat(np.arange(cases.count), np.diff(cases.start))
    at = ports.right_at[cases.ports]
    touched = np.zeros((cases.count, len(net.elements)), bool)
    row, entry = np.nonzero(at >= nodes)
    touched[owner[row], at[row, entry] - nodes] = True
    one_port = np.diff(cases.start) == 1
    vector = np.full(cases.count, -1, np.int64)
    vector[one_port] = vectors_of(net, ports).of[cases.ports[cases.start[:-1][one_port]]]
    # The second of a pair has one port, so two branches at most.
    slots = np.full((cases.count, 2), -1, np.int64)
    who, branch = np.nonzero(touched & one_port[:, None])
    again = np.append(False, who[1:] == who[:-1]).astype(np.int64)
    slots[who, again] = branch
    return Marks(circuit.defects.atom_of, vector, touched, slots)
