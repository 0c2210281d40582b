"""A synthetic machine as the benchmarks see it: its circuit, and it written out for the others."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from backprobe.book.situations import Situation
from backprobe.circuit.instruments import Tap as Place
from backprobe.circuit.instruments import Taps, taps_of
from backprobe.defects.predict import Circuit
from backprobe.kinds.records import Change
from oracles.decode import changes_of
from oracles.machines import Machine
from oracles.one_at_a_time import Tap, Words, written_out
from oracles.plain import Plain

Changes = tuple[Change | Tap, ...]
clock = time.process_time
"""Processor seconds: what other programs take does not count. Only a session's start uses several threads,
and goes by the wall."""
METERS = (10e6, 144.0 / 21.0)
"""A digital voltmeter, and a 21 W lamp hot at 12 V taken as a resistor, ohm."""


@dataclass(frozen=True, kw_only=True)
class Subject:
    """`healthy`: the circuit in its settled states, as plain elements. `nodes`: all but the
    reference; `six`: six of them. `lone`: hypotheses of one port, in random order."""

    machine: Machine
    circuit: Circuit
    run: Situation
    healthy: Plain
    nodes: tuple[str, ...]
    six: tuple[str, ...]
    lone: NDArray[np.int64]

    def changes(self, hypothesis: int) -> Changes:
        """The physical changes of a hypothesis."""
        circuit = self.circuit
        return tuple(changes_of(circuit.net, circuit.ports, circuit.cases, hypothesis))

    def taps(self, nodes: Sequence[str], meters: Sequence[float]) -> Taps:
        """Volts at nodes against battery minus through each meter."""
        return taps_of(
            self.circuit.net,
            [
                Place(quantity="volts", p=node, n=self.circuit.net.nodes[0], meter_ohm=ohm)
                for ohm in meters
                for node in nodes
            ],
        )


def subject(machine: Machine, seed: int = 5) -> Subject:
    """The machine with the engine running and everything switched on."""
    circuit = Circuit.of(machine.book)
    net, run = circuit.net, machine.situations["run"]
    nodes = tuple(net.nodes[1:])
    rng = np.random.default_rng(seed)
    pins = [node for node in nodes if ":" not in node or "<" in node]
    return Subject(
        machine=machine,
        circuit=circuit,
        run=run,
        healthy=written_out(net, words_of(circuit, run, 0)),
        nodes=nodes,
        six=tuple(str(pin) for pin in rng.choice(pins, 6, replace=False)),
        lone=rng.permutation(np.flatnonzero(np.diff(circuit.cases.start) == 1)),
    )


def words_of(circuit: Circuit, situation: Situation, hypothesis: int) -> Words:
    """The states a hypothesis settled in, by name."""
    some = np.array([0, hypothesis], np.int64) if hypothesis else np.zeros(1, np.int64)
    states = circuit.within(some).settled(situation).states[-1]
    return {at: circuit.net.states[k].words[states[k]] for at, k in circuit.net.state.items()}


def best_of(times: int, job: Callable[[], object]) -> float:
    """Processor seconds of the fastest of some runs."""
    taken = []
    for _ in range(times):
        began = clock()
        job()
        taken.append(clock() - began)
    return min(taken)


def touched(changes: Changes) -> set[str]:
    """The branches that changes are made in."""
    names: set[str] = set()
    for change in changes:
        names |= {str(getattr(change, at)) for at in ("branch", "to") if hasattr(change, at)}
    return names
