"""Numbers and states sorted into parts, for many at a time."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from backprobe.circuit.compiled import compiled
from backprobe.circuit.net import Flags, Ints, States

Weights = NDArray[np.uint32]
ODD = np.uint32(0x9E3779B1)
"""Spreads the bits of a number (Knuth's golden ratio)."""


def joined(parts: list[Ints]) -> Ints:
    """Numbers of several parts in order."""
    if not parts:
        return np.zeros(0, np.int64)
    return parts[0] if len(parts) == 1 else np.sort(np.concatenate(parts))


def alike(moves: Flags) -> tuple[Flags, Ints]:
    """The different rows of moves, and which of them each row is."""
    kinds, label = distinct(np.packbits(moves, axis=1).view(np.int8))
    if not kinds.shape[1]:
        return moves[: len(kinds)], label
    flags = np.unpackbits(kinds.view(np.uint8), axis=1, count=moves.shape[1])
    return flags.astype(bool), label


def distinct(rows: States) -> tuple[States, Ints]:
    """The different rows of bytes, as they are first met, and which of them each row is."""
    label, first = np.empty(len(rows), np.int64), np.empty(len(rows), np.int64)
    slots = np.full(1 << max(4, 2 * len(rows) - 1).bit_length(), -1, np.int64)
    count = _told_apart(np.ascontiguousarray(rows), _weight(rows.shape[1]), slots, label, first)
    return rows[first[:count]], label


@lru_cache(maxsize=64)
def _weight(width: int) -> Weights:
    """(width,) what each byte of a row counts for."""
    return np.cumprod(np.full(width, ODD, np.uint32), dtype=np.uint32)


@compiled
def _told_apart(rows: States, weight: Weights, slots: Ints, label: Ints, first: Ints) -> int:
    """distinct() by a table of hashes with room to spare; which rows are `first` of their kind."""
    count, most = 0, len(slots) - 1
    for n in range(len(rows)):
        mark, row = np.uint32(0), rows[n]
        for k in range(len(row)):
            mark += np.uint32(np.uint8(row[k])) * weight[k]
        slot = np.int64(mark ^ (mark >> np.uint32(15))) & most
        while slots[slot] >= 0:
            same, known = True, rows[first[slots[slot]]]
            for k in range(len(row)):
                same &= row[k] == known[k]
            if same:
                break
            slot = (slot + 1) & most
        if slots[slot] < 0:
            slots[slot], first[count] = count, n
            count += 1
        label[n] = slots[slot]
    return count


def by_number(numbers: Ints, count: int) -> Ints:
    """The order that sorts numbers below `count`, equal ones as they stand."""
    short = numbers.astype(np.uint16) if count <= 1 << 16 else numbers  # sorted digit by digit
    return np.argsort(short, kind="stable")


def parted(what: Ints, label: Ints, count: int) -> list[Ints]:
    """Numbers by their label, one part for every label below `count`."""
    if count == 1:
        return [what]
    if not len(label):
        return [what] * count
    counts = np.bincount(label, minlength=count)
    most = int(counts.argmax())
    if 2 * counts[most] > len(label):  # one part takes nearly all: only the others are sorted
        rest = np.flatnonzero(label != most)
        parts = parted(what[rest], label[rest], count) if counts[most] < len(label) else None
        result = parts or [what[:0]] * count
        result[most] = what[label == most]
        return result
    order = by_number(label, count)
    return np.split(what[order], np.cumsum(counts)[:-1])
