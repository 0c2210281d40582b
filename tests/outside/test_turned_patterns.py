"""A pattern of states as ports on another pattern's factorisation, against its own factorisation."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from backprobe.circuit.bases import Bases
from backprobe.circuit.limits import limits_of
from backprobe.circuit.ports import Cases, Ports, read, solve
from backprobe.circuit.settle import SEES
from oracles.small_machines import defects, machine, ports_of

PATTERNS = 40


@pytest.mark.parametrize("seed", range(6))
def test_what_limits_see_in_a_turned_pattern_is_what_its_own_factorisation_sees(seed):
    """Random words for every state, a random defect in each: to 10 microvolts unless
    the kernel itself says that the digits are gone."""
    net, wires = machine(seed)
    rng = np.random.default_rng(seed)
    events = [e for e in defects(net, wires, seed) if e]
    picked = rng.choice(len(events), size=PATTERNS)
    made = [ports_of(net, events[k]) for k in picked]
    starts = np.cumsum([0, *(len(ports) for ports in made)])
    cases = Cases.of([range(a, b) for a, b in pairwise(starts)])
    ports = Ports.of([port for some in made for port in some])
    bases, limits = Bases(net), limits_of(net)
    reference = bases.reference(net.resting, limits)
    words = np.array([len(state.words) for state in net.states])
    patterns = rng.integers(0, words, size=(PATTERNS, len(words))).astype(np.int8)
    there = bases.turns.there(patterns)
    turned = reference.away(there)
    touches, alone = bases.turns.touched(ports)
    ported = reference.ported(ports, np.arange(ports.count))
    together = reference.patterns(turned)
    compared = 0
    for which, numbers in cases.blocks(np.arange(PATTERNS)):
        seen, share = reference.look(together, which, ported, numbers, np.arange(len(limits.at)))
        for row, h in enumerate(which):
            own = numbers[row][numbers[row] >= 0]
            if (touches[own] >= 0).any() or share[row] < SEES:
                continue
            base = bases.get(patterns[h])
            (block,) = solve(base, ports, cases, np.array([h]))
            amounts = read(base, ports, block, limits.at, limits.value)[0][0, :, 0]
            watched = bases.turns.watched(limits)
            carries = (watched < 0) | there[h, watched]
            assert seen[row][carries] == pytest.approx(amounts[carries], abs=1e-5)
            compared += 1
    assert not alone[touches < 0].any()
    assert compared >= PATTERNS // 4
