"""Every prediction a job's findings need, asked for in one go and handed out as columns.

The likelihoods run twice: once to note what they ask (every column is a blank), then on the real
columns. So each says what it needs in one place, and the circuit is asked once per situation.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.defects.model import Defects, Floats, Ints, Predictor, Probe, Seen
from backprobe.suspects.severity import Ladder
from backprobe.suspects.worlds import Worlds, worlds

SAME = 1e-6
"""Readings closer than this (V, A, ohm) to the healthy one are the healthy one."""
FEELS = 0.25
"""An unknown is worth worlds of its own when it moves a reading by this many of its sigmas."""

Shape = Callable[[Floats, Floats], Floats]
"""From mean (N, W) and variance (N, 1) to likelihoods (N, W)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """What one probe reads under every hypothesis. mean, width (H,); slope (H, 3); `unlike`
    the hypotheses that do not read as the healthy one does (they are computed, the rest are
    copies); `chatters` (H,) no steady reading."""

    mean: Floats
    slope: Floats
    width: Floats
    unlike: Ints
    chatters: Ints


class View:
    """What the predictor says, by situation and probe. Unknown names give None."""

    def __init__(self, book: Book, predictor: Predictor) -> None:
        """A view of `book` through `predictor`, empty until fetch()."""
        self.book = book
        self.defects: Defects = predictor.defects
        self.worlds: Worlds = worlds(book.machine.volts, battery=False, contacts=False)
        self.asking = True
        self._predictor = predictor
        self._ladder = Ladder(predictor.defects)
        self._asked: dict[tuple[Situation, bool], dict[Probe, None]] = {}
        self._columns: dict[tuple[Situation, bool, Probe], Column | None] = {}
        self._states: dict[tuple[Situation, bool, str, str], Floats | None] = {}

    @property
    def count(self) -> int:
        """Number of hypotheses; 1 while asking."""
        return 1 if self.asking else self.defects.atom_of.size

    def column(self, situation: Situation, probe: Probe, *, gone: bool) -> Column | None:
        """The column of a probe, None when the book knows no such place."""
        if self.asking:
            self._asked.setdefault((situation, gone), {})[probe] = None
            return _BLANK
        return self._columns[situation, gone, probe]

    def state(self, situation: Situation, part: str, state: str, *, gone: bool) -> Floats | None:
        """(H,) index of the word of a part's state, None when there is no such state."""
        if self.asking:
            return np.zeros(1)
        key = (situation, gone, part, state)
        if key not in self._states:
            try:
                found = self._predictor.state(situation, part, state, gone=gone)
                self._states[key] = found.astype(np.float64)
            except KeyError:
                self._states[key] = None
        return self._states[key]

    def fetch(self) -> None:
        """Ask the predictor for all that was noted; choose the worlds the readings feel."""
        for (situation, gone), wanted in self._asked.items():
            probes = tuple(wanted)
            try:
                seen = self._predictor.seen(situation, probes, gone=gone)
            except KeyError:
                for probe in probes:
                    one = self._alone(situation, probe, gone=gone)
                    self._columns[situation, gone, probe] = self._cut(one, 0) if one else None
                continue
            for number, probe in enumerate(probes):
                self._columns[situation, gone, probe] = self._cut(seen, number)
        self.asking = False
        self._choose_worlds()

    def over(self, column: Column, shape: Shape) -> Floats:
        """Likelihoods (H, W) of a column, computed where it differs from the healthy one only."""
        if self.asking:
            return np.ones((1, 1))
        rows = np.concatenate([[0], column.unlike])
        mean = column.mean[rows, None] + column.slope[rows] @ self.worlds.points.T
        variance = column.slope[rows] ** 2 @ self.worlds.left + column.width[rows] ** 2 / 12.0
        with np.errstate(invalid="ignore"):
            some = shape(mean, variance[:, None])
        full = np.empty((self.count, some.shape[1]))
        full[:] = some[0]
        full[column.unlike] = some[1:]
        return full

    def _alone(self, situation: Situation, probe: Probe, *, gone: bool) -> Seen | None:
        try:
            return self._predictor.seen(situation, (probe,), gone=gone)
        except KeyError:
            return None

    def _cut(self, seen: Seen, number: int) -> Column:
        mean = seen.mean[:, number]
        slope = seen.slope[:, number]
        width = self._ladder.width(mean)
        with np.errstate(invalid="ignore"):
            apart = np.abs(mean - mean[0]) > SAME
            bent = np.abs(slope - slope[0]).max(axis=1) > SAME
        unlike = np.flatnonzero(
            apart | bent | np.isnan(mean) | (np.isinf(mean) != np.isinf(mean[0]))
        )
        return Column(
            mean=mean,
            slope=np.where(np.isfinite(slope), slope, 0.0),
            width=width,
            unlike=unlike[unlike > 0],
            chatters=np.flatnonzero(~seen.settled),
        )

    def _choose_worlds(self) -> None:
        sigma = np.sqrt(worlds(self.book.machine.volts, battery=False, contacts=False).left)
        feels = np.zeros(3)
        for column in self._columns.values():
            if column is not None:
                noise = 0.02 + 0.01 * np.abs(np.where(np.isfinite(column.mean), column.mean, 0.0))
                felt = np.abs(column.slope) * sigma / noise[:, None]
                feels = np.maximum(feels, felt.max(axis=0))
        battery, contacts = bool(feels[0] > FEELS), bool(feels[1] > FEELS)
        self.worlds = worlds(self.book.machine.volts, battery=battery, contacts=contacts)


_NONE = np.zeros(0, dtype=np.int64)
_BLANK = Column(
    mean=np.zeros(1), slope=np.zeros((1, 3)), width=np.zeros(1), unlike=_NONE, chatters=_NONE
)
