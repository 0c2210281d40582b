"""Which two hypotheses are two faults, compared with sets of what each of them touches."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from backprobe.defects.pairs import apart, two_faults
from backprobe.defects.predict import Circuit
from oracles.machines import machine


def touches(circuit: Circuit, hypothesis: int) -> tuple[set[int], set[tuple[float, ...]]]:
    """Branches, and vectors of ports."""
    cases, ports, nodes = circuit.cases, circuit.ports, len(circuit.net.nodes) - 1
    own = cases.ports[cases.start[hypothesis] : cases.start[hypothesis + 1]]
    branches = {int(at) - nodes for at in ports.right_at[own].ravel() if at >= nodes}
    rows = (ports.left_at, ports.left, ports.right_at, ports.right)
    return branches, {tuple(np.concatenate([part[p] for part in rows]) + 0.0) for p in own}


def test_two_faults_are_of_two_atoms_and_share_no_branch_and_no_port() -> None:
    circuit = Circuit.of(machine(100).book)
    size, atom = np.diff(circuit.cases.start), circuit.defects.atom_of
    events = np.flatnonzero(size > 1)[:6]
    some = np.union1d(events, np.arange(1, 160))
    each = {int(h): touches(circuit, int(h)) for h in some}
    wanted = set()
    for one, two in combinations(sorted(each), 2):
        alone = size[one] == 1 and size[two] == 1
        met = atom[one] == atom[two] or each[one][0] & each[two][0]
        met = met or (alone and each[one][1] & each[two][1])
        if not met and min(size[one], size[two]) == 1:
            wanted.add(frozenset((one, two)))
    first, second = two_faults(circuit, some)
    found = {frozenset((int(a), int(b))) for a, b in zip(first, second, strict=True)}
    assert len(first) == len(found)
    assert found == wanted
    assert 0 < len(wanted) < len(some) * (len(some) - 1) / 2
    assert any(size[h] > 1 for h in first)
    assert (size[second] == 1).all()
    assert apart(circuit, first, second).all()
    assert not apart(circuit, first, first).any()
