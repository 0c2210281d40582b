"""Plain nodal analysis of a plain circuit, refined in extended precision.

The textbook way (modified nodal analysis: Ho, Ruehli and Brennan, 1975): conductances between
nodes; only controlled elements and those below KILOHM keep their current as an unknown. Factored
in doubles; residuals are summed element by element in numpy's long double (64-bit mantissa on
x86) and fed back until the correction is below 1e-13 of the answer, so the factorisation decides
how fast the answer comes and not what it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.linalg import splu

from oracles.plain import Plain

KILOHM = 1e3
Long = np.longdouble


@dataclass(frozen=True, slots=True)
class Solution:
    """Volts by node, amps by element, the largest correction of the last refinement (V or A)."""

    volts: dict[str, float]
    amps: dict[str, float]
    correction: float


@dataclass(frozen=True, slots=True)
class _Terms:
    """Coefficients of kept elements: element, node, value."""

    element: NDArray[np.int64]
    node: NDArray[np.int64]
    value: NDArray[np.longdouble]


def solve(circuit: Plain) -> Solution:
    """Solve one circuit. ArithmeticError when the refinement does not settle."""
    place = {node: k for k, node in enumerate(circuit.nodes)}
    ground, count = place[circuit.ground], len(circuit.nodes)
    kept, plain = [], []
    for e in circuit.elements:
        (plain if e.ohm >= KILOHM and e.ordinary else kept).append(e)
    size = count + len(kept)
    left = _terms([e.left for e in kept], place)
    right = _terms([e.right for e in kept], place)
    ohm = _long([e.ohm for e in kept])
    emf = _long([e.emf for e in kept])
    p = np.array([place[e.p] for e in plain], dtype=np.int64)
    n = np.array([place[e.n] for e in plain], dtype=np.int64)
    siemens = 1 / _long([e.ohm for e in plain])
    lift = _long([e.emf for e in plain])
    injected = np.zeros(count, dtype=Long)
    for source in circuit.sources:
        injected[place[source.p]] -= Long(source.amps)
        injected[place[source.n]] += Long(source.amps)

    diagonal, own = np.arange(count), count + np.arange(len(kept))
    leak = _long([circuit.leak_at(node) for node in circuit.nodes])
    entries = [
        (diagonal, diagonal, leak),
        (p, p, siemens),
        (n, n, siemens),
        (p, n, -siemens),
        (n, p, -siemens),
        (right.node, count + right.element, right.value),
        (count + left.element, left.node, left.value),
        (own, own, -ohm),
    ]
    i, j, value = (np.concatenate(parts) for parts in zip(*entries))
    value = np.where(i == ground, 0, value).astype(float)
    i, j, value = np.append(i, ground), np.append(j, ground), np.append(value, 1.0)
    factors = splu(coo_array((value, (i, j)), shape=(size, size)).tocsc())

    volts, amps = np.zeros(count, dtype=Long), np.zeros(len(kept), dtype=Long)
    correction = np.inf
    for _ in range(40):
        through = siemens * (volts[p] - volts[n] - lift)
        leaving = leak * volts
        np.add.at(leaving, right.node, right.value * amps[right.element])
        np.add.at(leaving, p, through)
        np.add.at(leaving, n, -through)
        at_nodes = injected - leaving
        at_nodes[ground] = -volts[ground]
        at_kept = emf + ohm * amps
        np.subtract.at(at_kept, left.element, left.value * volts[left.node])
        step = factors.solve(np.concatenate([at_nodes, at_kept]).astype(float))
        volts, amps = volts + step[:count], amps + step[count:]
        correction = float(np.max(np.abs(step)))
        if correction <= 1e-13 * max(1.0, float(np.max(np.abs(volts)))):
            break
    else:
        raise ArithmeticError(f"refinement stands at {correction:.1e}")
    through = siemens * (volts[p] - volts[n] - lift)
    currents = dict(zip((e.name for e in kept), amps.astype(float).tolist()))
    currents |= zip((e.name for e in plain), through.astype(float).tolist())
    return Solution(dict(zip(circuit.nodes, volts.astype(float).tolist())), currents, correction)


def _terms(sides: list[tuple[tuple[str, float], ...]], place: dict[str, int]) -> _Terms:
    many = np.array([len(side) for side in sides], dtype=np.int64)
    return _Terms(
        element=np.repeat(np.arange(len(sides)), many),
        node=np.array([place[node] for side in sides for node, _ in side], dtype=np.int64),
        value=_long([size for side in sides for _, size in side]),
    )


def _long(numbers: list[float]) -> NDArray[np.longdouble]:
    """By way of doubles, which they are: numpy makes long ones of a list ten times slower."""
    return np.array(numbers, dtype=float).astype(Long)
