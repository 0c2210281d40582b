"""The plain way: a sparse matrix per defect or pair, factorised anew, one solve.

Nodal analysis (conductances; Ho, Ruehli and Brennan, 1975), one unknown per node, with a current
of its own only for what has no conductance. The pattern is laid out once with a place for every
change; the order that keeps the factors sparse is found once; a case adds its few numbers to a
copy of the values, calls SuperLU through scipy and solves. No consequences, no meter.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isinf

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from backprobe.kinds.records import Bridge, Change, Lift, Series
from oracles.one_at_a_time import Tap
from oracles.plain import Element, Plain

Changes = Sequence[Change | Tap]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Step = tuple[Ints, Floats, Ints, Floats]
"""What a defect adds: at which matrix places how much, at which right-hand places how much."""


class Naive:
    """A circuit, and the defects that can be put into it. Taps get a node of their own: a wire
    that is tapped stands in the matrix in pieces."""

    def __init__(self, circuit: Plain, defects: Sequence[Changes]) -> None:
        self._elements = {element.name: element for element in circuit.elements}
        self._place = {node: k for k, node in enumerate(circuit.nodes)}
        self._ground = self._place[circuit.ground]
        self._middle: dict[tuple[str, float], int] = {}
        self._entries: dict[tuple[int, int], float] = {}
        self._right: dict[int, float] = {}
        taps: dict[str, set[float]] = {}
        for change in [change for changes in defects for change in changes]:
            if isinstance(change, Tap):
                taps.setdefault(change.branch, set()).add(change.t)
                if change.to_t is not None:
                    taps.setdefault(change.to, set()).add(change.to_t)
        size = len(circuit.nodes)
        for wire in sorted(taps):
            for t in sorted(taps[wire]):
                self._middle[wire, t] = size
                size += 1
        self._pieces: dict[str, tuple[int, float]] = {}
        for node, at in self._place.items():
            self._add(at, at, circuit.leak_at(node))
        for element in circuit.elements:
            if element.ordinary and element.ohm > 0.0:
                self._resistor(element, sorted(taps.get(element.name, ())))
            else:
                size = self._with_current(element, size)
        for source in circuit.sources:
            self._push(self._place[source.p], -source.amps)
            self._push(self._place[source.n], source.amps)
        self.size = size
        steps = [self._steps(changes) for changes in defects]
        for entries, _ in steps:
            for at in entries:
                self._entries.setdefault(at, 0.0)
        self._lay_out()
        self.steps = [self._placed(*step) for step in steps]

    def _lay_out(self) -> None:
        """Compressed columns in an order found once; the ground's row and column say v = 0."""
        kept = [k for k in range(self.size) if k != self._ground]
        dense = np.full(self.size, -1, np.int64)
        dense[kept] = np.arange(len(kept))
        inside = [(i, j) for i, j in self._entries if dense[i] >= 0 and dense[j] >= 0]
        i = dense[[i for i, _ in inside]]
        j = dense[[j for _, j in inside]]
        value = np.array([self._entries[at] for at in inside])
        count = len(kept)
        order = splu(csc_array((value, (i, j)), shape=(count, count)), permc_spec="MMD_AT_PLUS_A")
        rank = order.perm_c.astype(np.int64)
        i, j = rank[i], rank[j]
        sorting = np.lexsort((i, j))
        indices = i[sorting].astype(np.int32)
        indptr = np.searchsorted(j[sorting], np.arange(count + 1)).astype(np.int32)
        self._value = value[sorting]
        self._matrix = csc_array((self._value, indices, indptr), shape=(count, count))
        self._matrix.has_sorted_indices = True
        where = np.empty(len(inside), np.int64)
        where[sorting] = np.arange(len(inside))
        self._where = dict(zip(inside, where.tolist(), strict=True))
        self._row = np.where(dense >= 0, rank[np.maximum(dense, 0)], -1)
        self._drive = np.zeros(count)
        for k, amps in self._right.items():
            if self._row[k] >= 0:
                self._drive[self._row[k]] += amps
        self._count = count

    def solve(self, *cases: int) -> Floats:
        """Every unknown but the ground, in the order of the matrix, with these defects."""
        value, drive = self._value.copy(), self._drive.copy()
        for case in cases:
            at, size, row, amps = self.steps[case]
            value[at] += size
            drive[row] += amps
        self._matrix.data = value
        factors = splu(self._matrix, permc_spec="NATURAL")
        solved: Floats = factors.solve(drive)
        return solved

    def volts(self, solved: Floats, nodes: Sequence[str]) -> Floats:
        """Node voltages out of a solution."""
        rows = np.array([self._row[self._place[node]] for node in nodes])
        return np.where(rows >= 0, solved[np.maximum(rows, 0)], 0.0)

    # ------------------------------------------------------------ what goes in

    def _add(self, i: int, j: int, siemens: float) -> None:
        self._entries[i, j] = self._entries.get((i, j), 0.0) + siemens

    def _push(self, node: int, amps: float) -> None:
        self._right[node] = self._right.get(node, 0.0) + amps

    def _resistor(self, element: Element, taps: list[float]) -> None:
        ends = [0.0, *taps, 1.0]
        nodes = [self._place[element.p]]
        nodes += [self._middle[element.name, t] for t in taps]
        nodes.append(self._place[element.n])
        for j in range(len(nodes) - 1):
            piece = max(1e-9, element.ohm * (ends[j + 1] - ends[j]))
            self._pieces[element.name] = (nodes[j], piece)
            for entry in _stamp(nodes[j], nodes[j + 1], 1 / piece):
                self._add(*entry)
            if j == len(nodes) - 2 and element.emf:
                self._push(nodes[j], element.emf / piece)
                self._push(nodes[j + 1], -element.emf / piece)

    def _with_current(self, element: Element, own: int) -> int:
        for node, share in element.left:
            self._add(own, self._place[node], share)
        for node, share in element.right:
            self._add(self._place[node], own, share)
        self._add(own, own, -element.ohm)
        self._push(own, element.emf)
        return own + 1

    def _steps(
        self, changes: Changes
    ) -> tuple[dict[tuple[int, int], float], list[tuple[int, float]]]:
        entries: dict[tuple[int, int], float] = {}
        pushes: list[tuple[int, float]] = []
        for change in changes:
            match change:
                case Tap(branch=wire, t=t, to=to, to_t=to_t, ohm=ohm):
                    p = self._middle[wire, t]
                    n = self._place[to] if to_t is None else self._middle[to, to_t]
                    size, emf = 1 / max(ohm, 1e-4), 0.0
                case Bridge(p=a, n=b, ohm=float() | int() as ohm, emf=float() | int() as emf):
                    p, n, size = self._place[a], self._place[b], 1 / max(float(ohm), 1e-4)
                case Series(branch=branch, ohm=float() | int() as ohm):
                    if branch not in self._pieces:
                        continue
                    p, piece = self._pieces[branch]
                    element = self._elements[branch]
                    n = self._place[element.n]
                    size = (0.0 if isinf(ohm) else 1 / (piece + ohm)) - 1 / piece
                    emf = element.emf
                case Lift(branch=branch, emf=float() | int() as emf):
                    if branch not in self._pieces:
                        continue
                    p, piece = self._pieces[branch]
                    n, size = self._place[self._elements[branch].n], 0.0
                    pushes += [(p, emf / piece), (n, -emf / piece)]
                case _:
                    raise TypeError(change)
            for i, j, siemens in _stamp(p, n, size):
                entries[i, j] = entries.get((i, j), 0.0) + siemens
            if emf and size:
                pushes += [(p, emf * size), (n, -emf * size)]
        return entries, pushes

    def _placed(
        self, entries: dict[tuple[int, int], float], pushes: list[tuple[int, float]]
    ) -> Step:
        inside = [(self._where[at], size) for at, size in entries.items() if at in self._where]
        rows = [(int(self._row[k]), amps) for k, amps in pushes if self._row[k] >= 0]
        return (
            np.array([at for at, _ in inside], np.int64),
            np.array([size for _, size in inside], float),
            np.array([row for row, _ in rows], np.int64),
            np.array([amps for _, amps in rows], float),
        )


def _stamp(p: int, n: int, siemens: float) -> list[tuple[int, int, float]]:
    return [(p, p, siemens), (n, n, siemens), (p, n, -siemens), (n, p, -siemens)]
