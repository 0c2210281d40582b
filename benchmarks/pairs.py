"""Pairs of defects, measured: brought to rest and read, seconds per pair; singles the same way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from subject import METERS, Subject, clock

from backprobe.circuit.pair_readings import read_by
from backprobe.circuit.pairs import SettledPairs, settle_pairs
from backprobe.circuit.situated import driven_states
from backprobe.defects.pairs import all_pairs
from backprobe.defects.predict import Circuit

Ints = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Figure:
    """Seconds per pair to rest and read; how many pairs; shares that move a state (as far as a
    healthy machine does not) and never rest; patterns of states."""

    settled: float
    read: float
    count: int
    moved: float
    restless: float
    patterns: int

    @property
    def seconds(self) -> float:
        """Both."""
        return self.settled + self.read


def told(found: Figure | None) -> str:
    """A figure in words."""
    if found is None:
        return "not measured"
    return (
        f"{found.seconds * 1e6:.2f} us ({found.settled * 1e6:.2f} to rest, {found.read * 1e6:.2f} "
        f"to read) over {found.count:,} pairs, {found.moved:.0%} of which move a state"
    )


def chosen(of: Subject, most: int, seed: int = 3) -> tuple[Ints, Ints]:
    """Every pair of as many hypotheses as make about `most` pairs, drawn at random."""
    count = of.circuit.cases.count
    some = min(count - 1, int(np.sqrt(2.0 * most)))
    rng = np.random.default_rng(seed)
    picked = np.sort(1 + rng.choice(count - 1, some, replace=False))
    found = all_pairs(of.circuit, picked)
    return found.first, found.second


def measured(
    of: Subject, pairs: tuple[Ints, Ints], nodes: Sequence[str], meters: Sequence[float]
) -> Figure:
    """Bring pairs to rest from key off and read nodes with every meter, from a cold start (but for
    the compiler); blocks of readings are thrown away. The resistance at a probe is worked out once
    for all meters."""
    few = Circuit.of(of.machine.book)
    some = of.taps(nodes[:1], meters[:1])
    list(read_by(settled_pairs(of, few, chosen(of, 50)), some))
    circuit = Circuit.of(of.machine.book)
    taps = [of.taps(nodes, [meter]) for meter in meters]
    began = clock()
    settled = settled_pairs(of, circuit, pairs)
    rest = clock() - began
    began = clock()
    seen = 0
    for _, shown in read_by(settled, *taps):
        seen += shown.size
    read = clock() - began
    count = settled.count
    assert seen == count * len(nodes) * len(meters)
    healthy = of.circuit.settled(of.run).states[0]
    states = settled.states()
    return Figure(
        settled=rest / count,
        read=read / count,
        count=count,
        moved=float((states != healthy).any(axis=1).mean()),
        restless=float((~settled.steady).mean()),
        patterns=len(np.unique(settled.end)),
    )


def settled_pairs(of: Subject, circuit: Circuit, pairs: tuple[Ints, Ints]) -> SettledPairs:
    """Pairs of a circuit brought to rest with the engine running."""
    start = driven_states(circuit.net, of.run)
    return settle_pairs(
        circuit._bases,
        circuit._limits,
        circuit.ports,
        circuit.cases,
        pairs,
        alone=[(start, np.arange(circuit.cases.count))],
    )


def six_probes(of: Subject, most: int) -> Figure:
    """Pairs at six probes with the 10 Mohm meter."""
    return measured(of, chosen(of, most), of.six, METERS[:1])


def all_probes(of: Subject, most: int) -> Figure:
    """Pairs at every node with both meters."""
    return measured(of, chosen(of, most), of.nodes, METERS)


def singles(of: Subject) -> Figure:
    """Every single at every node with both meters, as a pair with the healthy machine."""
    second = np.arange(1, of.circuit.cases.count)
    return measured(of, (np.zeros(len(second), np.int64), second), of.nodes, METERS)
