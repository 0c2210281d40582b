"""Every prediction a job's findings need, asked for in one go and handed out as columns.

The likelihoods run twice: once to note what they ask (every column is a blank), then on the real
columns. So each says what it needs in one place, and the circuit is asked once per situation.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.defects.model import Defects, Floats, Ints, Predictor, Probe
from backprobe.suspects.severity import Ladder
from backprobe.suspects.worlds import COARSE, FINE, Worlds, worlds

SAME = 1e-6
"""Readings closer than this (V, A, ohm) to the healthy one are the healthy one."""
FEELS = 0.25
"""An unknown is worth worlds of its own when it moves a reading by this many of its sigmas."""

Shape = Callable[[Floats, Floats], Floats]
"""From mean (N, W) and variance (N, 1) to likelihoods (N, W)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """What one probe reads under every hypothesis. mean, width (H,); slope (3, H); `unlike`:
    hypotheses that do not read as the healthy one does (they are computed, the rest are copies);
    `felt` (3,): by how many sigmas each shared unknown moves it at most; `chatters`: hypotheses
    without a steady reading."""

    mean: Floats
    slope: Floats
    width: Floats
    unlike: Ints
    felt: Floats
    chatters: Ints

    def only(self, rows: Ints) -> Column:
        """The column of some hypotheses."""
        return Column(
            mean=self.mean[rows],
            slope=self.slope[:, rows],
            width=self.width[rows],
            unlike=np.flatnonzero(np.isin(rows, self.unlike)),
            felt=self.felt,
            chatters=np.flatnonzero(np.isin(rows, self.chatters)),
        )


class View:
    """What the predictor says, by situation and probe. Unknown names give None."""

    def __init__(self, book: Book, predictor: Predictor) -> None:
        """A view of `book` through `predictor`, empty until fetch()."""
        self.book = book
        self.defects: Defects = predictor.defects
        self._blur = worlds(book.machine.volts, 1, 1)
        self.worlds: Worlds = self._blur
        self.asking = True
        self._rows: Ints | None = None
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
                self._states[key] = found.astype(np.float64)[self._rows_or_all]
            except KeyError:
                self._states[key] = None
        return self._states[key]

    def fetch(self) -> None:
        """Ask the predictor for all that was noted; choose the worlds the readings feel."""
        for (situation, gone), wanted in self._asked.items():
            probes = tuple(wanted)
            columns = self._read(situation, probes, gone=gone)
            if columns is None:
                # One unknown name spoils the lot: ask one by one.
                columns = [
                    one[0] if (one := self._read(situation, (probe,), gone=gone)) else None
                    for probe in probes
                ]
            for probe, column in zip(probes, columns, strict=True):
                self._columns[situation, gone, probe] = column
        self.asking = False
        self.worlds = self._worlds(COARSE)

    def near(self, rows: Ints) -> View:
        """The view of some hypotheses alone, healthy first, with finer worlds."""
        view = View(self.book, self._predictor)
        view.restrict(self, rows)
        return view

    def restrict(self, whole: View, rows: Ints) -> None:
        """Become the view of some hypotheses of another one."""
        self.defects = replace(
            whole.defects,
            atom_of=whole.defects.atom_of[rows],
            weight=whole.defects.weight[rows],
            ohm=whole.defects.ohm[rows],
            spread=whole.defects.spread[rows],
        )
        self.asking = False
        self._rows = rows
        self._columns = {
            key: None if column is None else column.only(rows)
            for key, column in whole._columns.items()
        }
        self.worlds = self._worlds(FINE)

    @property
    def _rows_or_all(self) -> Ints | slice:
        return slice(None) if self._rows is None else self._rows

    def _worlds(self, cells: tuple[int, int]) -> Worlds:
        known = [column for column in self._columns.values() if column is not None]
        felt = [any(column.felt[k] > FEELS for column in known) for k in (0, 1)]
        return worlds(
            self.book.machine.volts, cells[0] if felt[0] else 1, cells[1] if felt[1] else 1
        )

    def over(self, column: Column, shape: Shape, *, shared: bool = True) -> Floats:
        """Likelihoods (H, W, or 1 where no unknown is felt) of a column, computed where it
        differs from the healthy one only. Not `shared`: the unknowns are a blur, no worlds."""
        if self.asking:
            return np.ones((1, 1))
        rows = np.concatenate([[0], column.unlike])
        slope = column.slope[:, rows].T
        felt = shared and bool((column.felt[:2] > FEELS).any())
        points, left = self.worlds.points, self.worlds.left
        if not felt:
            points, left = self._blur.points, self._blur.left
        mean = column.mean[rows, None] + slope @ points.T
        variance = slope**2 @ left + column.width[rows] ** 2 / 12.0
        with np.errstate(invalid="ignore"):
            some = shape(mean, variance[:, None])
        full = np.empty((self.count, some.shape[1]))
        full[:] = some[0]
        full[column.unlike] = some[1:]
        return full

    def _read(
        self, situation: Situation, probes: tuple[Probe, ...], *, gone: bool
    ) -> list[Column | None] | None:
        try:
            seen = self._predictor.seen(situation, probes, gone=gone)
        except KeyError:
            return None
        means = np.ascontiguousarray(seen.mean.T)
        slopes = np.ascontiguousarray(seen.slope.transpose(1, 2, 0))
        chatters = np.flatnonzero(~seen.settled)
        return [
            self._column(mean, np.nan_to_num(slope, nan=0.0, posinf=0.0, neginf=0.0), chatters)
            for mean, slope in zip(means, slopes, strict=True)
        ]

    def _column(self, mean: Floats, slope: Floats, chatters: Ints) -> Column:
        with np.errstate(invalid="ignore"):
            # Written so that a reading that is no number counts as unlike; inf - inf is no number.
            alike = (np.abs(mean - mean[0]) <= SAME) | (mean == mean[0])
        for one in slope:
            alike &= np.abs(one - one[0]) <= SAME
        unlike = np.flatnonzero(~alike)
        rows = np.concatenate([[0], unlike])
        size = np.where(np.isfinite(mean[rows]), np.abs(mean[rows]), 0.0)
        moves = np.abs(slope[:, rows]) * np.sqrt(self._blur.left)[:, None]
        return Column(
            mean=mean,
            slope=slope,
            width=self._ladder.width(mean) if unlike.size else np.zeros(mean.size),
            unlike=unlike,
            felt=np.asarray((moves / (0.02 + 0.01 * size)).max(axis=1)),
            chatters=chatters,
        )


_NONE = np.zeros(0, dtype=np.int64)
_BLANK = Column(
    mean=np.zeros(1),
    slope=np.zeros((3, 1)),
    width=np.zeros(1),
    unlike=_NONE,
    felt=np.zeros(3),
    chatters=_NONE,
)
