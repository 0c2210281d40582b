"""A pattern of states as ports on another pattern's factorisation, against its own factorisation."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from backprobe.circuit.bases import Bases
from backprobe.circuit.instruments import Tap as Place
from backprobe.circuit.instruments import show, taps_of
from backprobe.circuit.ports import Cases, Ports
from backprobe.circuit.settled import NOT_SETTLED, POOR, Settled
from oracles.small_machines import defects, machine, ports_of

PATTERNS = 40


@pytest.mark.parametrize("close", [False, True])
@pytest.mark.parametrize("seed", range(4))
def test_what_is_read_in_a_turned_pattern_is_what_its_own_factorisation_reads(seed, close):
    """Random words for every state, a random defect in each, at every node with a multimeter: to a tenth
    of a microvolt, whatever is left of a port's digits; and where patterns are `close` to each other and few digits are
    said to be left, from one of them."""
    net, wires = machine(seed)
    rng = np.random.default_rng(seed)
    events = [e for e in defects(net, wires, seed) if e]
    picked = rng.choice(len(events), size=PATTERNS)
    made = [ports_of(net, events[k]) for k in picked]
    starts = np.cumsum([0, *(len(ports) for ports in made)])
    cases = Cases.of([range(a, b) for a, b in pairwise(starts)])
    ports = Ports.of([port for some in made for port in some])
    bases = Bases(net)
    words = np.array([len(state.words) for state in net.states])
    patterns = rng.integers(0, words, size=(PATTERNS, len(words))).astype(np.int8)
    if close:
        rare = rng.random(patterns.shape) < 0.05
        base = np.where(rng.random(len(words)) < 0.6, (net.resting + 1) % words, net.resting)
        patterns = np.where(rare, patterns, base).astype(np.int8)
    touches, alone = bases.turns.touched(ports)
    owner = np.repeat(np.arange(PATTERNS), np.diff(cases.start))
    plain = np.setdiff1d(np.arange(PATTERNS), owner[touches[cases.ports] >= 0])

    def read(share):
        which = np.full(PATTERNS, NOT_SETTLED)
        which[plain] = 0
        settled = Settled(
            ports=ports,
            cases=cases,
            references=(net.resting,),
            on=which,
            share=np.full(PATTERNS, share),
            beside=np.zeros(PATTERNS, bool),
            states=patterns,
            steady=np.ones(PATTERNS, bool),
        )
        taps = [Place(quantity="volts", p=node, n="0", meter_ohm=1e7) for node in net.nodes]
        stands = {group.states.tobytes() for group in settled.groups(bases.turns)}
        return show(bases, settled, taps_of(net, taps)), stands

    def worth(shown):
        """Volts on the meter that another resistance at the probes than with a factorisation of its own makes."""
        there = np.abs(own.mean) + np.abs(own.slope[..., 0])
        load = 1.0 / (1.0 + np.stack([own.source, shown.source]) / 1e7)
        return there * np.abs(load[1] / load[0] - 1.0)

    (turned, one), (nearer, more), (own, every) = read(1.0), read(POOR / 2.0), read(0.0)
    assert one == {net.resting.tobytes()}
    assert len(more) < len(every)
    assert more != one or not close
    assert nearer.mean[plain] == pytest.approx(own.mean[plain], abs=1e-7)
    assert nearer.slope[plain] == pytest.approx(own.slope[plain], abs=1e-6)
    assert worth(nearer)[plain].max() < 1e-9
    assert turned.mean[plain] == pytest.approx(own.mean[plain], abs=1e-7)
    assert worth(turned)[plain].max() < 1e-9
    assert turned.slope[plain] == pytest.approx(own.slope[plain], abs=1e-6)
    assert not alone[touches < 0].any()
    assert plain.size >= PATTERNS // 4
