"""Plain dense nodal analysis of a plain circuit, refined in extended precision.

The textbook way (modified nodal analysis: Ho, Ruehli and Brennan, 1975): conductances between
nodes; only controlled elements and those below KILOHM keep their current as an unknown. Factored
by LAPACK in doubles; residuals are summed element by element in numpy's long double (64-bit
mantissa on x86) and fed back until the correction is below 1e-13 of the answer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.linalg as la
from numpy.typing import NDArray

from oracles.plain import Element, Plain

KILOHM = 1e3
Long = np.longdouble


@dataclass(frozen=True, slots=True)
class Solution:
    """Volts by node, amps by element, the largest correction of the last refinement (V or A)."""

    volts: dict[str, float]
    amps: dict[str, float]
    correction: float


def solve(circuit: Plain) -> Solution:
    """Solve one circuit. ArithmeticError when the refinement does not settle."""
    place = {node: k for k, node in enumerate(circuit.nodes)}
    ground, count = place[circuit.ground], len(circuit.nodes)
    kept = [e for e in circuit.elements if not e.ordinary or e.ohm < KILOHM]
    plain = [e for e in circuit.elements if e.ordinary and e.ohm >= KILOHM]
    size = count + len(kept)
    rows, columns = _terms(kept, place, left=True), _terms(kept, place, left=False)
    ohm = np.array([e.ohm for e in kept], dtype=Long)
    emf = np.array([e.emf for e in kept], dtype=Long)
    p = np.array([place[e.p] for e in plain], dtype=int)
    n = np.array([place[e.n] for e in plain], dtype=int)
    siemens = np.array([1 / Long(e.ohm) for e in plain], dtype=Long)
    lift = np.array([e.emf for e in plain], dtype=Long)
    injected = np.zeros(count, dtype=Long)
    for source in circuit.sources:
        injected[place[source.p]] -= Long(source.amps)
        injected[place[source.n]] += Long(source.amps)

    matrix = np.zeros((size, size))
    matrix[range(count), range(count)] = circuit.leak
    np.add.at(matrix, (p, p), siemens.astype(float))
    np.add.at(matrix, (n, n), siemens.astype(float))
    np.add.at(matrix, (p, n), -siemens.astype(float))
    np.add.at(matrix, (n, p), -siemens.astype(float))
    matrix[:count, count:] = columns.T
    matrix[count:, :count] = rows
    matrix[range(count, size), range(count, size)] = -ohm.astype(float)
    matrix[ground] = 0.0
    matrix[ground, ground] = 1.0
    factors = la.lu_factor(matrix)

    long_rows, long_columns = rows.astype(Long), columns.astype(Long)
    volts, amps = np.zeros(count, dtype=Long), np.zeros(len(kept), dtype=Long)
    correction = np.inf
    for _ in range(30):
        through = siemens * (volts[p] - volts[n] - lift)
        leaving = long_columns.T @ amps + Long(circuit.leak) * volts
        np.add.at(leaving, p, through)
        np.add.at(leaving, n, -through)
        at_nodes = injected - leaving
        at_nodes[ground] = -volts[ground]
        at_kept = emf + ohm * amps - long_rows @ volts
        step = la.lu_solve(factors, np.concatenate([at_nodes, at_kept]).astype(float))
        volts, amps = volts + step[:count], amps + step[count:]
        correction = float(np.max(np.abs(step)))
        if correction <= 1e-13 * max(1.0, float(np.max(np.abs(volts)))):
            break
    else:
        raise ArithmeticError(f"refinement stands at {correction:.1e}")
    through = siemens * (volts[p] - volts[n] - lift)
    currents = {e.name: float(a) for e, a in zip(kept, amps)}
    currents |= {e.name: float(a) for e, a in zip(plain, through)}
    return Solution({node: float(v) for node, v in zip(circuit.nodes, volts)}, currents, correction)


def _terms(elements: list[Element], place: dict[str, int], *, left: bool) -> NDArray[np.float64]:
    table = np.zeros((len(elements), len(place)))
    for k, element in enumerate(elements):
        for node, size in element.left if left else element.right:
            table[k, place[node]] += size
    return table
