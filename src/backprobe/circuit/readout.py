"""Compiled: what instruments show under hypotheses at rest, all on one factorisation.

With w what the ports' currents do to a reading and l what a test current does to them,

    V = V0 - w y        Z = Z0 - w C'^-1 l
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import compiled
from backprobe.circuit.factor import Exact
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.refine import Room, prepare, refine, room_for
from backprobe.circuit.small import Vectors, bench, put_in, take_out

SWAMPED = 1e6
"""A resistance that is the difference of numbers so many times its size is found anew."""
KNOWN, ASKED = 1, 2
"""Resistance at the probes: known already, or to be found; 0 where no instrument loads them."""


class Ground(NamedTuple):
    """A factorisation to read on: its equations, columns of the inverse `laid` down as rows (c, N), `x` (N, 2), and a port for each turn."""

    exact: Exact
    laid: Floats
    x: Floats
    turns: Vectors


class Resting(NamedTuple):
    """Hypotheses at rest: who owns which ports (-1 where it does nothing), and of every pattern its
    turns: turned[begin[p]:begin[p + 1]]."""

    start: Ints
    ports: Ints
    own: Vectors
    begin: Ints
    turned: Ints


class Spots(NamedTuple):
    """Where instruments touch, each place once: unknowns `at` and `value` (u, 2) that add up, where a
    test current enters, `far_at` (`far_in` in solved columns) and `far` (u, 2), and whether resistance
    is asked for there."""

    at: Ints
    value: Floats
    far_at: Ints
    far_in: Ints
    far: Floats
    asked: Flags


class Meters(NamedTuple):
    """The instruments: at which place (f,), input ohm, whether it shows ohms, and what is known of
    the resistance at its probes (KNOWN, ASKED or 0)."""

    place: Ints
    ohm: Floats
    shows_ohms: Flags
    source: States


@compiled
def readout(
    ground: Ground,
    resting: Resting,
    places: Spots,
    meters: Meters,
    order: Ints,
    label: Ints,
    mean: Floats,
    change: Floats,
    source: Floats,
    reads: float,
) -> None:
    """Fill in readings, their change per volt of the battery and the resistance at the probes (H, f),
    for the hypotheses `order` (n,), sorted by their pattern `label` (n,). A port that is left with
    less than the share `reads` of its own transfer is refined."""
    many, widest, most = len(places.at), 1, 1
    for h in order:
        widest = max(widest, resting.start[h + 1] - resting.start[h])
    for p in range(len(resting.begin) - 1):
        most = max(most, resting.begin[p + 1] - resting.begin[p])
    work = bench(most, widest)
    fine = room_for(len(ground.x), most + widest, 2)
    test, largest = room_for(len(ground.x), most + widest, 1), np.empty(many)
    for n in range(len(ground.x)):  # all sources, and a volt in every battery
        for c in range(2):
            fine.start[n, c] = ground.x[n, c]
            fine.right[n, c] = ground.exact.right[c, n]
    fine.emf[0], fine.swing[1] = 1.0, 1.0
    least = 1.0
    room, turned = np.empty(widest, np.int64), resting.turned[:0]
    seen, felt, passed = np.empty((most, many)), np.empty((most, many)), np.empty((most, many))
    weight, pull = np.empty((widest, many)), np.empty((widest, many))
    bare, clear, volts = np.empty((2, many)), np.empty((2, many)), np.empty((2, many))
    bare_ohm, clear_ohm, ohms = np.zeros(many), np.zeros(many), np.empty(many)
    untouched(ground, places, bare, bare_ohm)
    asked = False
    for u in range(many):
        asked |= places.asked[u]
    for n in range(len(order)):
        h = order[n]
        if n == 0 or label[n] != label[n - 1]:
            turned = resting.turned[resting.begin[label[n]] : resting.begin[label[n] + 1]]
            least = take_out(ground.laid, ground.x, ground.turns, turned, work)
            again(clear[0], bare[0])
            again(clear[1], bare[1])
            again(clear_ohm, bare_ohm)
            for i in range(len(turned)):
                weigh(seen[i], ground, ground.turns, turned[i], places)
                for c in range(2):
                    less(clear[c], work.flow[i, c], seen[i])
            if asked:
                for i in range(len(turned)):
                    feel(felt[i], ground, ground.turns, turned[i], places)
                for i in range(len(turned)):
                    for u in range(many):
                        passed[i, u] = 0.0
                    for j in range(len(turned)):
                        less(passed[i], -work.inverse[i, j], felt[j])
                    for u in range(many):
                        clear_ohm[u] -= seen[i, u] * passed[i, u]
        own, left = 0, least
        for c in range(resting.start[h], resting.start[h + 1]):
            if resting.ports[c] >= 0:
                room[own] = resting.ports[c]
                own += 1
        ports = room[:own]
        if own:
            left = min(
                left,
                put_in(ground.laid, ground.x, ground.turns, turned, resting.own, ports, work),
            )
        if not left >= reads:
            prepare(ground.laid, resting.own, ports, ground.turns, turned, fine)
            refine(ground.exact, ground.laid, resting.own, ports, ground.turns, turned, fine)
            for c in range(2):
                for u in range(many):
                    volts[c, u] = places.value[u, 0] * fine.x[places.at[u, 0], c]
                    volts[c, u] += places.value[u, 1] * fine.x[places.at[u, 1], c]
            if asked:
                again(ohms, bare_ohm)
                for u in range(many):
                    largest[u] = abs(ohms[u])
                for i in range(own):
                    weigh(weight[i], ground, resting.own, ports[i], places)
                    feel(pull[i], ground, resting.own, ports[i], places)
                for i in range(own + len(turned)):
                    row = weight[i] if i < own else seen[i - own]
                    for j in range(own + len(turned)):
                        column = pull[j] if j < own else felt[j - own]
                        for u in range(many):
                            part = row[u] * fine.solved[i, j] * column[u]
                            largest[u] = max(largest[u], abs(part))
                            ohms[u] -= part
                ready = False
                for u in range(many):
                    if places.asked[u] and largest[u] > SWAMPED * (abs(ohms[u]) + 0.01):
                        if not ready:
                            prepare(ground.laid, resting.own, ports, ground.turns, turned, test)
                            ready = True
                        ohms[u] = tested(ground, resting.own, ports, turned, places, u, test)
        else:
            for i in range(own):
                weigh(weight[i], ground, resting.own, ports[i], places)
                for d in range(len(turned)):
                    less(weight[i], work.through[d, i], seen[d])
            for c in range(2):
                again(volts[c], clear[c])
                for i in range(own):
                    less(volts[c], work.current[i, c], weight[i])
            again(ohms, clear_ohm)
            if asked:
                for j in range(own):
                    feel(pull[j], ground, resting.own, ports[j], places)
                    for d in range(len(turned)):
                        less(pull[j], work.near[j, d], passed[d])
                for i in range(own):
                    for j in range(own):
                        for u in range(many):
                            ohms[u] -= weight[i, u] * work.solved[i, j] * pull[j, u]
        for f in range(len(meters.place)):
            u = meters.place[f]
            mean[h, f] = volts[0, u]
            change[h, f] = volts[1, u]
            if meters.source[f] == ASKED:
                source[h, f] = ohms[u]
            if meters.source[f]:
                ohm = source[h, f]
                if meters.shows_ohms[f]:
                    mean[h, f] = ohm
                    change[h, f] = 0.0
                else:
                    load = 1.0 / (1.0 + max(ohm, 0.0) / meters.ohm[f])
                    mean[h, f] *= load
                    change[h, f] *= load


@compiled
def tested(
    ground: Ground, own: Vectors, ports: Ints, turned: Ints, places: Spots, u: int, test: Room
) -> float:
    """Volts at a place per ampere of test current there, to full precision, as prepared."""
    for n in range(len(test.start)):
        test.start[n, 0] = 0.0
        test.right[n, 0] = 0.0
    for e in range(2):
        if places.far[u, e] != 0.0:
            column = ground.laid[places.far_in[u, e]]
            test.right[places.far_at[u, e], 0] += places.far[u, e]
            for n in range(len(column)):
                test.start[n, 0] += places.far[u, e] * column[n]
    refine(ground.exact, ground.laid, own, ports, ground.turns, turned, test)
    total: float = places.value[u, 0] * test.x[places.at[u, 0], 0]
    total += places.value[u, 1] * test.x[places.at[u, 1], 0]
    return total


@compiled
def untouched(ground: Ground, places: Spots, bare: Floats, ohms: Floats) -> None:
    """Readings (2, u) and resistances (u,) of the factorised network itself."""
    for u in range(len(places.at)):
        for c in range(2):
            bare[c, u] = 0.0
            for w in range(2):
                bare[c, u] += places.value[u, w] * ground.x[places.at[u, w], c]
        if places.asked[u]:
            for w in range(2):
                for e in range(2):
                    ohms[u] += (
                        places.value[u, w]
                        * places.far[u, e]
                        * ground.laid[places.far_in[u, e], places.at[u, w]]
                    )


@compiled
def again(row: Floats, other: Floats) -> None:
    """Make a row (u,) what the other is."""
    for u in range(len(row)):
        row[u] = other[u]


@compiled
def less(row: Floats, times: float, other: Floats) -> None:
    """Take so many times the other off a row (u,)."""
    for u in range(len(row)):
        row[u] -= times * other[u]


@compiled
def weigh(row: Floats, ground: Ground, of: Vectors, p: int, places: Spots) -> None:
    """What an ampere through a port does to the readings (u,)."""
    for u in range(len(row)):
        row[u] = 0.0
    for b in range(of.rights[p]):
        laid, feed = ground.laid[of.right_in[p, b]], of.right[p, b]
        for u in range(len(row)):
            row[u] += feed * (
                places.value[u, 0] * laid[places.at[u, 0]]
                + places.value[u, 1] * laid[places.at[u, 1]]
            )


@compiled
def feel(row: Floats, ground: Ground, of: Vectors, p: int, places: Spots) -> None:
    """What a test current of an ampere does to a port (u,)."""
    for u in range(len(row)):
        row[u] = 0.0
    for a in range(of.lefts[p]):
        at, share = of.left_at[p, a], of.left[p, a]
        for u in range(len(row)):
            if places.asked[u]:
                row[u] += share * (
                    places.far[u, 0] * ground.laid[places.far_in[u, 0], at]
                    + places.far[u, 1] * ground.laid[places.far_in[u, 1], at]
                )
