"""Discrete consequences: what blows, pulls in, drops out, limits, under every hypothesis.

Hypotheses in one state vector share one factorisation. In each round every hypothesis that
breaks a limit moves on: diodes and regulators first, then the worst overloaded fuse alone, then
relays and units, then a fuse that is overloaded but slower than they are. Fuses go before relays
because a relay that drops out for milliseconds does not save a fuse from a dead short, and because
it ends the chatter such a short would cause; a pull-in winding's moment opens no fuse.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from backprobe.circuit.base import Bases
from backprobe.circuit.net import Flags, Floats, Ints, Net, States
from backprobe.circuit.ports import Block, Cases, Ports, entries, read, solve

QUICK = 3.5 / 1.35
"""A fuse this far over its limit goes before relays. At 350 % of the rating a blade fuse takes 0.08
to 0.5 s (Littelfuse 287 sheet, 35 and 40 A), a relay 7 ms (TE V23134 sheet)."""

ROUNDS = 48
"""Rounds after which a hypothesis that still moves counts as chattering."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """Where every hypothesis came to rest. `groups`: (states, solved blocks) per state vector;
    `states` (H, S); `steady` (H,) False where relays chatter."""

    ports: Ports
    cases: Cases
    groups: tuple[tuple[States, tuple[Block, ...]], ...]
    states: States
    steady: Flags


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


def settle(
    bases: Bases,
    limits: Limits,
    ports: Ports,
    cases: Cases,
    start: Sequence[tuple[States, Ints]],
    *,
    rounds: int = ROUNDS,
) -> Settled:
    """Bring every hypothesis to rest. `start`: (state vector, hypotheses that begin in it); one
    that still moves after `rounds` is left as it stands then."""
    rest: dict[bytes, list[Ints]] = {}
    waiting = {states.tobytes(): [which] for states, which in start}
    steady: Flags = np.ones(cases.count, bool)
    for turn in range(rounds):
        moving: dict[bytes, list[Ints]] = {}
        for key, parts in waiting.items():
            states = np.frombuffer(key, np.int8)
            which = np.concatenate(parts)
            here = np.flatnonzero(states[limits.state] == limits.leaves)
            for block in solve(bases.get(states), ports, cases, which):
                moves = _moves(bases, limits, here, states, ports, block)
                still: Flags = np.asarray(~moves.any(axis=1))
                if turn == rounds - 1:
                    steady[block.cases[~still]] = False
                    still[:] = True
                if still.any():
                    rest.setdefault(key, []).append(block.cases[still])
                _depart(limits, here, states, block.cases[~still], moves[~still], moving)
        waiting = moving
        if not waiting:
            break
    return _result(bases, ports, cases, rest, steady)


def _moves(
    bases: Bases, limits: Limits, here: Ints, states: States, ports: Ports, block: Block
) -> Flags:
    """(g, here) the moves each hypothesis of a block makes now."""
    seen, _ = read(bases.get(states), ports, block, limits.at[here], limits.value[here])
    return due(limits, here, seen[..., 0])


def due(limits: Limits, here: Ints, seen: Floats) -> Flags:
    """(g, here) the moves to make when the shifts `here` see these amounts (g, here): those over
    their limits, of them the fastest, of fuses only the one furthest over."""
    amount = np.where(limits.size[here], np.abs(seen), seen)
    broken: Flags = (amount > limits.above[here]) | (amount < limits.below[here])
    pace = np.where(broken, limits.pace[here], 9)
    pace[(pace == 1) & (amount < QUICK * limits.above[here])] = 3
    first = pace.min(axis=1, initial=9)[:, None]
    chosen: Flags = broken & (pace == first)
    fuses = np.isin(first[:, 0], (1, 3)) & (chosen.sum(axis=1) > 1)
    if fuses.any():
        bound = np.where(np.isfinite(limits.above[here]), limits.above[here], np.inf)
        over = np.where(chosen, amount / bound, -1.0)
        worst = np.zeros_like(chosen)
        worst[np.arange(len(over)), over.argmax(axis=1)] = True
        chosen[fuses] = worst[fuses]
    return chosen


def _depart(
    limits: Limits,
    here: Ints,
    states: States,
    which: Ints,
    moves: Flags,
    moving: dict[bytes, list[Ints]],
) -> None:
    """Sort the hypotheses that move by the state vector they move to."""
    while which.size:
        first = moves[0]
        same = (moves == first).all(axis=1)
        taken = here[first]
        after = states.copy()
        after[limits.state[taken]] = limits.to[taken]
        moving.setdefault(after.tobytes(), []).append(which[same])
        which, moves = which[~same], moves[~same]


def _result(
    bases: Bases,
    ports: Ports,
    cases: Cases,
    rest: dict[bytes, list[Ints]],
    steady: Flags,
) -> Settled:
    states = np.zeros((cases.count, len(bases.net.states)), np.int8)
    groups = []
    for key, parts in rest.items():
        pattern = np.frombuffer(key, np.int8)
        which = np.sort(np.concatenate(parts))
        states[which] = pattern
        groups.append((pattern, solve(bases.get(pattern), ports, cases, which)))
    return Settled(ports=ports, cases=cases, groups=tuple(groups), states=states, steady=steady)
