"""How wide a reading gets because a severity cell stands for a range of resistances."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import compiled, inner
from backprobe.defects.model import Defects, Flags, Floats, Ints

END = 0.5
"""Share of the step to an end of the ladder (no defect, clean open) that an edge cell covers."""
BOUND = 10.0
"""Steps in ln(ohm) beyond this are all one."""
DEAD = 0.01
"""Share of the healthy reading below which nothing comes through."""
EARLY = 0.25
"""Share of a severity cell in which things stand as at the next one already, by how far of the way to it the
cell goes: half of the cell lies on that side, and what gives in anywhere on the way has given in at half
of what is gone of it (worked out)."""


class Rungs(NamedTuple):
    """The severity cells of every atom in rising order of ohm (n,): the hypothesis of each; the share
    of the step to the next and from the last that it covers; how many times more ohms the next
    stands for; whether it is the first, the last of its ladder; where the ladder begins and ends; its
    ohms, and how far its cell goes from them in ln(ohm)."""

    order: Ints
    up: Floats
    down: Floats
    ratio: Floats
    first: Flags
    last: Flags
    begins: Ints
    ends: Ints
    ohm: Floats
    reach: Floats


class Ladder:
    """The severity cells of every atom in rising order of ohm."""

    def __init__(self, defects: Defects) -> None:
        """Sorts the cells once; `width` is then one loop per probe."""
        order = np.lexsort((defects.ohm, defects.atom_of))
        atom = defects.atom_of[order]
        ohm = np.maximum(defects.ohm[order], 1e-12)
        same = atom[1:] == atom[:-1]
        with np.errstate(divide="ignore", invalid="ignore"):
            step = np.log(ohm[1:]) - np.log(ohm[:-1])
        reach = np.log(np.maximum(defects.spread[order], 1.0))
        up, down = np.zeros(atom.size), np.zeros(atom.size)
        with np.errstate(divide="ignore", invalid="ignore"):
            up[:-1] = np.where(np.isinf(step), END, np.minimum(reach[:-1] / step, 1.0))
            down[1:] = np.where(np.isinf(step), END, np.minimum(reach[1:] / step, 1.0))
        first, last = ~np.insert(same, 0, False), ~np.append(same, False)
        ladder = np.cumsum(first) - 1
        self._exact = defects.spread <= 1.0
        self._rungs = Rungs(
            order=order,
            up=np.where(last, 0.0, np.nan_to_num(up)),
            down=np.where(first, 0.0, np.nan_to_num(down)),
            ratio=np.where(np.isinf(step), 1.0, np.exp(np.minimum(step, BOUND))),
            first=first,
            last=last,
            begins=np.flatnonzero(first)[ladder],
            ends=np.flatnonzero(last)[ladder],
            ohm=ohm,
            reach=reach,
        )

    def width(self, mean: Floats, stand: Ints | None = None) -> Floats:
        """(H,) range of the reading over each hypothesis's severity cell."""
        up, down = self.moves(mean, stand)
        width: Floats = np.abs(up) + np.abs(down)
        return width

    def moves(self, mean: Floats, stand: Ints | None = None) -> tuple[Floats, Floats]:
        """(H,) how far the reading moves to the upper and to the lower end of each hypothesis's
        severity cell. `stand` (H,) as in Seen.

        Towards a neighbouring cell the reading is taken straight in ln(ohm). At the mild end of
        a ladder, the one whose reading is nearer the healthy one, the next rung is "healthy"; a rung alone
        reaches as far the other way.
        Between rungs where a fuse or relay stands otherwise it may jump. What does not matter to the
        reading lets it drift on: then it is off the healthy one at most as many times more as there
        are ohms more or fewer. Beyond that neither moves towards the other: each goes on as it did
        up to there, where there is a rung behind it on the same footing, no further than the healthy
        reading and the ends of the ladder.
        """
        up, down = np.empty((2, mean.size))
        stands = np.ascontiguousarray(np.zeros(1) if stand is None else stand, np.int64)
        moved(self._rungs, np.ascontiguousarray(mean), stands, stand is not None, up, down)
        up[self._exact] = 0.0
        down[self._exact] = 0.0
        return up, down

    def beside(self, chance: Floats) -> Floats:
        """(H,) a chance that is told by how things stand at each severity, over the whole of its cell."""
        rungs = self._rungs
        told = chance[rungs.order]
        step = np.append(np.diff(told), 0.0)
        mixed = np.empty(chance.size)
        up, down = rungs.up * step, rungs.down * np.insert(step[:-1], 0, 0.0)
        mixed[rungs.order] = told + EARLY * (up - down)
        mixed[self._exact] = chance[self._exact]
        return mixed


@compiled
def moved(
    rungs: Rungs, mean: Floats, stand: Ints, stands: bool, above: Floats, below: Floats
) -> None:
    """Ladder.moves(), exact severities too; `stands`: how things stand is known."""
    healthy = mean[0]
    inward, drifts_in, jumps_in = 0.0, False, False
    for n in range(len(mean)):
        h = rungs.order[n]
        outward, drifts_out, jumps_out = 0.0, False, False
        ends = mean[rungs.order[rungs.begins[n]]], mean[rungs.order[rungs.ends[n]]]
        mild_first = abs(ends[0] - healthy) <= abs(ends[1] - healthy)
        if not rungs.last[n]:
            k = rungs.order[n + 1]
            outward = apart(mean[h], mean[k])
            if stands and stand[h] != stand[k]:
                mild, hard = (mean[h], mean[k]) if mild_first else (mean[k], mean[h])
                drifts_out = drifting(mild, hard, healthy, rungs.ratio[n])
                jumps_out = not drifts_out
                if jumps_out:
                    outward = 0.0
        up, down = rungs.up[n] * outward, rungs.down[n] * -inward
        if rungs.first[n] or rungs.last[n]:
            # An outer rung reaches at most halfway to healthy, and at most as far as its inner step if
            # there is one on the same footing; away from that step.
            alone = rungs.first[n] and rungs.last[n]
            adrift = not alone and (drifts_out if rungs.first[n] else drifts_in)
            to_healthy = apart(END * mean[h], END * healthy)
            if stands and stand[h] != stand[0] and not adrift:
                to_healthy = 0.0
            inner = up if rungs.first[n] else down
            outer = to_healthy
            far = mean[rungs.order[rungs.ends[n] if rungs.first[n] else rungs.begins[n]]]
            if not alone and not (adrift and abs(mean[h] - healthy) <= abs(far - healthy)):
                outer = -np.sign(inner) * min(abs(to_healthy), abs(inner))
            if alone:
                up, down = -outer, outer
            elif rungs.first[n]:
                down = outer
            else:
                up = outer
        if jumps_out and not rungs.first[n] and stand[rungs.order[n - 1]] == stand[h]:
            before = mean[rungs.order[n - 1]]
            up = beyond(before, mean[h], healthy, rungs.ratio[n - 1], rungs.ratio[n], ends)
        if jumps_in and not rungs.last[n] and stand[rungs.order[n + 1]] == stand[h]:
            before = mean[rungs.order[n + 1]]
            down = beyond(before, mean[h], healthy, rungs.ratio[n], rungs.ratio[n - 1], ends)
        if jumps_in and jumps_out:
            limits = (healthy, ends[1]) if mild_first else (ends[0], healthy)
            up, down = divided(mean[h], limits, np.exp(rungs.reach[n]))
        if jumps_out and rungs.first[n] and 0.0 < mean[h] / (healthy or np.inf) < 1.0:
            # What the hardest short leaves, alone on its footing, goes as behind a resistance.
            power = rungs.reach[n] * (1.0 - mean[h] / healthy)
            up = min(mean[h] * np.exp(power) / healthy, 1.0) * healthy - mean[h]
            down = mean[h] * (np.exp(-power) - 1.0)
        above[h], below[h] = up, down
        inward, drifts_in, jumps_in = outward, drifts_out, jumps_out


@inner
def drifting(mild: float, hard: float, healthy: float, ratio: float) -> bool:
    """Whether a reading goes from the healthy one, and no faster than the ohms go, `ratio` times: a
    divider's does not (worked out). One that is cut off altogether jumped."""
    off, other = mild - healthy, hard - healthy
    dead = DEAD * abs(healthy)
    slow: bool = off * other > 0.0 and (abs(mild) <= dead) == (abs(hard) <= dead)
    return slow and abs(off) <= abs(other) <= ratio * abs(off)


@inner
def beyond(
    before: float, one: float, healthy: float, ratio: float, more: float, ends: tuple[float, float]
) -> float:
    """How far a reading goes on before it jumps, the whole way to where the next one stands otherwise.
    Volts lost go from the healthy ones, what a short leaves from nothing: the one that goes further."""
    if ratio <= 1.0 or more <= 1.0 or not np.isfinite(one) or not np.isfinite(before):
        return 0.0
    low = min(healthy, ends[0], ends[1], one)
    high = max(healthy, ends[0], ends[1], one)
    lost = going_on(before - healthy, one - healthy, ratio, more)
    left = going_on(before, one, ratio, more)
    further = left if abs(left) > abs(lost) else lost
    return min(max(one + further, low), high) - one


@inner
def divided(one: float, limits: tuple[float, float], times: float) -> tuple[float, float]:
    """How far a reading moves to so many times its ohms, and to as many times fewer, where it goes from
    one limit at none to the other at no end of them as a divider's does; nowhere if it is not between."""
    low, high = limits
    ratio = (one - low) / (high - one)
    if not 0.0 < ratio < np.inf:
        return 0.0, 0.0
    more, fewer = ratio * times, ratio / times
    return (low + high * more) / (1.0 + more) - one, (low + high * fewer) / (1.0 + fewer) - one


@inner
def going_on(before: float, one: float, ratio: float, more: float) -> float:
    """The same by the power of the ohms that it went with since `before`, no faster than the ohms go."""
    if before * one <= 0.0:
        return 0.0
    power = min(max(np.log(one / before) / np.log(ratio), -1.0), 1.0)
    grown: float = one * (more**power - 1.0)
    return grown


@inner
def apart(a: float, b: float) -> float:
    """From a to b; 0 where either is no number."""
    return b - a if np.isfinite(a) and np.isfinite(b) else 0.0
