"""Compiled: solving with the factors SuperLU found, many right-hand sides side by side.

SuperLU's own way of solving takes ten times as long per column at 1250 unknowns (measured): there
each column is on its own, here a block of them is one stretch of memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from backprobe.circuit.compiled import compiled
from backprobe.circuit.net import Floats, Ints

Places = NDArray[np.int32]
BLOCK: Final = 16
"""Columns solved at a time (measured)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Triangle:
    """A triangular factor without its diagonal, by columns."""

    begin: Ints
    at: Ints
    value: Floats

    @property
    def parts(self) -> tuple[Ints, Ints, Floats]:
        """For compiled code."""
        return self.begin, self.at, self.value

    @staticmethod
    def of(factor: csc_array) -> tuple[Triangle, Floats]:
        """The factor and its diagonal."""
        size = factor.shape[1]
        begin, diagonal = np.zeros(size + 1, np.int64), np.ones(size)
        at, value = np.empty(factor.nnz, np.int64), np.empty(factor.nnz)
        count = _parted(factor.indptr, factor.indices, factor.data, begin, at, value, diagonal)
        return Triangle(begin=begin, at=at[:count], value=value[:count]), diagonal


@dataclass(frozen=True, slots=True, kw_only=True)
class Factor:
    """M = P' L U Q': `row` (N,) is where P puts an equation, `column` (N,) where Q' puts an unknown;
    `pivot` (N,) the diagonal of U."""

    lower: Triangle
    upper: Triangle
    pivot: Floats
    row: Ints
    column: Ints

    @staticmethod
    def of(matrix: csc_array, rank: Ints) -> Factor:
        """Factors of a matrix whose columns were put in the order `rank` beforehand."""
        lu = splu(matrix, permc_spec="NATURAL")
        lower, _ = Triangle.of(lu.L)
        upper, pivot = Triangle.of(lu.U)
        return Factor(
            lower=lower,
            upper=upper,
            pivot=pivot,
            row=lu.perm_r.astype(np.int64),
            column=lu.perm_c[rank].astype(np.int64),
        )

    @property
    def weight(self) -> int:
        """Numbers kept."""
        return 2 * (len(self.lower.at) + len(self.upper.at)) + 5 * len(self.pivot)

    def solve(self, right: Floats) -> Floats:
        """M^-1 right, (N, c)."""
        work = np.empty(right.shape)
        work[self.row] = right
        forth(self.lower.parts, self.upper.parts, self.pivot, 0, work)
        return np.asarray(work[self.column])

    def units(self, which: Ints, result: Floats) -> None:
        """Columns of the inverse laid down as rows of `result` (c, N)."""
        work = np.empty((len(self.pivot), BLOCK))
        for first in range(0, len(which), BLOCK):
            some = self.row[which[first : first + BLOCK]]
            work[:] = 0.0
            work[some, np.arange(some.size)] = 1.0
            forth(self.lower.parts, self.upper.parts, self.pivot, some.min(), work)
            _laid(work, self.column, result[first : first + some.size])

    def back(self, left: Floats) -> Floats:
        """M'^-1 left, (N, c): rows of the inverse, laid down as columns."""
        work = np.empty(left.shape)
        work[self.column] = left
        _back(self.lower.parts, self.upper.parts, self.pivot, work)
        return np.asarray(work[self.row])


class Exact(NamedTuple):
    """A factorised network's own equations: its matrix by columns, the column `rank` (N,) of every
    unknown, `right` (2, N) as Base.x answers it; and its factors."""

    begin: Ints
    at: Ints
    value: Floats
    rank: Ints
    right: Floats
    lower: tuple[Ints, Ints, Floats]
    upper: tuple[Ints, Ints, Floats]
    pivot: Floats
    row: Ints
    column: Ints


@compiled
def _parted(
    start: Places,
    rows: Places,
    values: Floats,
    begin: Ints,
    at: Ints,
    value: Floats,
    diagonal: Floats,
) -> int:
    """A triangle's columns without its diagonal, and that; how many numbers are left."""
    count = 0
    for j in range(len(diagonal)):
        for k in range(start[j], start[j + 1]):
            if rows[k] == j:
                diagonal[j] = values[k]
            else:
                at[count], value[count] = rows[k], values[k]
                count += 1
        begin[j + 1] = count
    return count


@compiled
def forth(
    lower: tuple[Ints, Ints, Floats],
    upper: tuple[Ints, Ints, Floats],
    pivot: Floats,
    first: int,
    work: Floats,
) -> None:
    """Through L and then U, in place; all before the row `first` is zero."""
    size, many = work.shape
    begin, at, value = lower
    above, over, amount = upper
    for j in range(first, size):
        some = False
        for c in range(many):
            if work[j, c] != 0.0:
                some = True
                break
        if some:
            for k in range(begin[j], begin[j + 1]):
                for c in range(many):
                    work[at[k], c] -= value[k] * work[j, c]
    for j in range(size - 1, -1, -1):
        scale = 1.0 / pivot[j]
        for c in range(many):
            work[j, c] *= scale
        for k in range(above[j], above[j + 1]):
            for c in range(many):
                work[over[k], c] -= amount[k] * work[j, c]


@compiled
def _back(
    lower: tuple[Ints, Ints, Floats],
    upper: tuple[Ints, Ints, Floats],
    pivot: Floats,
    work: Floats,
) -> None:
    """Through U' and then L', in place."""
    size, many = work.shape
    begin, at, value = lower
    above, over, amount = upper
    for j in range(size):
        for k in range(above[j], above[j + 1]):
            for c in range(many):
                work[j, c] -= amount[k] * work[over[k], c]
        scale = 1.0 / pivot[j]
        for c in range(many):
            work[j, c] *= scale
    for j in range(size - 1, -1, -1):
        for k in range(begin[j], begin[j + 1]):
            for c in range(many):
                work[j, c] -= value[k] * work[at[k], c]


@compiled
def _laid(work: Floats, column: Ints, result: Floats) -> None:
    """Solved columns as rows, every unknown where it belongs."""
    for i in range(len(column)):
        row = work[column[i]]  # side by side in memory, which the columns are not
        for c in range(len(result)):
            result[c, i] = row[c]
