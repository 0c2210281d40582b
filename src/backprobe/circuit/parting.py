"""Numbers and states sorted into parts, for many at a time."""

from __future__ import annotations

import numpy as np

from backprobe.circuit.net import Flags, Ints, States


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
    """The different rows of bytes, and which of them each row is."""
    if not rows.size:
        return rows[:1], np.zeros(len(rows), np.int64)
    wide = np.zeros((len(rows), -(-rows.shape[1] // 8) * 8), np.int8)
    wide[:, : rows.shape[1]] = rows
    words = wide.view(np.uint64)
    odd = np.cumsum(np.full(words.shape[1], 0x9E3779B97F4A7C15, np.uint64)) | np.uint64(1)
    mixed = (words ^ (words >> np.uint64(29))) * odd
    _, first, label = np.unique(
        (mixed ^ (mixed >> np.uint64(32))).sum(axis=1), return_index=True, return_inverse=True
    )
    kinds = rows[first]
    if (kinds[label] == rows).all():
        return kinds, label
    kinds, label = np.unique(rows, axis=0, return_inverse=True)  # two rows of one sum
    return kinds, label.ravel()


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
