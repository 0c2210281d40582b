"""Compiled: port currents to full precision where little is left of a port's own transfer.

A piece of wire between two opens hangs on its leak: what its ports are left with is the difference of
two numbers a billion times as large. The error that makes is taken out by what the network's own
equations miss (iterative refinement; Higham, Accuracy and Stability of Numerical Algorithms, chapter
12). With the ports' currents y and x' = x - M^-1 R y,

    r = b - M x' - R y        s = emf - L' x' + alpha y        y += C^-1 (L' M^-1 r - s)
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import inner, making
from backprobe.circuit.factor import Exact, forth
from backprobe.circuit.net import Floats, Ints
from backprobe.circuit.small import Vectors, inverted, transfer

TURNS = 2
"""Refinements where next to nothing is left. Each takes of an error what the share that is left of a
port allows (1e-7 of the amount at the leak of a wire)."""
ONCE = 1e-9
"""Share of its own transfer a port is left with from which one refinement leaves no error."""


class Room(NamedTuple):
    """Room to work in, for some drives b: what the factorised network answers, `start`
    (b, N), to `right`; the share of every port's emf and swing that belongs to a drive (b,); the
    `current` of all ports of a hypothesis and then the turns of its pattern, what they are `owed` and
    what that adds, `more` (m, b), with their `matrix` (m, m) and its inverse `solved`; `x` and `missed` (b, N) and `work` (N, b)."""

    start: Floats
    right: Floats
    emf: Floats
    swing: Floats
    current: Floats
    owed: Floats
    more: Floats
    matrix: Floats
    solved: Floats
    x: Floats
    missed: Floats
    work: Floats


@making
def room_for(size: int, ports: int, drives: int) -> Room:
    """Room for a network of `size` unknowns, so many ports and turns, so many drives."""
    return room_with(size, drives, np.empty((ports, ports)), np.empty((ports, ports)))


@making
def beside(room: Room, drives: int) -> Room:
    """Room for other drives of the same hypothesis, that shares what is prepared."""
    return room_with(room.x.shape[1], drives, room.matrix, room.solved)


@making
def room_with(size: int, drives: int, matrix: Floats, solved: Floats) -> Room:
    """Room with this system."""
    ports = len(matrix)
    return Room(
        np.zeros((drives, size)),
        np.zeros((drives, size)),
        np.zeros(drives),
        np.zeros(drives),
        np.empty((ports, drives)),
        np.empty((ports, drives)),
        np.empty((ports, drives)),
        matrix,
        solved,
        np.empty((drives, size)),
        np.empty((drives, size)),
        np.empty((size, drives)),
    )


@inner
def prepare(
    laid: Floats, own: Vectors, ports: Ints, turns: Vectors, turned: Ints, room: Room
) -> None:
    """The system of a hypothesis' ports (k,) and its pattern's turns (d,), all at once."""
    many, count = len(ports), len(turned)
    for i in range(many):
        for j in range(many):
            room.matrix[i, j] = transfer(laid, own, ports[i], own, ports[j])
        for d in range(count):
            room.matrix[i, many + d] = transfer(laid, own, ports[i], turns, turned[d])
            room.matrix[many + d, i] = transfer(laid, turns, turned[d], own, ports[i])
            if own.gain[ports[i]] != 0.0 and own.turn[ports[i]] == turned[d]:
                room.matrix[many + d, i] -= own.gain[ports[i]]
        room.matrix[i, i] += own.alpha[ports[i]]
    for d in range(count):
        for e in range(count):
            room.matrix[many + d, many + e] = transfer(laid, turns, turned[d], turns, turned[e])
        room.matrix[many + d, many + d] += turns.alpha[turned[d]]
    inverted(room.matrix, room.solved, many + count)


@inner
def refine(
    exact: Exact,
    laid: Floats,
    own: Vectors,
    ports: Ints,
    turns: Vectors,
    turned: Ints,
    room: Room,
    left: float,
) -> None:
    """The solution `room.x` to full precision, as prepared, and the currents of ports and then turns.
    `left`: the least share of its own transfer that any of them is left with."""
    many, count, drives = len(ports), len(turned), len(room.emf)
    for i in range(many + count):
        for b in range(drives):
            room.current[i, b] = 0.0
    for again in range(2 if left > ONCE else 1 + TURNS):
        if again:
            miss(exact, laid, own, ports, turns, turned, room)
        else:
            for b in range(drives):
                for n in range(room.x.shape[1]):
                    room.x[b, n] = room.start[b, n]
                    room.missed[b, n] = 0.0
        for i in range(many):
            owe(own, ports[i], i, room)
        for d in range(count):
            owe(turns, turned[d], many + d, room)
            for i in range(many):
                if own.gain[ports[i]] != 0.0 and own.turn[ports[i]] == turned[d]:
                    for b in range(drives):
                        room.owed[many + d, b] += own.gain[ports[i]] * room.current[i, b]
        for i in range(many + count):
            for b in range(drives):
                room.more[i, b] = 0.0
            for j in range(many + count):
                for b in range(drives):
                    room.more[i, b] += room.solved[i, j] * room.owed[j, b]
            for b in range(drives):
                room.current[i, b] += room.more[i, b]
    # What is still missed goes where it belongs, then the last currents.
    for b in range(drives):
        for n in range(room.x.shape[1]):
            room.x[b, n] += room.missed[b, n]
    for i in range(many):
        flow(laid, own, ports[i], room.more[i], room)
    for d in range(count):
        flow(laid, turns, turned[d], room.more[many + d], room)


@inner
def miss(
    exact: Exact, laid: Floats, own: Vectors, ports: Ints, turns: Vectors, turned: Ints, room: Room
) -> None:
    """`room.x`: x', and `room.missed`: M^-1 r."""
    drives, size = room.x.shape
    for b in range(drives):
        for n in range(size):
            room.x[b, n] = room.start[b, n]
            room.work[n, b] = room.right[b, n]
    for i in range(len(ports)):
        flow(laid, own, ports[i], room.current[i], room)
    for d in range(len(turned)):
        flow(laid, turns, turned[d], room.current[len(ports) + d], room)
    for j in range(size):
        for e in range(exact.begin[exact.rank[j]], exact.begin[exact.rank[j] + 1]):
            for b in range(drives):
                room.work[exact.at[e], b] -= exact.value[e] * room.x[b, j]
    # What `missed` held is used up: as (N, b), the shape that solving takes, it is only room.
    solving = room.missed.reshape((size, drives))
    for n in range(size):
        for b in range(drives):
            solving[exact.row[n], b] = room.work[n, b]
    forth(exact.lower, exact.upper, exact.pivot, 0, solving)
    for n in range(size):
        for b in range(drives):
            room.work[n, b] = solving[exact.column[n], b]
    for b in range(drives):
        for n in range(size):
            room.missed[b, n] = room.work[n, b]


@inner
def flow(laid: Floats, of: Vectors, p: int, amps: Floats, room: Room) -> None:
    """Let currents (b,) flow through a port."""
    drives = len(room.emf)
    for e in range(of.rights[p]):
        feed, column = of.right[p, e], laid[of.right_in[p, e]]
        for b in range(drives):
            each, x = feed * amps[b], room.x[b]
            room.work[of.right_at[p, e], b] -= each
            for n in range(len(column)):
                x[n] -= each * column[n]


@inner
def owe(of: Vectors, p: int, at: int, room: Room) -> None:
    """L' M^-1 r - s of a port."""
    for b in range(len(room.emf)):
        total = -of.alpha[p] * room.current[at, b]
        total -= of.emf[p] * room.emf[b] + of.swing[p] * room.swing[b]
        for a in range(of.lefts[p]):
            n = of.left_at[p, a]
            total += of.left[p, a] * (room.missed[b, n] + room.x[b, n])
        room.owed[at, b] = total
