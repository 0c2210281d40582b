"""Compiled: what moves in a pattern of states, told from the amounts that limits watch."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import inner, piece
from backprobe.circuit.limits import QUICK
from backprobe.circuit.net import Flags, Floats, Ints, States


class Rules(NamedTuple):
    """What moves states (circuit.limits). `watched` (K,): the turn whose current a limit watches, -1
    for none."""

    state: Ints
    leaves: States
    to: States
    above: Floats
    below: Floats
    size: Flags
    pace: Ints
    watched: Ints
    at: Ints
    value: Floats


@inner
def close_call(
    amount: Floats,
    strain: Floats,
    rules: Rules,
    active: Ints,
    awake: int,
    there: Flags,
    share: float,
) -> bool:
    """Whether some amount is so near to its limit that digits decide which were lost: the `share` of
    what was added and taken off on the way, `strain` (K,)."""
    for a in range(awake):
        k, within = active[a], share * strain[a]
        if rules.watched[k] >= 0 and not there[rules.watched[k]]:
            continue  # it carries nothing, to the last digit
        size = abs(amount[a]) if rules.size[k] else amount[a]
        if abs(size - rules.above[k]) < within or abs(amount[a] - rules.below[k]) < within:
            return True
    return False


@piece
def moved_on(amount: Floats, rules: Rules, active: Ints, awake: int, states: States) -> int:
    """Make the moves that are due (as circuit.limits.due): 1, or 0 when there is none."""
    first, over, worst = 9, -1.0, -1
    for a in range(awake):
        k = active[a]
        pace = due_at(amount[a], rules, k)
        if pace > first:
            continue
        size = abs(amount[a]) if rules.size[k] else amount[a]
        if pace < first or size / rules.above[k] > over:
            over, worst = size / rules.above[k], a
        first = pace
    if first == 9:
        return 0
    for a in range(awake):
        k = active[a]
        if first in (1, 3) and a != worst:
            continue
        if due_at(amount[a], rules, k) == first:
            states[rules.state[k]] = rules.to[k]
    return 1


@piece
def due_at(amount: float, rules: Rules, k: int) -> int:
    """The pace at which a limit moves its state, 9 where it does not."""
    size = abs(amount) if rules.size[k] else amount
    if not (size > rules.above[k] or size < rules.below[k]):
        return 9
    if rules.pace[k] == 1 and size < QUICK * rules.above[k]:
        return 3
    pace: int = rules.pace[k]
    return pace


@inner
def spared(
    amount: Floats, rules: Rules, active: Ints, awake: int, there: Flags, spare: Floats
) -> bool:
    """Fills in one over what every amount may change by before something else is due (0 where it
    may change at will); whether all whose amounts change by less move alike. They do not where the
    most overloaded of several is picked."""
    first, due = 9, 0
    for a in range(awake):
        k = active[a]
        size, least = abs(amount[a]) if rules.size[k] else amount[a], np.inf
        for limit in (rules.above[k], rules.below[k], QUICK * rules.above[k]):
            least = min(least, abs(size - limit))
        t = rules.watched[k]
        spare[a] = 0.0 if t >= 0 and not there[t] else 1.0 / least
        pace = due_at(amount[a], rules, k)
        due = due + 1 if pace == first else 1 if pace < first else due
        first = min(first, pace)
    return due == 1 or first not in (1, 3)


@piece
def reaching(watch: Floats, spare: Floats, active: Ints, awake: int) -> float:
    """How far a unit fed into an equation, `watch` (K,), goes of what the amounts may change by."""
    most = 0.0
    for a in range(awake):
        most = max(most, abs(watch[active[a]]) * spare[a])
    return most
