"""How wide a reading gets because a severity cell stands for a range of resistances."""

from __future__ import annotations

import numpy as np

from backprobe.defects.model import Defects, Floats

END = 0.5
"""Share of the step to an end of the ladder (no defect, clean open) that an edge cell covers."""


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

    def width(self, mean: Floats) -> Floats:
        """(H,) range of the reading over each hypothesis's severity cell.

        Towards a neighbouring cell the reading is taken straight in ln(ohm). At the mild end of
        a ladder, the one whose reading is nearer the healthy one, the next rung is "healthy".
        """
        y = mean[self._order]
        with np.errstate(invalid="ignore"):
            above = self._up * _step(y, np.append(y[1:], y[-1:]))
            below = self._down * _step(y, np.insert(y[:-1], 0, y[:1]))
            to_healthy = END * np.abs(y - mean[0])
        above = np.where(np.isfinite(above), above, 0.0)
        below = np.where(np.isfinite(below), below, 0.0)
        to_healthy = np.where(np.isfinite(to_healthy), to_healthy, 0.0)
        lone = self._first & self._last
        # At an outer rung the mild end reaches at most halfway to healthy, and at most as far
        # as its inner step if there is one.
        outer = np.where(self._first, above, below)
        extra = np.where(lone, to_healthy, np.minimum(to_healthy, outer))
        width = above + below + np.where(self._first | self._last, extra, 0.0)
        width = np.where(self._exact, 0.0, width)
        full = np.empty_like(width)
        full[self._order] = width
        return full


def _step(a: Floats, b: Floats) -> Floats:
    return np.abs(np.where(np.isfinite(a) & np.isfinite(b), b - a, 0.0))
