"""How far off: readings against refined solutions, end states against following one by hand.

The judges are tests/oracles/nodal.py (double factors, residuals in long double until the last
correction is 1e-13) and tests/oracles/one_at_a_time.py (states moved one at a time); they share
the list of elements with the engine, nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from subject import Subject, touched

from backprobe.book.situations import Situation
from backprobe.circuit.instruments import Tap, show, taps_of
from backprobe.circuit.ports import Cases
from backprobe.circuit.settle import Settled, settle
from backprobe.circuit.situated import driven_states
from backprobe.defects.predict import Circuit
from oracles import one_at_a_time
from oracles.decode import changes_of

NEAR = 1e-6
"""A move decided by less than this share of its limit may go either way; counted, left out."""

Lists = list[list[int]]


@dataclass(frozen=True, kw_only=True)
class Judged:
    """Cases held to the judges. `wrong`: other end states; `near`: too near to call; `restless`:
    never at rest, by both; `worst` and `median`: volts off at a pin, `named` the worst case;
    `inside`: at most within parts, where nothing can be probed."""

    cases: int
    wrong: int
    near: int
    restless: int
    median: float
    worst: float
    inside: float
    named: str


@dataclass(kw_only=True)
class Counted:
    """End states over several machines."""

    cases: int = 0
    wrong: int = 0
    near: int = 0
    restless: int = 0

    def add(self, judged: Judged) -> None:
        """Add one machine's."""
        self.cases += judged.cases
        self.wrong += judged.wrong
        self.near += judged.near
        self.restless += judged.restless


def judge(circuit: Circuit, situation: Situation, lists: Lists) -> Judged:
    """Settle these lists of ports the engine's way and by hand, and compare."""
    net = circuit.net
    cases = Cases.of(lists)
    start = [(driven_states(net, situation), np.arange(len(lists)))]
    settled = settle(circuit._bases, circuit._limits, circuit.ports, cases, start)
    return compared(circuit, situation, settled)


def compared(circuit: Circuit, situation: Situation, settled: Settled) -> Judged:
    """Every case of a settled set against the judges."""
    net = circuit.net
    volts = _volts(circuit, settled)
    touched = np.array([":" not in node or "<" in node for node in net.nodes], bool)
    begin = one_at_a_time.commanded(net, situation)
    wrong = near = restless = 0
    errors: list[float] = []
    inside, worst, named = 0.0, 0.0, ""
    for case in range(settled.cases.count):
        changes = changes_of(net, settled.ports, settled.cases, case)
        end = one_at_a_time.settle(net, begin, changes)
        if end.margin < NEAR:
            near += 1
            continue
        words = {at: net.states[k].words[settled.states[case, k]] for at, k in net.state.items()}
        if end.steady != settled.steady[case] or (end.steady and end.words != words):
            wrong += 1
            continue
        if not end.steady:
            restless += 1
            continue
        off = np.abs(volts[case] - [end.volts[node] for node in net.nodes])
        errors.append(float(off[touched].max()))
        inside = max(inside, float(off[~touched].max()))
        if errors[-1] > worst:
            worst, named = errors[-1], " and ".join(str(change) for change in changes)
    return Judged(
        cases=settled.cases.count,
        wrong=wrong,
        near=near,
        restless=restless,
        median=float(np.median(errors)) if errors else np.nan,
        worst=worst,
        inside=inside,
        named=named,
    )


def _volts(circuit: Circuit, settled: Settled) -> NDArray[np.float64]:
    net = circuit.net
    taps = taps_of(net, [Tap(quantity="volts", p=node, n=net.nodes[0]) for node in net.nodes])
    return show(circuit._bases, settled, taps, slopes=False).mean


def ports_of(circuit: Circuit, hypotheses: Iterable[int]) -> list[int]:
    """Port numbers of some hypotheses together."""
    start, ports = circuit.cases.start, circuit.cases.ports
    return [int(port) for h in hypotheses for port in ports[start[h] : start[h + 1]]]


def single_lists(of: Subject, count: int, seed: int) -> Lists:
    """Singles at random, opens and healthy among them."""
    rng = np.random.default_rng(seed)
    some = rng.choice(of.circuit.cases.count, min(count, of.circuit.cases.count), replace=False)
    return [ports_of(of.circuit, [int(h)]) for h in some]


def pair_lists(of: Subject, count: int, seed: int) -> Lists:
    """Pairs of different defects on different branches; every other one is of two opens."""
    rng = np.random.default_rng(seed)
    circuit = of.circuit
    single = np.flatnonzero(np.diff(circuit.cases.start) == 1)
    port = circuit.cases.ports[circuit.cases.start[single]]
    branch = (circuit.ports.left_at[port, 1] < 0) & (circuit.ports.alpha[port] == 0.0)
    opens = single[branch & (circuit.ports.left_at[port, 0] >= len(circuit.net.nodes) - 1)]
    lists: Lists = []
    while len(lists) < count:
        pool = opens if len(lists) % 2 else single
        one, two = (int(h) for h in rng.choice(pool, 2, replace=False))
        if not touched(of.changes(one)) & touched(of.changes(two)):
            lists.append(ports_of(circuit, [one, two]))
    return lists
