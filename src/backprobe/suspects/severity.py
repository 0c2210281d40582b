"""How wide a reading gets because a severity cell stands for a range of resistances."""

from __future__ import annotations

import numpy as np

from backprobe.defects.model import Defects, Flags, Floats, Ints

END = 0.5
"""Share of the step to an end of the ladder (no defect, clean open) that an edge cell covers."""
BOUND = 10.0
"""Steps in ln(ohm) beyond this are all one."""
DEAD = 0.01
"""Share of the healthy reading below which nothing comes through."""


class Ladder:
    """The severity cells of every atom in rising order of ohm."""

    def __init__(self, defects: Defects) -> None:
        """Sorts the cells once; `width` is then a few array operations per probe."""
        self._order = np.lexsort((defects.ohm, defects.atom_of))
        atom = defects.atom_of[self._order]
        ohm = np.maximum(defects.ohm[self._order], 1e-12)
        same = atom[1:] == atom[:-1]
        with np.errstate(divide="ignore", invalid="ignore"):
            step = np.log(ohm[1:]) - np.log(ohm[:-1])
        self._ratio = np.where(np.isinf(step), 1.0, np.exp(np.minimum(step, BOUND)))
        reach = np.log(np.maximum(defects.spread[self._order], 1.0))
        self._exact = reach <= 0.0
        up = np.zeros(atom.size)
        down = np.zeros(atom.size)
        with np.errstate(divide="ignore", invalid="ignore"):
            up[:-1] = np.where(np.isinf(step), END, np.minimum(reach[:-1] / step, 1.0))
            down[1:] = np.where(np.isinf(step), END, np.minimum(reach[1:] / step, 1.0))
        self._up = np.where(np.append(same, False), np.nan_to_num(up), 0.0)
        self._down = np.where(np.insert(same, 0, False), np.nan_to_num(down), 0.0)
        self._last = ~np.append(same, False)
        self._first = ~np.insert(same, 0, False)
        ladder = np.cumsum(self._first) - 1
        self._start_at = np.flatnonzero(self._first)[ladder]
        self._end_at = np.flatnonzero(self._last)[ladder]

    def width(self, mean: Floats, stand: Ints | None = None) -> Floats:
        """(H,) range of the reading over each hypothesis's severity cell."""
        up, down = self.moves(mean, stand)
        width: Floats = np.abs(up) + np.abs(down)
        return width

    def moves(self, mean: Floats, stand: Ints | None = None) -> tuple[Floats, Floats]:
        """(H,) how far the reading moves to the upper and to the lower end of each hypothesis's
        severity cell. `stand` (H,) as in Seen.

        Towards a neighbouring cell the reading is taken straight in ln(ohm). At the mild end of
        a ladder, the one whose reading is nearer the healthy one, the next rung is "healthy".
        Between rungs where a fuse or relay stands otherwise it may jump. What does not matter to the
        reading lets it drift on: then it is off the healthy one at most as many times more as there
        are ohms more or fewer. Beyond that neither moves towards the other.
        """
        y = mean[self._order]
        adrift: Flags = np.zeros(y.size, bool)
        with np.errstate(invalid="ignore"):
            step = _step(y[:-1], y[1:])
            to_healthy = _step(END * y, np.full_like(y, END * mean[0]))
        if stand is not None:
            stands = stand[self._order]
            same, drifts = stands[1:] == stands[:-1], self._drifts(y, float(mean[0]))
            step = np.where(same | drifts, step, 0.0)
            adrift = self._inward(~same & drifts)
            to_healthy = np.where((stands == stand[0]) | adrift, to_healthy, 0.0)
            adrift &= self._mild(y, float(mean[0]))
        up = self._up * np.append(step, 0.0)
        down = self._down * -np.insert(step, 0, 0.0)
        # At an outer rung the mild end reaches at most halfway to healthy, and at most as far
        # as its inner step if there is one on the same footing; away from that step.
        inner = np.where(self._first, up, down)
        extra = -np.sign(inner) * np.minimum(np.abs(to_healthy), np.abs(inner))
        extra = np.where(adrift, to_healthy, extra)
        up = np.where(self._last & ~self._first, extra, up)
        down = np.where(self._first, np.where(self._last, to_healthy, extra), down)
        return self._back(up), self._back(down)

    def _drifts(self, y: Floats, healthy: float) -> Flags:
        """(H - 1,) steps over which a reading goes from the healthy one no faster than the ohms go: a
        divider's does not (worked out). One that is cut off altogether jumped."""
        with np.errstate(invalid="ignore"):
            off, dead = y - healthy, np.abs(y) <= DEAD * abs(healthy)
            near = np.minimum(np.abs(off[1:]), np.abs(off[:-1]))
            far = np.maximum(np.abs(off[1:]), np.abs(off[:-1]))
            slow: Flags = (off[1:] * off[:-1] > 0.0) & (far <= self._ratio * near)
            slow &= dead[1:] == dead[:-1]
        return slow

    def _inward(self, steps: Flags) -> Flags:
        """(H,) outer rungs whose inner step is one of these."""
        first: Flags = self._first & ~self._last & np.append(steps, False)
        last: Flags = self._last & ~self._first & np.insert(steps, 0, False)
        return first | last

    def _mild(self, y: Floats, healthy: float) -> Flags:
        """(H,) rungs no further from the healthy reading than the other end of their ladder."""
        with np.errstate(invalid="ignore"):
            off = np.abs(y - healthy)
            found: Flags = off <= off[np.where(self._first, self._end_at, self._start_at)]
        return found

    def _back(self, sorted_by_ohm: Floats) -> Floats:
        """In the order of the hypotheses; nothing for severities that are exact."""
        full = np.empty_like(sorted_by_ohm)
        full[self._order] = np.where(self._exact, 0.0, sorted_by_ohm)
        return full


def _step(a: Floats, b: Floats) -> Floats:
    with np.errstate(invalid="ignore"):
        return np.where(np.isfinite(a) & np.isfinite(b), b - a, 0.0)
