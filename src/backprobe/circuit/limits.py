"""Limits: what moves a state, as arrays, and which moves are due first.

In each round every hypothesis that breaks a limit moves on: diodes and regulators first, then the
worst overloaded fuse alone, then relays and units, then a fuse that is overloaded but slower than
they are. Fuses go before relays because a relay that drops out for milliseconds does not save a fuse
from a dead short, and because it ends the chatter such a short would cause; a pull-in winding's
moment opens no fuse.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backprobe.circuit.net import Flags, Floats, Ints, Net, States
from backprobe.circuit.ports import entries

QUICK = 3.5 / 1.35
"""A fuse this far over its limit goes before relays. At 350 % of the rating a blade fuse takes 0.08
to 0.5 s (Littelfuse 287 sheet, 35 and 40 A), a relay 7 ms (TE V23134 sheet)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The shifts of a net as arrays: readings they watch, and their bounds."""

    at: Ints
    value: Floats
    state: Ints
    leaves: States
    to: States
    above: Floats
    below: Floats
    size: Flags
    pace: Ints
    lasting: Flags


def limits_of(net: Net) -> Limits:
    """The shifts of a net as arrays."""
    vectors = []
    for shift in net.shifts:
        if shift.branch:
            vectors.append([(net.current(shift.branch), 1.0)])
        else:
            vectors.append([(net.voltage(shift.p), 1.0), (net.voltage(shift.n), -1.0)])
    at, value = entries(vectors, 2)
    numbers = [shift.state for shift in net.shifts]
    return Limits(
        at=at,
        value=value,
        state=np.array(numbers, np.int64),
        leaves=np.array([net.word(s.state, s.leaves) for s in net.shifts], np.int8),
        to=np.array([net.word(s.state, s.to) for s in net.shifts], np.int8),
        above=np.array([shift.above for shift in net.shifts], float),
        below=np.array([shift.below for shift in net.shifts], float),
        size=np.array([shift.size for shift in net.shifts], bool),
        pace=np.array([shift.pace for shift in net.shifts], np.int64),
        lasting=np.array([shift.lasting for shift in net.shifts], bool),
    )


def due(limits: Limits, here: Ints, seen: Floats) -> Flags:
    """(g, here) the moves to make when the shifts `here` see these amounts (g, here): those over
    their limits, of them the fastest, of fuses only the one furthest over. None for nan."""
    above, below, size = limits.above[here], limits.below[here], limits.size[here]
    amount = seen.copy()
    amount[:, size] = np.abs(seen[:, size])
    chosen: Flags = (amount > above) | (amount < below)
    some = np.flatnonzero(chosen.any(axis=1))
    if some.size:
        chosen[some] = _first(limits, here, amount[some], chosen[some])
    return chosen


def _first(limits: Limits, here: Ints, amount: Floats, broken: Flags) -> Flags:
    """Of the limits broken those that are due."""
    above, paces = limits.above[here], limits.pace[here].astype(np.int8)
    pace = np.where(broken, paces, np.int8(9))
    fuse = np.flatnonzero(paces == 1)
    slow = broken[:, fuse] & (amount[:, fuse] < QUICK * above[fuse])
    pace[:, fuse] += slow * np.int8(2)
    first = pace.min(axis=1, initial=9)
    chosen: Flags = broken & (pace == first[:, None])
    blows = np.flatnonzero((first == 1) | (first == 3))
    blows = blows[chosen[blows].sum(axis=1) > 1]
    if blows.size:
        over = np.where(chosen[blows], amount[blows] / above, -1.0)
        worst = np.zeros(over.shape, bool)
        worst[np.arange(len(over)), over.argmax(axis=1)] = True
        chosen[blows] = worst
    return chosen
