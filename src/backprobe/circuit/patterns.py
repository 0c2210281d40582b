"""Compiled: patterns of states by number, found again by a hash of what they are."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from backprobe.circuit.compiled import loosely
from backprobe.circuit.net import Ints, States

WORDS = 32
"""More than a state has words."""
ROOM = 1024
"""Patterns there is room for at first."""

Marks = NDArray[np.uint64]


class Patterns(NamedTuple):
    """`states` (c, S) of those met, as many as `met` (1,) says; their `hash` (c,), the exclusive or
    of the `mark` (S, WORDS) of every word; `slot` finds a number by hash, -1 for none."""

    states: States
    hash: Marks
    mark: Marks
    slot: Ints
    met: Ints


def no_patterns(states: int, room: int = ROOM) -> Patterns:
    """None met yet."""
    number = np.arange(1, states * WORDS + 1, dtype=np.uint64)
    # Mixed as in splitmix64 (Steele, Lea and Flood 2014).
    number *= np.uint64(0x9E3779B97F4A7C15)
    number = (number ^ (number >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    number = (number ^ (number >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return Patterns(
        states=np.zeros((room, states), np.int8),
        hash=np.zeros(room, np.uint64),
        mark=(number ^ (number >> np.uint64(31))).reshape(states, WORDS),
        slot=np.full(1 << (4 * room).bit_length(), -1, np.int64),
        met=np.zeros(1, np.int64),
    )


def with_room(known: Patterns, more: int = 1) -> Patterns:
    """The same with room for at least so many more."""
    count = int(known.met[0])
    if count + more <= len(known.states):
        return known
    made = no_patterns(known.states.shape[1], 4 * (len(known.states) + more))
    made.states[:count] = known.states[:count]
    made.hash[:count] = known.hash[:count]
    _entered(made.slot, made.hash, count)
    made.met[0] = count
    return made


def numbers_of(known: Patterns, states: States) -> tuple[Patterns, Ints]:
    """The patterns known with these (n, S), and their numbers."""
    known, numbers = with_room(known, len(states)), np.empty(len(states), np.int64)
    numbered(known, states, numbers)
    return known, numbers


@loosely
def _entered(slot: Ints, marks: Marks, count: int) -> None:
    """Enter patterns that are known to differ."""
    last = np.uint64(len(slot) - 1)
    for n in range(count):
        at = marks[n] & last
        while slot[at] >= 0:
            at = (at + np.uint64(1)) & last
        slot[at] = n


@loosely
def number_of(
    every: States, marks: Marks, slot: Ints, met: Ints, states: States, mark: np.uint64
) -> int:
    """The number of a pattern (S,) with this hash among those known (Patterns), entered if it is new;
    -1 where there is no room."""
    last = np.uint64(len(slot) - 1)
    at = mark & last
    while slot[at] >= 0:
        number: int = slot[at]
        if marks[number] == mark:
            different = 0
            for s in range(len(states)):
                different += every[number, s] != states[s]
            if different == 0:
                return number
        at = (at + np.uint64(1)) & last
    number = met[0]
    if number == len(every):
        return -1
    slot[at] = number
    marks[number] = mark
    for s in range(len(states)):
        every[number, s] = states[s]
    met[0] = number + 1
    return number


@loosely
def forget(known: Patterns, count: int) -> None:
    """Know only the first so many: the others leave their slots as they came, the last first."""
    last = np.uint64(len(known.slot) - 1)
    for n in range(known.met[0] - 1, count - 1, -1):
        at = known.hash[n] & last
        while known.slot[at] != n:
            at = (at + np.uint64(1)) & last
        known.slot[at] = -1
    known.met[0] = min(known.met[0], count)


@loosely
def numbered(known: Patterns, rows: States, result: Ints) -> None:
    """The numbers (n,) of state vectors (n, S)."""
    for n in range(len(rows)):
        mark = np.uint64(0)
        for s in range(rows.shape[1]):
            mark ^= known.mark[s, rows[n, s]]
        result[n] = number_of(known.states, known.hash, known.slot, known.met, rows[n], mark)
