"""Every prediction a job's findings need, asked for in one go and handed out as columns.

The likelihoods run twice: once to note what they ask (every column is a blank), then on the real
columns. So each says what it needs in one place, and the circuit is asked once per situation.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from functools import reduce
from typing import Any

import numpy as np

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.defects.model import Defects, Floats, Ints, Predictor, Probe
from backprobe.defects.predict import Circuit
from backprobe.suspects.severity import Ladder
from backprobe.suspects.worlds import COARSE, FINE, Worlds, worlds

SAME = 1e-6
"""Readings closer than this (V, A, ohm) to the healthy one are the healthy one."""
FEELS = 0.25
"""An unknown is worth worlds of its own when it moves a reading by this many of its sigmas."""

KEPT = 2_000_000
"""Hypotheses times columns, and times chances, kept from round to round of a job."""

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
            unlike=_among(self.unlike, rows, self.mean.size),
            felt=self.felt,
            chatters=_among(self.chatters, rows, self.mean.size),
        )

    def then(self, other: Column) -> Column:
        """These hypotheses and then the others."""
        return Column(
            mean=np.concatenate([self.mean, other.mean]),
            slope=np.concatenate([self.slope, other.slope], axis=1),
            width=np.concatenate([self.width, other.width]),
            unlike=np.concatenate([self.unlike, self.mean.size + other.unlike]),
            felt=np.maximum(self.felt, other.felt),
            chatters=np.concatenate([self.chatters, self.mean.size + other.chatters]),
        )


_Key = tuple[Situation, bool, Probe]
_Columns = dict[_Key, Column | None]
_Chances = dict[Hashable, Floats]
_Stands = dict[tuple[Situation, bool], Ints | None]


class View:
    """What the predictor says, by situation and probe. Unknown names give None."""

    def __init__(self, book: Book, predictor: Predictor) -> None:
        """A view of `book` through `predictor`, empty until fetch()."""
        self.book = book
        self.defects: Defects = predictor.defects
        self._blur = worlds(book.machine.volts, 1, 1)
        self.worlds: Worlds = self._blur
        self.asking = True
        self._of: tuple[tuple[View, Ints], ...] = ()
        self._predictor = predictor
        self.ladder = Ladder(predictor.defects)
        self._asked: dict[tuple[Situation, bool], dict[Probe, None]] = {}
        self._beside: tuple[View, View] | None = None
        self.known: dict[tuple[Situation, bool, Probe], Column | None] = {}
        self._states: dict[tuple[Situation, bool, str, str], Floats | None] = {}
        self.cut: tuple[int, Ints, Floats] | None = None
        self.felt = (False, False)
        self._noted: _Chances = {}
        self._columns: _Columns = {}
        self.chances: _Chances = {}
        self.stands: _Stands = {}
        if isinstance(predictor, Circuit) and predictor.made is not None:
            self._columns = predictor.made.setdefault("columns", self._columns)
            self.chances = predictor.made.setdefault("chances", self.chances)
            self.stands = predictor.made.setdefault("stand", self.stands)

    @property
    def count(self) -> int:
        """Number of hypotheses; 1 while asking."""
        return 1 if self.asking else self.defects.atom_of.size

    def column(self, situation: Situation, probe: Probe, *, gone: bool) -> Column | None:
        """The column of a probe, None when the book knows no such place."""
        if self.asking:
            self._asked.setdefault((situation, gone), {})[probe] = None
            return _BLANK
        key = (situation, gone, probe)
        if self._of and key not in self.known:
            self.known[key] = self._drawn(key)
        return self.known[key]

    def chance(self, key: Hashable, make: Callable[[], Floats]) -> Floats:
        """(H, 1) what readings come to whatever the worlds; `make` is asked once for a `key`."""
        if self.asking:
            found = self._noted.get(key)
            if found is None:
                found = self._noted[key] = make()
            return found
        found = self.chances.get(key)
        if found is None and self._of and self.cut is None:
            parts = [(view.chances.get(key), at) for view, at in self._of]
            known = [chance[at] for chance, at in parts if chance is not None]
            if len(known) == len(parts):
                found = self.chances[key] = np.concatenate(known)
        if found is None:
            found = self.chances[key] = make()
        return found

    def state(self, situation: Situation, part: str, state: str, *, gone: bool) -> Floats | None:
        """(H,) index of the word of a part's state, None when there is no such state."""
        if self.asking:
            return np.zeros(1)
        key = (situation, gone, part, state)
        if key not in self._states:
            self._states[key] = self._state(situation, part, state, gone=gone)
        return self._states[key]

    def _state(self, situation: Situation, part: str, state: str, *, gone: bool) -> Floats | None:
        if self._of:
            each = [(view.state(situation, part, state, gone=gone), at) for view, at in self._of]
            known = [found[at] for found, at in each if found is not None]
            return np.concatenate(known) if known else None
        try:
            return self._predictor.state(situation, part, state, gone=gone).astype(np.float64)
        except KeyError:
            return None

    def fetch(self, of: Worlds | None = None) -> None:
        """Ask the predictor for all that was noted; take the given worlds, or choose those the
        readings feel."""
        for (situation, gone), wanted in self._asked.items():
            new = [p for p in wanted if (situation, gone, p) not in self._columns]
            probes = tuple(new)
            columns = self._read(situation, probes, gone=gone) if new else []
            if columns is None:
                # One unknown name spoils the lot: ask one by one.
                columns = [
                    one[0] if (one := self._read(situation, (probe,), gone=gone)) else None
                    for probe in probes
                ]
            for probe, column in zip(probes, columns, strict=True):
                self._columns[situation, gone, probe] = column
            for probe in wanted:
                self.known[situation, gone, probe] = self._columns[situation, gone, probe]
        self.asking = False
        _trim(self._columns, KEPT // self.count)
        _trim(self.chances, KEPT // self.count)
        known = [column for column in self.known.values() if column is not None]
        felt = [any(column.felt[k] > FEELS for column in known) for k in (0, 1)]
        self.felt = (felt[0], felt[1])
        self.worlds = of or self._worlds(COARSE)

    def near(self, rows: Ints) -> View:
        """The view of some hypotheses alone, healthy first, with finer worlds."""
        if not self._beside:
            return self._near(self.defects.only(rows), ((self, rows),))
        singles, pairs = self._beside
        cut = singles.count
        parts = ((singles, rows[rows < cut]), (pairs, rows[rows >= cut] - cut + 1))
        return self._near(self.defects.only(rows), parts)

    def pieces(self, rows: Ints, split: Ints, parts: int) -> View:
        """near() some hypotheses, and after them the severity cells of those in `split`, singles,
        each cut into so many even pieces. What is unknown of a severity is then shared by all
        readings."""
        fine = np.repeat(split, parts)
        at = np.tile((2.0 * np.arange(parts) + 1.0) / parts - 1.0, split.size)
        view = self.near(np.concatenate([rows, fine]))
        view.cut = (parts, fine, at)
        return view

    def beside(self, pairs: View, defects: Defects) -> View:
        """The singles of this view and then the two-fault hypotheses of another one, which begins
        with the healthy machine; only views near() some of them can be read."""
        view = View(self.book, self._predictor)
        view.defects, view.asking, view._beside = defects, False, (self, pairs)
        view.chances = {}
        view._wider(self, pairs)
        return view

    def _wider(self, singles: View, pairs: View) -> None:
        """The severity cells of two faults reach as far as those of both."""
        halves = self.defects.halves
        if halves is None:
            return
        one, two = halves[singles.count :].T
        for key, column in pairs.known.items():
            alone = singles.known.get(key)
            if column is not None and alone is not None:
                width = np.hypot(alone.width[one], alone.width[two])
                pairs.known[key] = replace(column, width=np.concatenate([[0.0], width]))

    def _near(self, defects: Defects, parts: tuple[tuple[View, Ints], ...]) -> View:
        """The view of some hypotheses of one view, then of others of another."""
        view = View(self.book, self._predictor)
        view.defects, view.asking, view._of = defects, False, parts
        view.chances = {}
        view.felt = (any(v.felt[0] for v, _ in parts), any(v.felt[1] for v, _ in parts))
        view.worlds = view._worlds(FINE)
        return view

    def _drawn(self, key: _Key) -> Column | None:
        """A column of the hypotheses near, from the views they are in."""
        some = [column.only(at) for one, at in self._of if (column := one.known[key]) is not None]
        if not some:
            return None
        drawn = reduce(Column.then, some)
        whole = self._of[0][0].known[key]
        if self.cut is None or whole is None or not whole.unlike.size:
            return drawn
        parts, fine, at = self.cut
        singles = self._of[0][0]
        up, down = singles.ladder.moves(whole.mean, singles.stands.get(key[:2]))
        move = np.where(at > 0.0, at * up[fine], -at * down[fine])
        count = drawn.mean.size - fine.size
        mean, width = drawn.mean.copy(), drawn.width.copy()
        mean[count:] += np.where(np.isin(fine, whole.unlike), move, 0.0)
        width[count:] /= parts
        return replace(drawn, mean=mean, width=width)

    def _worlds(self, cells: tuple[int, int]) -> Worlds:
        felt = self.felt
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
        self.stands[situation, gone] = seen.stand
        return [
            self._column(
                mean, np.nan_to_num(slope, nan=0.0, posinf=0.0, neginf=0.0), chatters, seen.stand
            )
            for mean, slope in zip(means, slopes, strict=True)
        ]

    def _column(self, mean: Floats, slope: Floats, chatters: Ints, stand: Ints | None) -> Column:
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
            width=self.ladder.width(mean, stand) if unlike.size else np.zeros(mean.size),
            unlike=unlike,
            felt=np.asarray((moves / (0.02 + 0.01 * size)).max(axis=1)),
            chatters=chatters,
        )


def _trim(kept: dict[Any, Any], most: int) -> None:
    """Leave the latest of what is kept."""
    for key in list(kept)[: max(0, len(kept) - most)]:
        del kept[key]


def _among(some: Ints, rows: Ints, count: int) -> Ints:
    """Places of the rows that are some of `count` hypotheses."""
    if not some.size:
        return some
    flags = np.zeros(count, bool)
    flags[some] = True
    return np.flatnonzero(flags[rows])


_NONE = np.zeros(0, dtype=np.int64)
_BLANK = Column(
    mean=np.zeros(1),
    slope=np.zeros((3, 1)),
    width=np.zeros(1),
    unlike=_NONE,
    felt=np.zeros(3),
    chatters=_NONE,
)
