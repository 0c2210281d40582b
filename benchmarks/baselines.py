"""What else could solve the circuit: seconds per defect or pair of each way. All of them solve
once, at known states, with no meter; none follows consequences."""

from __future__ import annotations

import resource
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from naive import Naive
from spice import Deck, Simulator
from subject import Subject, best_of, clock, touched

from backprobe.kinds.records import Series
from oracles.ngspice import NGSPICE

SINGLES, PAIRS = 64, 20
"""Defects a deck holds: measured best or within a few percent of it at 100 to 1500 nodes."""


def spice_process(of: Subject, *, count: int = 6) -> float:
    """A process of ngspice for every defect, all nodes written to a file."""
    assert NGSPICE is not None
    with tempfile.TemporaryDirectory() as folder:
        at = Path(folder)
        for k, hypothesis in enumerate(of.lone[:count]):
            deck = Deck(of.healthy, [of.changes(int(hypothesis))])
            (at / f"{k}.cir").write_text("\n".join(deck.ready(of.nodes)), encoding="ascii")
        taken = []
        for k in range(count):
            began = spent()
            subprocess.run(
                [NGSPICE, "-b", "-r", f"{k}.raw", f"{k}.cir"],
                cwd=at, capture_output=True, check=True,
            )  # fmt: skip
            taken.append(spent() - began)
            assert (at / f"{k}.raw").stat().st_size > 8 * len(of.nodes)
    return float(np.median(taken))


def spent() -> float:
    """Processor seconds of the processes started and ended so far."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def spice_loop(of: Subject, simulator: Simulator, *, count: int = 60) -> float:
    """One deck, `alter` a resistor, `op`, read six nodes, put it back; in the simulator."""
    wires = [e for e in of.healthy.elements if e.ordinary and e.ohm > 0.0][:count]
    number = {e.name: k for k, e in enumerate(of.healthy.elements)}
    deck = Deck(of.healthy, [(Series(branch="", ohm=1.0),)])
    simulator.load(deck.ready(of.six))
    names = [f"v({deck.node[node]})" for node in of.six]

    def turn() -> None:
        for wire in wires:
            name = f"r{number[wire.name]}_0"
            simulator.run(f"alter {name} = {wire.ohm + 100.0:.6g}")
            simulator.run("op")
            for vector in names:
                simulator.vector(vector)
            simulator.run("destroy all")
            simulator.run(f"alter {name} = {wire.ohm:.17g}")

    taken = best_of(2, turn) / len(wires)
    simulator.drop()
    return taken


def spice_singles(of: Subject, simulator: Simulator, nodes: Sequence[str]) -> tuple[float, float]:
    """The best batch, singles: seconds per defect with and without reading the nodes back."""
    defects = [of.changes(int(h)) for h in of.lone[:SINGLES]]
    return _deck(simulator, nodes, Deck(of.healthy, defects))


def spice_pairs(of: Subject, simulator: Simulator, nodes: Sequence[str]) -> tuple[float, float]:
    """The best batch, pairs: seconds per pair with and without reading the nodes back."""
    first = [of.changes(int(h)) for h in of.lone[:PAIRS]]
    second = [of.changes(int(h)) for h in of.lone[PAIRS : 2 * PAIRS]]
    return _deck(simulator, nodes, Deck(of.healthy, first, second))


def _deck(simulator: Simulator, nodes: Sequence[str], deck: Deck) -> tuple[float, float]:
    """Loading and running a deck; writing its text is left out, in the baseline's favour."""
    lines, names = deck.ready(nodes), [f"v({deck.node[node]})" for node in nodes]
    with_reading, without = [], []
    for _ in range(4):
        began = clock()
        simulator.load(lines)
        simulator.run("run")
        without.append(clock() - began)
        read = [simulator.vector(name) for name in names]
        with_reading.append(clock() - began)
        assert len(read[0]) == deck.points, simulator.heard[-5:]
        simulator.drop()
    return min(with_reading) / deck.points, min(without) / deck.points


def naive(of: Subject, *, pairs: bool, count: int = 300) -> float:
    """A sparse matrix per case, factorised anew in an order found once; all nodes."""
    defects = [of.changes(int(h)) for h in of.lone[:40]]
    plain = Naive(of.healthy, defects)
    cases = list(_cases(len(defects), count, pairs=pairs))

    def turn() -> None:
        for case in cases:
            plain.solve(*case)

    return best_of(3, turn) / len(cases)


def _cases(defects: int, count: int, *, pairs: bool) -> Iterator[tuple[int, ...]]:
    for k in range(count):
        first = k % defects
        yield (first, (first + 1 + k // defects) % defects) if pairs else (first,)


def memory(numbers: int) -> float:
    """Seconds to write so many doubles into a buffer that is used again and again (256 MB)."""
    buffer = np.empty(32_000_000)
    return best_of(5, lambda: buffer.fill(1.5)) / buffer.size * numbers


def spice_error(of: Subject, simulator: Simulator) -> tuple[float, float, int]:
    """Median and largest volts between the best batch and the naive way over pairs of defects
    on different branches, and how many pairs: both baselines solve the same thing."""
    picked = [of.changes(int(h)) for h in of.lone[: 2 * PAIRS]]
    deck = Deck(of.healthy, picked[:PAIRS], picked[PAIRS:])
    simulator.load(deck.ready(of.nodes))
    simulator.run("run")
    volts = np.array([simulator.vector(f"v({deck.node[node]})") for node in of.nodes])
    volts = volts.reshape(len(of.nodes), PAIRS, PAIRS)
    simulator.drop()
    plain, worst = Naive(of.healthy, picked), []
    for a in range(PAIRS):
        for b in range(PAIRS):
            if touched(picked[a]) & touched(picked[PAIRS + b]):
                continue
            solved = plain.volts(plain.solve(a, PAIRS + b), of.nodes)
            worst.append(float(np.abs(solved - volts[:, b, a]).max()))
    return float(np.median(worst)), float(np.max(worst)), len(worst)
