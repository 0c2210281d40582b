"""Compiled: which two hypotheses are two faults."""

from __future__ import annotations

from typing import NamedTuple

from backprobe.circuit.compiled import loosely, within
from backprobe.circuit.net import Flags, Ints


class Marks(NamedTuple):
    """What tells hypotheses apart: the `atom` (H,) each is of, the port's `vector` (H,) of those of one
    port, else -1, the branches each has `touched` (H, B), and of those of one port which these are,
    `slots` (H, 2), -1 for none."""

    atom: Ints
    vector: Ints
    touched: Flags
    slots: Ints


@within
def _two(of: Marks, a: int, b: int) -> bool:
    """Whether a, and b of one port, are of two atoms and share neither port nor branch."""
    met = of.atom[a] == of.atom[b] or of.vector[a] == of.vector[b]
    for k in range(2):
        branch = of.slots[b, k]
        met |= branch >= 0 and of.touched[a, branch]
    return not met


@loosely
def are_apart(of: Marks, first: Ints, second: Ints, result: Flags) -> None:
    """Which pairs (m,), (m,) are two faults."""
    for p in range(len(first)):
        result[p] = _two(of, first[p], second[p])


@loosely
def every_two(of: Marks, order: Ints, events: int, first: Ints, second: Ints) -> int:
    """Every two hypotheses of `order` (n,) that are two faults, but for two of the `events` it begins
    with. How many."""
    count = 0
    for i in range(len(order)):
        for j in range(max(i + 1, events), len(order)):
            first[count], second[count] = order[i], order[j]
            count += _two(of, order[i], order[j])
    return count
