"""What one probe reads under every hypothesis."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from backprobe.circuit.compiled import compiled, inner
from backprobe.defects.model import Floats, Ints
from backprobe.suspects.severity import Ladder

SAME = 1e-6
"""Readings closer than this (V, A, ohm) to the healthy one are the healthy one."""
FLOOR, SHARE = 0.02, 0.01
"""Error of a usual reading, against which it is told what moves it: V, A or ohm, and share."""

MOVES = 0.05
"""Errors by which a reading moves within a severity cell before that is worth mentioning."""


_NONE = np.zeros(0, dtype=np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """What one probe reads under every hypothesis. mean, width (H,); slope (3, H); `unlike`:
    hypotheses that do not read as the healthy one does (they are computed, the rest are copies);
    `felt` (3,): by how many sigmas each shared unknown moves it at most; `chatters`: hypotheses
    without a steady reading; `other`: what pieces of severity cells may read as well (H,), and the
    chance of it (H,)."""

    mean: Floats
    slope: Floats
    width: Floats
    unlike: Ints
    felt: Floats
    chatters: Ints
    other: tuple[Floats, Floats] | None = None

    @staticmethod
    def of(
        mean: Floats,
        slope: Floats,
        *,
        ladder: Ladder,
        stand: Ints | None,
        spread: Floats,
        chatters: Ints = _NONE,
    ) -> Column:
        """A column from readings (H,) and slopes (3, H); `spread` (3,) the standard deviations of the
        shared unknowns."""
        unlike, felt = np.empty(mean.size, np.int64), np.zeros(spread.size)
        many, odd = told_apart(mean, slope, spread, unlike, felt)
        unlike = unlike[:many].copy()
        return Column(
            mean=mean,
            slope=np.where(np.isfinite(slope), slope, 0.0) if odd else slope,
            width=ladder.width(mean, stand) if unlike.size else np.zeros(mean.size),
            unlike=unlike,
            felt=felt,
            chatters=chatters,
        )

    def only(self, rows: Ints) -> Column:
        """The column of some hypotheses."""
        return Column(
            mean=self.mean[rows],
            slope=self.slope.take(rows, axis=1),
            width=self.width[rows],
            unlike=_among(self.unlike, rows, self.mean.size),
            felt=self.felt,
            chatters=_among(self.chatters, rows, self.mean.size),
            other=None if self.other is None else (self.other[0][rows], self.other[1][rows]),
        )

    def moves_at(self, rows: Ints) -> bool:
        """Whether it moves within the severity cells of some hypotheses, worth mentioning."""
        error = FLOOR + SHARE * np.abs(self.mean[rows])
        return bool((self.width[rows] > MOVES * error).any())

    def felt_by(self, spread: Floats) -> Column:
        """The same, felt by what is left of its hypotheses; `spread` as in of()."""
        felt = np.zeros(spread.size)
        told_apart(self.mean, self.slope, spread, np.empty(self.mean.size, np.int64), felt)
        return replace(self, felt=felt)

    def then(self, other: Column) -> Column:
        """These hypotheses and then the others."""
        return Column(
            mean=np.concatenate([self.mean, other.mean]),
            slope=np.concatenate([self.slope, other.slope], axis=1),
            width=np.concatenate([self.width, other.width]),
            unlike=np.concatenate([self.unlike, self.mean.size + other.unlike]),
            felt=np.maximum(self.felt, other.felt),
            chatters=np.concatenate([self.chatters, self.mean.size + other.chatters]),
            other=_side_by_side(self, other),
        )


def _side_by_side(one: Column, then: Column) -> tuple[Floats, Floats] | None:
    """What else the hypotheses of two columns may read."""
    if one.other is None and then.other is None:
        return None
    at, share = zip(*(each.other or (each.mean, np.zeros(each.mean.size)) for each in (one, then)))
    return np.concatenate(at), np.concatenate(share)


@compiled
def told_apart(
    mean: Floats, slope: Floats, spread: Floats, unlike: Ints, felt: Floats
) -> tuple[int, bool]:
    """Fills in `unlike`, as far as the returned count, and `felt`; whether a slope is no number.
    Such a slope counts as none; a reading that is no number is unlike any other."""
    many, odd = 0, False
    for h in range(len(mean)):
        alike = h == 0 or abs(mean[h] - mean[0]) <= SAME or mean[h] == mean[0]
        for k in range(len(spread)):
            odd |= not np.isfinite(slope[k, h])
            alike &= abs(or_none(slope[k, h]) - or_none(slope[k, 0])) <= SAME
        if h and alike:
            continue
        if not alike:
            unlike[many] = h
            many += 1
        error = FLOOR + SHARE * abs(or_none(mean[h]))
        for k in range(len(spread)):
            felt[k] = max(felt[k], abs(or_none(slope[k, h])) * spread[k] / error)
    return many, odd


@inner
def or_none(number: float) -> float:
    """The number; 0 where it is none."""
    return number if np.isfinite(number) else 0.0


def _among(some: Ints, rows: Ints, count: int) -> Ints:
    """Places of the rows that are some of `count` hypotheses."""
    if not some.size:
        return some
    flags = np.zeros(count, bool)
    flags[some] = True
    return np.flatnonzero(flags[rows])


BLANK = Column(
    mean=np.zeros(1),
    slope=np.zeros((3, 1)),
    width=np.zeros(1),
    unlike=_NONE,
    felt=np.zeros(3),
    chatters=_NONE,
)
