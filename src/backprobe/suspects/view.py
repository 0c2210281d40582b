"""Every prediction a job's findings need, asked for in one go and handed out as columns.

The likelihoods run twice: once to note what they ask (every column is a blank), then on the real
columns. So each says what it needs in one place, and the circuit is asked once per situation.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field, replace
from functools import reduce
from typing import Any, NamedTuple, Protocol, Self, TypeVar

import numpy as np

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.defects.model import Defects, Flags, Floats, Ints, Predictor, Probe
from backprobe.defects.predict import Circuit
from backprobe.suspects.column import BLANK, Column
from backprobe.suspects.pieces import Pieces, moves
from backprobe.suspects.severity import Ladder
from backprobe.suspects.worlds import COARSE, FINE, Worlds, worlds

FEELS = 0.25
"""An unknown is worth worlds of its own when it moves a reading by this many of its sigmas."""

KEPT = 2_000_000
"""Hypotheses times columns, and times chances, kept from round to round of a job."""
SAID, LISTS = 8_000_000, 2
"""Hypotheses times rules of code lists kept, of lists with as many rules as units usually have; the
least number of lists."""
POWERED = " powered"
"""In place of a state's name: the chance that a unit has power."""
RULES = 100
WANTED = 64
"""Code lists of which it is remembered what they ask."""

Shape = Callable[[Floats, Floats], Floats]
"""From mean (N, W) and variance (N, 1) to likelihoods (N, W)."""


_Key = tuple[Situation, bool, Probe]
_Asked = dict[tuple[Situation, bool], dict[Probe, None]]


class OfSome(Protocol):
    """What is said of every hypothesis."""

    def only(self, rows: Ints) -> Self:
        """The same of some of them."""

    def then(self, other: Self, counts: tuple[int, int]) -> Self:
        """Of these hypotheses and then of others, so many of each."""


Told = TypeVar("Told", bound=OfSome)


class Chance(NamedTuple):
    """(H or 1, 1) a chance, and the columns it was made of."""

    of: Floats
    columns: tuple[_Key, ...]

    def only(self, rows: Ints) -> Chance:
        """That of some hypotheses."""
        return Chance(self.of if self.of.shape[0] == 1 else self.of[rows], self.columns)


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """What was made of a circuit's readings, kept from round to round and from job to job. `lists`:
    what whole code lists say (suspects.codes), `wanted`: what they ask for, and say while asking."""

    columns: dict[_Key, Column | None] = field(default_factory=dict)
    chances: dict[Hashable, Chance] = field(default_factory=dict)
    stands: dict[tuple[Situation, bool], Ints | None] = field(default_factory=dict)
    lists: dict[Hashable, Any] = field(default_factory=dict)
    wanted: dict[Hashable, tuple[Any, _Asked]] = field(default_factory=dict)

    @staticmethod
    def of(predictor: Predictor) -> Kept:
        """What is kept with a circuit; nothing yet where nothing is to be kept."""
        if not isinstance(predictor, Circuit) or predictor.made is None:
            return Kept()
        found: Kept = predictor.made.setdefault("kept", Kept())
        return found

    def only(self, rows: Ints, spread: Floats) -> Kept:
        """The same of some hypotheses; `spread` as in Column.of()."""
        return Kept(
            columns={
                key: None if column is None else column.only(rows).felt_by(spread)
                for key, column in self.columns.items()
            },
            chances={key: chance.only(rows) for key, chance in self.chances.items()},
            stands={
                key: None if stand is None else stand[rows] for key, stand in self.stands.items()
            },
            wanted=dict(self.wanted),
        )


class View:
    """What the predictor says, by situation and probe. Unknown names give None."""

    def __init__(self, book: Book, predictor: Predictor) -> None:
        """A view of `book` through `predictor`, empty until fetch()."""
        self.book = book
        self.defects: Defects = predictor.defects
        self._blur = worlds(book.machine.volts, 1, 1)
        self.spread = np.sqrt(self._blur.left)
        self.worlds: Worlds = self._blur
        self.asking = True
        self._of: tuple[tuple[View, Ints], ...] = ()
        self._predictor = predictor
        self.ladder = Ladder(predictor.defects)
        self._asked: _Asked = {}
        self._beside: tuple[View, View] | None = None
        self.known: dict[tuple[Situation, bool, Probe], Column | None] = {}
        self._states: dict[tuple[Situation, bool, str, str], Floats | None] = {}
        self.cut: tuple[View, Ints, Pieces] | None = None
        self.felt = (False, False)
        self._noted: dict[Hashable, Floats] = {}
        self._used: dict[_Key, None] = {}
        self._moving: dict[_Key, bool] = {}
        self.kept = Kept.of(predictor)

    @property
    def count(self) -> int:
        """Number of hypotheses; 1 while asking."""
        return 1 if self.asking else self.defects.atom_of.size

    def column(self, situation: Situation, probe: Probe, *, gone: bool) -> Column | None:
        """The column of a probe, None when the book knows no such place."""
        if self.asking:
            self._asked.setdefault((situation, gone), {})[probe] = None
            return BLANK
        key = (situation, gone, probe)
        self._used[key] = None
        if self._of and key not in self.known:
            self.known[key] = self._drawn(key)
        return self.known[key]

    def chance(self, key: Hashable, make: Callable[[], Floats]) -> Floats:
        """(H or 1, 1) what readings come to whatever the worlds; `make` is asked once for a `key`."""
        if self.asking:
            found = self._noted.get(key)
            if found is None:
                found = self._noted[key] = make()
            return found
        known = self.kept.chances.get(key)
        if known is None:
            known = self.kept.chances[key] = self._joined(key) or self._made(make)
        return known.of

    def _made(self, make: Callable[[], Floats]) -> Chance:
        """A chance, worked out."""
        self._used = {}
        chance = make()
        return Chance(chance, tuple(self._used))

    def _joined(self, key: Hashable) -> Chance | None:
        """A chance as the views say that these hypotheses are from, None where a piece of a severity
        cell may say otherwise."""
        parts = [(view.kept.chances.get(key), at) for view, at in self._of]
        known = [chance.only(at) for chance, at in parts if chance is not None]
        if not known or len(known) < len(parts) or any(map(self._moves, known[0].columns)):
            return None
        if len(known) == 1:
            return known[0]
        each = [
            np.broadcast_to(one.of, (at.size, 1)) for one, (_, at) in zip(known, parts, strict=True)
        ]
        return Chance(np.concatenate(each), known[0].columns)

    def _moves(self, key: _Key) -> bool:
        """Whether a reading moves within a severity cell that was cut into pieces."""
        if self.cut is None:
            return False
        found = self._moving.get(key)
        if found is None:
            of, split, pieces = self.cut
            whole, solved = self._of[0][0].known.get(key), of.known.get(key)
            loose = pieces.loose.reshape(split.size, -1)[:, 0]
            found = False
            if whole is not None and solved is not None:
                found = moves(whole.mean[split], solved, loose)
            self._moving[key] = found
        return found

    def told(self, key: Hashable, make: Callable[[], Told]) -> Told:
        """What a code list says; `make` is asked once for a `key`."""
        if self.asking:
            return self._asked_for(key, make)
        found: Told | None = self.kept.lists.get(key)
        if found is None and self._of and not self._list_moves(key):
            parts = [(view.kept.lists.get(key), rows) for view, rows in self._of]
            found = _side_by_side(
                [(one, rows) for one, rows in parts if one is not None], len(parts)
            )
        if found is None:
            found = make()
        self.kept.lists[key] = found
        _trim(self.kept.lists, max(LISTS, SAID // RULES // self.count))
        return found

    def _list_moves(self, key: Hashable) -> bool:
        """Whether something a code list asks for moves within a severity cell that was cut."""
        if self.cut is None:
            return False
        wanted = self._of[0][0].kept.wanted.get(key)
        of, split, _ = self.cut
        return wanted is None or any(
            self._stands_apart(of, split, place)
            or any(self._moves((*place, probe)) for probe in probes)
            for place, probes in wanted[1].items()
        )

    def _stands_apart(self, of: View, split: Ints, place: tuple[Situation, bool]) -> bool:
        """Whether things stand otherwise within a severity cell that was cut."""
        whole, solved = self._of[0][0].kept.stands.get(place), of.kept.stands.get(place)
        if whole is None or solved is None:
            return False
        return bool((solved[1:].reshape(split.size, -1) != whole[split, None]).any())

    def _asked_for(self, key: Hashable, make: Callable[[], Told]) -> Told:
        """What a code list wants to know, remembered: most ask again in every round."""
        known = self.kept.wanted.get(key)
        if known is None:
            # All that it asks, also what another list of this job has asked before.
            before, self._asked, self._noted = (self._asked, self._noted), {}, {}
            blank = make()
            known = self.kept.wanted[key] = blank, self._asked
            self._asked, self._noted = before
            _trim(self.kept.wanted, WANTED)
        blank, asked = known
        for place, probes in asked.items():
            self._asked.setdefault(place, {}).update(probes)
        found: Told = blank
        return found

    def asks_as(self, other: View) -> None:
        """What code lists want to know is the same for all hypotheses: remembered with another view."""
        self.kept.wanted.update(other.kept.wanted)

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
            each = [
                (view.state(situation, part, state, gone=gone), at) for view, at in self._stands
            ]
            known = [found[at] for found, at in each if found is not None]
            return np.concatenate(known) if known else None
        try:
            return self._predictor.state(situation, part, state, gone=gone).astype(np.float64)
        except KeyError:
            return None

    def powered(self, situation: Situation, unit: str, *, gone: bool) -> Floats | None:
        """(H,) chance that a unit has power; None when the circuit knows no such unit."""
        key = (situation, gone, unit, POWERED)
        if not self.asking and key not in self._states:
            self._states[key] = self._powered(situation, unit, gone=gone)
        return np.zeros(1) if self.asking else self._states[key]

    def _powered(self, situation: Situation, unit: str, *, gone: bool) -> Floats | None:
        if self._of:
            each = [(view.powered(situation, unit, gone=gone), at) for view, at in self._stands]
            known = [found[at] for found, at in each if found is not None]
            return np.concatenate(known) if known else None
        state = self.state(situation, unit, "power", gone=gone)
        return None if state is None else self.ladder.beside((state == 1.0).astype(np.float64))

    @property
    def _stands(self) -> tuple[tuple[View, Ints], ...]:
        """The views that tell how things stand: of pieces the nearest step that was solved."""
        if self.cut is None:
            return self._of
        of, _, pieces = self.cut
        return (*self._of[:-1], (of, pieces.near))

    def left_behind(self, situation: Situation) -> Flags:
        """(H,) whose machine does not stand as the healthy one while the defect is gone: what it blew
        is still blown."""
        stand = None if self.asking else self.stand(situation)
        return np.zeros(self.count, bool) if stand is None else stand != stand[0]

    def stand(self, situation: Situation) -> Ints | None:
        """(H,) how all that opens or pulls stands while no defect shows, None when that is not known."""
        if self._of:
            each = [view.stand(situation) for view, _ in self._stands]
            known = [
                stand[at]
                for stand, (_, at) in zip(each, self._stands, strict=True)
                if stand is not None
            ]
            return np.concatenate(known) if len(known) == len(each) else None
        key = situation, True
        if key not in self.kept.stands:
            self.kept.stands[key] = self._predictor.seen(situation, (), gone=True).stand
        return self.kept.stands[key]

    def fetch(self, of: Worlds | None = None) -> None:
        """Ask the predictor for all that was noted; take the given worlds, or choose those the
        readings feel."""
        for (situation, gone), wanted in self._asked.items():
            new = [p for p in wanted if (situation, gone, p) not in self.kept.columns]
            probes = tuple(new)
            columns = self._read(situation, probes, gone=gone) if new else []
            if columns is None:
                # One unknown name spoils the lot: ask one by one.
                columns = [
                    one[0] if (one := self._read(situation, (probe,), gone=gone)) else None
                    for probe in probes
                ]
            for probe, column in zip(probes, columns, strict=True):
                self.kept.columns[situation, gone, probe] = column
            for probe in wanted:
                self.known[situation, gone, probe] = self.kept.columns[situation, gone, probe]
        self.asking = False
        _trim(self.kept.columns, KEPT // self.count)
        _trim(self.kept.chances, KEPT // self.count)
        known = [column for column in self.known.values() if column is not None]
        felt = [any(column.felt[k] > FEELS for column in known) for k in (0, 1)]
        self.felt = (felt[0], felt[1])
        self.worlds = of or self._worlds(COARSE)

    def near(self, rows: Ints) -> View:
        """The view of some hypotheses alone, healthy first, with finer worlds."""
        return self._near(self.defects.only(rows), self._sources(rows))

    def _sources(self, rows: Ints) -> tuple[tuple[View, Ints], ...]:
        """The views that hypotheses are taken from, and which of theirs."""
        if not self._beside:
            return ((self, rows),)
        singles, pairs = self._beside
        cut = singles.count
        return (singles, rows[rows < cut]), (pairs, rows[rows >= cut] - cut + 1)

    def pieces(self, rows: Ints, split: Ints, parts: int) -> View:
        """near() some hypotheses, and after them the severity cells of those in `split`, singles,
        each cut into so many even pieces. What is unknown of a severity is then shared by all
        readings."""
        fine = np.repeat(split, parts)
        singles = self._beside[0] if self._beside else self
        every = self.defects.only(np.concatenate([rows, fine]))
        view = self._near(every, (*self._sources(rows), (singles, fine)))
        loose = singles.defects.only(split).loose
        view.cut = singles.solved_in(split), split, Pieces.of(split.size, parts, loose)
        return view

    def solved_in(self, split: Ints) -> View:
        """What this view was asked, of hypotheses at the steps through their severity cells."""
        view = View(self.book, self._predictor.in_cells(split))
        for situation, gone, probe in self.known:
            view._asked.setdefault((situation, gone), {})[probe] = None
        view.fetch(self.worlds)
        return view

    def beside(self, pairs: View, defects: Defects) -> View:
        """The singles of this view and then the two-fault hypotheses of another one, which begins
        with the healthy machine; only views near() some of them can be read."""
        view = View(self.book, self._predictor)
        view.defects, view.asking, view._beside = defects, False, (self, pairs)
        view.kept = Kept()
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
        view.kept = Kept()
        view.felt = (any(v.felt[0] for v, _ in parts), any(v.felt[1] for v, _ in parts))
        view.worlds = view._worlds(FINE)
        return view

    def _drawn(self, key: _Key) -> Column | None:
        """A column of the hypotheses near, from the views they are in."""
        some = [column.only(at) for one, at in self._of if (column := one.known[key]) is not None]
        if not some:
            return None
        drawn = reduce(Column.then, some)
        if self.cut is None or not self._moves(key):
            return drawn
        of, _, pieces = self.cut
        solved = of.known[key]
        if solved is None:
            return drawn
        count = drawn.mean.size - pieces.near.size
        whole = drawn.only(np.arange(count, drawn.mean.size))
        read = pieces.column(solved, whole, of.kept.stands.get(key[:2]))
        return drawn.only(np.arange(count)).then(read)

    def _worlds(self, cells: tuple[int, int]) -> Worlds:
        felt = self.felt
        return worlds(
            self.book.machine.volts, cells[0] if felt[0] else 1, cells[1] if felt[1] else 1
        )

    def over(self, column: Column, shape: Shape, *, shared: bool = True) -> Floats:
        """Likelihoods (H, W, or 1 where no unknown is felt) of a column, computed where it
        differs from the healthy one only; one row where nobody does. Not `shared`: the unknowns are
        a blur, no worlds."""
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
            if (
                column.other is not None
                and (given := np.flatnonzero(column.other[1][rows] > 0.0)).size
            ):
                # Pieces of severity cells in which something may have given in already.
                at, share = (part[rows[given], None] for part in column.other)
                moved = mean[given] + (at - column.mean[rows[given], None])
                there = shape(moved, variance[given, None])
                some[given] = (1.0 - share) * some[given] + share * there
        if not column.unlike.size:
            return some
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
        self.kept.stands[situation, gone] = seen.stand
        return [
            Column.of(
                mean, slope,
                ladder=self.ladder, stand=seen.stand, chatters=chatters, spread=self.spread,
            )
            for mean, slope in zip(means, slopes, strict=True)
        ]  # fmt: skip


def _side_by_side(parts: Sequence[tuple[Told, Ints]], count: int) -> Told | None:
    """What a code list says of some hypotheses of `count` views, one after the other; None where one of
    them was not asked."""
    if len(parts) < count:
        return None
    (first, rows), *rest = parts
    found, done = first.only(rows), rows.size
    for one, more in rest:
        found, done = found.then(one.only(more), (done, more.size)), done + more.size
    return found


def _trim(kept: dict[Any, Any], most: int) -> None:
    """Leave the latest of what is kept."""
    for key in list(kept)[: max(0, len(kept) - most)]:
        del kept[key]
