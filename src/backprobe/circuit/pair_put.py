"""Compiled: things put into the network one after the other, and what others find left of it.

The turns of a pattern, then the ports of a pair's first hypothesis, then the second's are put in as
Gauss eliminates. With the ones before in it, thing i has its own transfer p_i and drive left, and takes
w_i off what is watched or read. A port v that comes after them finds

    u_i = z_iv - sum over j < i of b_ij u_j / p_j       b_i the same from v to i       p_v = z_vv + alpha - sum of b_i u_i / p_i

What comes first is shared by all that have it: what a vector finds of a pattern's turns is kept for
all pairs that stand there. No inverse is made: where a piece hangs on its leak the product of two
inverses would lose all digits.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from backprobe.circuit.compiled import loosely, within
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.pair_table import Conditions, Table

Numbers = NDArray[np.int32]


class Defective(NamedTuple):
    """Hypotheses: h owns the ports begin[h]:begin[h + 1] by `vector`, `alpha`, `emf`; those of the last
    one are leads fitted throughout. `turn` (V,): the turn a vector is the current of, without which
    it does nothing, -1 for none; `most` (1,) ports a hypothesis has. Of the first port of each (H,)
    `port`, `alone` and `lift`: vector, alpha and emf."""

    begin: Ints
    vector: Ints
    alpha: Floats
    emf: Floats
    turn: Ints
    most: Ints
    port: Numbers
    alone: Floats
    lift: Floats


class Made(NamedTuple):
    """Things put in, in order: their number `thing`, `part` (m,) 1 / p, `flow` and `swing` (m,)
    currents and those per battery volt, how many times p the largest number on the way was, `grown`; what
    they find of those before, over their p, `upper` and back `lower` (m, m); what they take off what
    is watched or read, `effect` (m, F), and what a test current there drives through them, `reach`
    (m, F) or without columns. `there` (turns,) in the pattern; `live` (F,) 0 for the
    current of a branch that is not there, 1 otherwise; `forth`, `back` (m,) to work in."""

    there: Flags
    thing: Ints
    part: Floats
    flow: Floats
    swing: Floats
    grown: Floats
    upper: Floats
    lower: Floats
    effect: Floats
    reach: Floats
    forth: Floats
    back: Floats
    live: Floats


class Found(NamedTuple):
    """What vectors find of a pattern's turns, kept: vector v in row `row[v]` where `mark[v]` is the
    `now[0]`, with `now[1]` rows in use. `forth`, `back` (V, m); `rest` (V, 5) what is left of its own
    transfer, drive and drive per volt, the largest number on the way, and what was lost; `effect`, `reach` (V, F)."""

    mark: Ints
    row: Ints
    now: Ints
    forth: Floats
    back: Floats
    rest: Floats
    effect: Floats
    reach: Floats


def made_for(turns: int, ports: int, watched: int, reached: int) -> Made:
    """Room for so many."""
    most = turns + ports
    return Made(
        there=np.zeros(turns, bool),
        thing=np.zeros(most, np.int64),
        part=np.zeros(most),
        flow=np.zeros(most),
        swing=np.zeros(most),
        grown=np.zeros(most),
        upper=np.zeros((most, most)),
        lower=np.zeros((most, most)),
        effect=np.zeros((most, watched)),
        reach=np.zeros((most, reached)),
        forth=np.zeros(most),
        back=np.zeros(most),
        live=np.zeros(watched),
    )


def found_for(vectors: int, things: int, watched: int, reached: int) -> Found:
    """Room for what all vectors find of so many things."""
    return Found(
        mark=np.zeros(vectors, np.int64),
        row=np.zeros(vectors, np.int64),
        now=np.zeros(2, np.int64),
        forth=np.empty((vectors, things)),
        back=np.empty((vectors, things)),
        rest=np.empty((vectors, 5)),
        effect=np.empty((vectors, watched)),
        reach=np.empty((vectors, reached)),
    )


GONE, LEAK = 1e-14, 1e-6
"""Of the largest number on the way, the share below which what is left of a port is rounding, if it is less
than a few leaks at that: it hangs in a dead piece between two things that are off, and carries nothing."""


@within
def gone(own: float, lost: float) -> bool:
    """Whether what is left of a port is rounding."""
    return abs(own) < min(GONE * lost, LEAK)


@within
def fetch(
    z: Floats, turned: Floats, thing: Ints, v: int, first: int, many: int, forth: Floats, back: Floats
) -> None:  # fmt: skip
    """Transfers from and to things first:many and vector v, with nothing put in: into `forth`, `back`.
    No cache holds the table: all at once waits once."""
    for i in range(first, many):
        forth[i], back[i] = z[thing[i], v], turned[thing[i], v]


@within
def meet(
    part: Floats, flow: Floats, swing: Floats, grown: Floats,
    upper: Floats, lower: Floats, first: int, many: int, forth: Floats, back: Floats,
    own: float, drive: float, volt: float, most: float, lost: float,
) -> tuple[float, float, float, float, float]:  # fmt: skip
    """What a vector finds of things first:many, having met those before: in `forth`, `back`, which
    hold what it finds with nothing put in; what is left of its own transfer, drive and drive per volt, the largest number on the way, and the
    largest taken off times what that thing had `grown`: what that lost is lost to all it meets."""
    for i in range(first, many):
        u, b = forth[i], back[i]
        for j in range(i):
            u -= lower[i, j] * forth[j]
            b -= upper[i, j] * back[j]
        forth[i], back[i] = u, b
        taken = b * u * part[i]
        own -= taken
        drive -= b * flow[i]
        volt -= b * swing[i]
        most, lost = max(most, abs(own)), max(lost, abs(taken) * grown[i])
    return own, drive, volt, most, lost


@within
def taken_off(
    row: Floats, plain: Floats, found: Floats, part: Floats, rows: Floats, first: int, many: int
) -> None:
    """What things first:many leave of a `plain` row (F,), where a vector `found` so much of each."""
    one = found[first] * part[first] if many > first else 0.0
    for k in range(len(row)):
        row[k] = plain[k] - one * rows[first, k]
    i = first + 1
    while i + 4 <= many:
        p, q = found[i] * part[i], found[i + 1] * part[i + 1]
        r, s = found[i + 2] * part[i + 2], found[i + 3] * part[i + 3]
        for k in range(len(row)):
            row[k] -= (p * rows[i, k] + q * rows[i + 1, k]) + (
                r * rows[i + 2, k] + s * rows[i + 3, k]
            )
        i += 4
    while i < many:
        p = found[i] * part[i]
        for k in range(len(row)):
            row[k] -= p * rows[i, k]
        i += 1


@within
def put(
    table: Table, taken: Floats, reach: Floats, made: Made, v: int, alpha: float, emf: float,
    swing: float, count: int, drops: bool,
) -> None:  # fmt: skip
    """Put thing v in after `count` others; `taken`, `reach` (n, F) what each does with none put in.
    `drops`: what is left of one that hangs in a dead piece counts as nothing."""
    part, forth, back = made.part, made.forth, made.back
    own = table.own[v] + alpha
    # Transfers are as exact as the network's larger conductances allow, a siemens or an ohm at least.
    fetch(table.z, table.turned, made.thing, v, 0, count, forth, back)
    own, drive, volt, most, lost = meet(
        part, made.flow, made.swing, made.grown, made.upper, made.lower, 0, count,
        forth, back, own, table.drive[v, 0] - emf, table.drive[v, 1] - swing, max(1.0, abs(own)), 0.0,
    )  # fmt: skip
    made.thing[count], part[count], made.grown[count] = v, 1.0 / own, most / abs(own)
    made.flow[count], made.swing[count] = drive / own, volt / own
    if drops and gone(own, lost):
        part[count] = made.grown[count] = made.flow[count] = made.swing[count] = 0.0
    for j in range(count):
        made.upper[count, j], made.lower[count, j] = forth[j] * part[j], back[j] * part[j]
    taken_off(made.effect[count], taken[v], forth, part, made.effect, 0, count)
    taken_off(made.reach[count], reach[v], back, part, made.reach, 0, count)


@loosely
def stand(
    table: Table, cond: Conditions, d: Defective, taken: Floats, reach: Floats, made: Made,
    states: States, drops: bool,
) -> int:  # fmt: skip
    """Put leads and a pattern's turns in; how many there are. `drops` as in put()."""
    leads, first, count = len(d.begin) - 2, len(table.z) - len(table.there), 0
    for e in range(d.begin[leads], d.begin[leads + 1]):
        put(table, taken, reach, made, d.vector[e], d.alpha[e], d.emf[e], 0.0, count, drops)
        count += 1
    for t in range(len(table.there)):
        flag = True
        for c in range(cond.begin[t], cond.begin[t + 1]):
            flag &= (cond.mask[c] >> states[cond.state[c]]) & 1 == 1
        made.there[t] = flag
        if flag != table.there[t]:
            put(
                table, taken, reach, made, first + t, table.alpha[t], table.emf[t], table.swing[t], count,
                drops,
            )  # fmt: skip
            count += 1
    return count


@loosely
def join(
    table: Table, d: Defective, taken: Floats, reach: Floats, made: Made, h: int, count: int,
    drops: bool,
) -> int:  # fmt: skip
    """Put a hypothesis' ports in after `count` others; how many there are then. `drops` as in put()."""
    for e in range(d.begin[h], d.begin[h + 1]):
        v = d.vector[e]
        if d.turn[v] < 0 or made.there[d.turn[v]]:
            put(table, taken, reach, made, v, d.alpha[e], d.emf[e], 0.0, count, drops)
            for k in range(len(made.live)):
                made.effect[count, k] *= made.live[k]
            count += 1
    return count


@within
def row_of(
    table: Table, taken: Floats, reach: Floats, made: Made, found: Found, v: int, count: int
) -> int:
    """The row of what vector v finds of the pattern's `count` turns."""
    at: int = found.row[v]
    if found.mark[v] == found.now[0]:
        return at
    at = found.now[1]
    found.mark[v], found.row[v], found.now[1] = found.now[0], at, at + 1
    forth, back, part = found.forth[at], found.back[at], made.part
    fetch(table.z, table.turned, made.thing, v, 0, count, forth, back)
    own, drive, volt, most, lost = meet(
        part, made.flow, made.swing, made.grown, made.upper, made.lower, 0, count,
        forth, back, table.own[v], table.drive[v, 0], table.drive[v, 1], max(1.0, abs(table.own[v])), 0.0,
    )  # fmt: skip
    rest = found.rest
    rest[at, 0], rest[at, 1], rest[at, 2], rest[at, 3], rest[at, 4] = own, drive, volt, most, lost
    taken_off(found.effect[at], taken[v], forth, part, made.effect, 0, count)
    taken_off(found.reach[at], reach[v], back, part, made.reach, 0, count)
    for k in range(len(made.live)):
        found.effect[at, k] *= made.live[k]
    return at
