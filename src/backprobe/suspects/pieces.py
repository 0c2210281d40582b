"""Severity cells cut into pieces, read between the steps at which they are solved."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.defects.in_cells import STEPS
from backprobe.defects.model import Flags, Floats, Ints
from backprobe.suspects.column import FLOOR, MOVES, SHARE, Column


class Pieces(NamedTuple):
    """Even pieces of severity cells, one cell after the other. `near` (n,): rows of the step that each
    is nearest to; `base`, `far`, `beyond` (n,): of the step it is read from, the next one on its side, and
    the one behind; `way` (n,): how far of the way it is from the first to the second; `width`: share of what
    two steps differ by that a piece covers; `loose` (n,): as in Defects."""

    near: Ints
    base: Ints
    far: Ints
    beyond: Ints
    way: Floats
    width: float
    loose: Floats

    @staticmethod
    def of(cells: int, parts: int, loose: Floats | None = None) -> Pieces:
        """So many cells, each in so many parts; their steps begin at row 1. `loose` (cells,): as in Defects."""
        at = (np.arange(parts) + 0.5) / parts * (STEPS - 1)
        near = np.rint(at).astype(np.int64)
        base = near.clip(1, STEPS - 2)
        side = np.where(at >= base, 1, -1)
        first = 1 + STEPS * np.repeat(np.arange(cells), parts)
        volts = np.zeros(cells) if loose is None else loose
        return Pieces(
            near=first + np.tile(near, cells),
            base=first + np.tile(base, cells),
            far=first + np.tile(base + side, cells),
            beyond=first + np.tile(base - side, cells),
            way=np.tile(np.abs(at - base), cells),
            width=(STEPS - 1) / parts,
            loose=np.repeat(volts, parts),
        )

    def column(self, solved: Column, whole: Column, stand: Ints | None) -> Column:
        """What the pieces read, from step to step along the parabola through three of them, or straight
        where only two stand alike. Where things stand otherwise at the next step something gives in on the
        way there, before a piece the likelier the further on it lies. `whole`: the column of the cells that
        were cut, piece by piece: contacts and copper move a piece as they move it."""
        mean = solved.mean
        one, then, behind = mean[self.base], mean[self.far], mean[self.beyond]
        on, back = (self._alike(mean, at, stand) for at in (self.far, self.beyond))
        ahead = np.where(on, then - one, np.where(back, one - behind, 0.0))
        since = np.where(back, one - behind, ahead)
        read = solved.only(self.near)
        unlike = np.zeros(mean.size, bool)
        unlike[solved.unlike] = True
        jumps = ~on & np.isfinite(then)
        return Column(
            mean=one + self.way * (ahead + since + self.way * (ahead - since)) / 2.0,
            slope=np.concatenate([read.slope[:1], whole.slope[1:]]),
            width=np.hypot(ahead * self.width, read.slope[0] * self.loose),
            unlike=np.flatnonzero(unlike[self.base] | unlike[self.far]),
            felt=solved.felt,
            chatters=read.chatters,
            other=(then, np.where(jumps, self.way, 0.0)) if jumps.any() else None,
        )

    def _alike(self, mean: Floats, at: Ints, stand: Ints | None) -> Flags:
        """Whether a reading goes over into that of another step without a jump."""
        numbers = np.isfinite(mean[self.base]) & np.isfinite(mean[at])
        return numbers if stand is None else numbers & (stand[self.base] == stand[at])


def moves(whole: Floats, solved: Column, loose: Floats | None = None) -> bool:
    """Whether a reading moves within severity cells, worth mentioning: from that of the whole ones (n,).
    `loose` (n,): as in Defects."""
    steps = solved.mean[1:].reshape(whole.size, STEPS)
    error = FLOOR + SHARE * np.abs(whole)
    with np.errstate(invalid="ignore"):
        off = np.abs(steps - whole[:, None])
        if loose is not None:
            off = off + np.abs(solved.slope[0, 1:].reshape(steps.shape)) * loose[:, None]
        return bool((off > MOVES * error[:, None]).any())
