"""How far a pair's first defect is from its limits, and which seconds may carry it there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backprobe.circuit.limits import QUICK, Limits
from backprobe.circuit.net import Flags, Floats, Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """Leaders in a pattern, seen alone: place of their vector `at`, C11 `own`, current `y`, what
    the shifts `here` see and the moves they make; all (r,) or (r, here)."""

    at: Ints
    own: Floats
    y: Floats
    watch: Floats
    seen: Floats
    moves: Flags


def room_of(limits: Limits, here: Ints, seen: Floats) -> Floats:
    """(2, r, here) how far each amount may rise and fall before anything changes: over or not
    over its limit, quick or slow for a fuse, and which of two blowing fuses is the one furthest
    over."""
    size, above, below = limits.size[here], limits.above[here], limits.below[here]
    amount = np.where(size, np.abs(seen), seen)
    over, under = amount > above, amount < below
    # Of a size, the same seen from zero: it may shrink to nothing and grow the other way.
    floor = np.where(size & ~np.isfinite(below), -above, below)
    opens = over & (limits.pace[here] == 1)
    quick = opens & (amount >= QUICK * above)
    ceiling = np.where(opens & ~quick, QUICK * above, np.inf)
    up = np.where(over, ceiling, np.where(under, below, above)) - amount
    down = amount - np.where(quick, QUICK * above, np.where(over, above, floor))
    down = np.where(under, np.where(size, below + amount, np.inf), down)
    turned = size & (seen < 0.0)
    up, down = np.where(turned, down, up), np.where(turned, up, down)
    fuse = np.where((over | under) & (limits.pace[here] == 1) & np.isfinite(above), amount, 0.0)
    ratio = fuse / np.where(np.isfinite(above), above, 1.0)
    two = (ratio > 0).sum(axis=1) > 1
    room = np.stack([up, down])
    if two.any():
        top = np.sort(ratio[two], axis=1)[:, -2:]
        gap = (top[:, 1] - top[:, 0])[:, None] / 2.0 * np.where(np.isfinite(above), above, 1.0)
        room[:, two] = np.where(ratio[two] > 0, np.minimum(room[:, two], gap), room[:, two])
    return room


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    """One number per pair that tells most of those that change nothing. The room a limit usually
    leaves is the unit: `gain` (2u,) is the most of it one unit of a port's current
    takes, positive and negative; `lift` (r,) the same for what comes through the leader; `share`
    (r,) of the unit is left to a leader at its nearest limit."""

    gain: Floats
    lift: Floats
    share: Floats

    @staticmethod
    def of(lead: Lead, room: Floats, watch: Floats) -> Screen:
        """Of these leaders with their `room`; `watch` (u, here) of every port."""
        usual = np.maximum(np.median(room, axis=1), 1e-300)
        far = np.isinf(room)
        left = np.where(far, 1.0, np.where(far, 0.0, room) / usual[:, None])
        share = left.min(axis=(0, 2), initial=1.0)
        gain = np.empty((len(watch), 2))
        for column, sign in ((0, 1.0), (1, -1.0)):
            falls, rises = watch * (sign / usual[1]), watch * (-sign / usual[0])
            gain[:, column] = np.maximum(falls, rises, out=falls).max(axis=1, initial=0.0)
        lift = (np.abs(lead.watch) / usual.min(axis=0)).max(axis=1, initial=0.0)
        lift /= np.abs(lead.own)
        return Screen(gain=gain.ravel(), lift=lift, share=share)

    def near(self, r: Ints, at: Ints, forth: Floats, y: Floats) -> Ints:
        """Pairs that may change something."""
        bound = np.abs(y) * (self.gain[2 * at + (y < 0.0)] + self.lift[r] * np.abs(forth))
        return np.flatnonzero(~(bound < self.share[r]))
