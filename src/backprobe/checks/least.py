"""Repairing many jobs, each in its best order, without another check (compiled)."""

from __future__ import annotations

from math import inf
from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import compiled
from backprobe.defects.model import Floats


class Jobs(NamedTuple):
    """M jobs: `masses` (G, M) that each repair ends, `total` (M,) with what none does; `lost` (G, M or
    1) what each costs in vain; `away` (G, M) of the masses and `unseen` (M,) of the total: what does not
    show, both empty where all does."""

    masses: Floats
    total: Floats
    lost: Floats
    away: Floats
    unseen: Floats


@compiled
def least_spent(jobs: Jobs, saved: Floats, escalate: float, comeback: float, least: Floats) -> None:
    """Lowers `least` (M,), given as the seconds spent whatever is done, to what worth.repair_seconds()
    says. `saved` (G,): what each repair costs less when it hits."""
    count = len(jobs.masses)
    falling, order = np.empty(count), np.empty(count, np.int64)
    for m in range(len(least)):
        mth = m if jobs.lost.shape[1] > 1 else 0
        total = jobs.total[m]
        unseen = jobs.unseen[m] if jobs.unseen.size else 0.0
        share = unseen / total if total > 0.0 else 0.0
        for g in range(count):
            price = jobs.lost[g, mth] + comeback * share
            falling[g] = jobs.masses[g, m] / -max(price, 1e-9)
            at = g
            while at and falling[order[at - 1]] > falling[g]:
                order[at] = order[at - 1]
                at -= 1
            order[at] = g
        spent, left, hidden = least[m], total, comeback * unseen
        for turn in range(-1, count):
            if turn >= 0:
                g = order[turn]
                hit = jobs.masses[g, m]
                spent += jobs.lost[g, mth] * left
                spent -= saved[g] * hit
                left -= hit
                if jobs.unseen.size:
                    hidden -= comeback * jobs.away[g, m]
                    spent += hidden
            # What rounding leaves is none.
            handing = inf if left > 1e-9 * total else 0.0
            if escalate < inf:
                handing = left * escalate
            ends = spent + handing
            if turn < 0 or ends < least[m]:
                least[m] = ends
