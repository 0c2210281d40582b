"""How far off: readings against refined solutions, end states against following one by hand.

The judges are tests/oracles/nodal.py (double factors, residuals in long double until the last
correction is 1e-13) and tests/oracles/one_at_a_time.py (states moved one at a time); they share
the list of elements with the engine, nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from subject import Subject, touched

from backprobe.book.situations import Situation
from backprobe.circuit.instruments import Tap as Place
from backprobe.circuit.instruments import Taps, show, taps_of
from backprobe.circuit.pair_readings import show_pairs
from backprobe.circuit.pairs import settle_pairs
from backprobe.circuit.ports import Cases
from backprobe.circuit.settle import settle
from backprobe.circuit.situated import driven_states
from backprobe.defects.predict import Circuit
from backprobe.kinds.records import Change
from oracles import one_at_a_time
from oracles.decode import changes_of
from oracles.one_at_a_time import Tap

NEAR = 1e-6
"""A move decided by less than this share of its limit may go either way; counted, left out."""

Lists = list[list[int]]
Ints = NDArray[np.int64]


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

    def and_(self, other: Judged) -> Judged:
        """Both: of the medians the larger."""
        worse = max((self, other), key=lambda judged: judged.worst)
        return Judged(
            cases=self.cases + other.cases,
            wrong=self.wrong + other.wrong,
            near=self.near + other.near,
            restless=self.restless + other.restless,
            median=max(self.median, other.median),
            worst=worse.worst,
            inside=max(self.inside, other.inside),
            named=worse.named,
        )


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
    """Settle these lists of ports the way every single is settled, and compare."""
    cases = Cases.of(lists)
    start = [(driven_states(circuit.net, situation), np.arange(len(lists)))]
    settled = settle(circuit._bases, circuit._limits, circuit.ports, cases, start)
    shown = show(circuit._bases, settled, everywhere(circuit), slopes=False).mean
    changes = [changes_of(circuit.net, circuit.ports, cases, k) for k in range(cases.count)]
    return compared(circuit, situation, changes, settled.states, settled.steady, shown)


def judge_pairs(circuit: Circuit, situation: Situation, pairs: Ints) -> Judged:
    """Settle pairs of hypotheses (m, 2) by the pair kernel, and compare."""
    every = np.arange(circuit.cases.count)
    settled = settle_pairs(
        circuit._bases,
        circuit._limits,
        circuit.ports,
        circuit.cases,
        (pairs[:, 0], pairs[:, 1]),
        alone=[(driven_states(circuit.net, situation), every)],
    )
    shown = show_pairs(settled, everywhere(circuit)).mean.T
    lists = [ports_of(circuit, pair) for pair in zip(settled.first, settled.second, strict=True)]
    cases = Cases.of(lists)
    changes = [changes_of(circuit.net, circuit.ports, cases, k) for k in range(cases.count)]
    return compared(circuit, situation, changes, settled.states(), settled.steady, shown)


def compared(
    circuit: Circuit,
    situation: Situation,
    changes: Sequence[Sequence[Change | Tap]],
    states: NDArray[np.int8],
    steady: NDArray[np.bool_],
    volts: NDArray[np.float64],
) -> Judged:
    """Cases against the judges: their changes, end states (m, S), rest (m,), volts (m, nodes)."""
    net = circuit.net
    touched = np.array([":" not in node or "<" in node for node in net.nodes], bool)
    begin = one_at_a_time.commanded(net, situation)
    wrong = near = restless = 0
    errors: list[float] = []
    inside, worst, named = 0.0, 0.0, ""
    for case, change in enumerate(changes):
        end = one_at_a_time.settle(net, begin, change)
        if end.margin < NEAR:
            near += 1
            continue
        words = {at: net.states[k].words[states[case, k]] for at, k in net.state.items()}
        if end.steady != steady[case] or (end.steady and end.words != words):
            wrong += 1
            continue
        if not end.steady:
            restless += 1
            continue
        off = np.abs(volts[case] - [end.volts[node] for node in net.nodes])
        errors.append(float(off[touched].max()))
        inside = max(inside, float(off[~touched].max()))
        if errors[-1] > worst:
            worst, named = errors[-1], " and ".join(str(each) for each in change)
    return Judged(
        cases=len(changes),
        wrong=wrong,
        near=near,
        restless=restless,
        median=float(np.median(errors)) if errors else np.nan,
        worst=worst,
        inside=inside,
        named=named,
    )


def everywhere(circuit: Circuit) -> Taps:
    """Unloaded volts at every node against battery minus."""
    net = circuit.net
    return taps_of(net, [Place(quantity="volts", p=node, n=net.nodes[0]) for node in net.nodes])


def ports_of(circuit: Circuit, hypotheses: Iterable[int]) -> list[int]:
    """Port numbers of some hypotheses together."""
    start, ports = circuit.cases.start, circuit.cases.ports
    return [int(port) for h in hypotheses for port in ports[start[h] : start[h + 1]]]


def single_lists(of: Subject, count: int, seed: int) -> Lists:
    """Singles at random, opens and healthy among them."""
    rng = np.random.default_rng(seed)
    some = rng.choice(of.circuit.cases.count, min(count, of.circuit.cases.count), replace=False)
    return [ports_of(of.circuit, [int(h)]) for h in some]


def with_nobody(of: Subject, count: int, seed: int) -> Ints:
    """(m, 2) hypotheses at random, each paired with the one that does nothing."""
    rng = np.random.default_rng(seed)
    others = of.circuit.cases.count - 1
    some = rng.choice(others, min(count, others), replace=False)
    return np.stack([np.zeros(len(some), np.int64), 1 + some], axis=1)


def pair_sample(of: Subject, count: int, seed: int) -> Ints:
    """(m, 2) pairs of different defects on different branches, every other one of two opens."""
    rng = np.random.default_rng(seed)
    circuit = of.circuit
    single = np.flatnonzero(np.diff(circuit.cases.start) == 1)
    port = circuit.cases.ports[circuit.cases.start[single]]
    branch = (circuit.ports.left_at[port, 1] < 0) & (circuit.ports.alpha[port] == 0.0)
    opens = single[branch & (circuit.ports.left_at[port, 0] >= len(circuit.net.nodes) - 1)]
    found: list[tuple[int, int]] = []
    while len(found) < count:
        pool = opens if len(found) % 2 else single
        one, two = (int(h) for h in rng.choice(pool, 2, replace=False))
        if not touched(of.changes(one)) & touched(of.changes(two)):
            found.append((one, two))
    return np.array(found, np.int64)
