"""Every hypothesis is settled once in a situation, and read once at a probe, whoever asks for it.

Circuits that speak of some hypotheses of a machine each share one memory. Hypotheses are known by
their number on the whole machine, and when their defect is gone, by what was blown before. Those not
met yet in a situation are settled together and make a piece of their own.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from backprobe.circuit.net import Flags, Ints, States
from backprobe.circuit.parting import distinct
from backprobe.circuit.settle import Settled
from backprobe.defects.model import Floats, Probe

T = TypeVar("T", bound=np.generic)

SETTLED = 500_000
"""Hypotheses times situations remembered."""
EVERY = 64
FEW = 4
"""A piece of which fewer than one in so many are to be read is parted."""
FIRST_PAIR, PASTS = 1 << 31, 1 << 24
"""More than a machine has hypotheses, and more than it has sets of blown fuses."""
READ = 8_000_000
"""Readings remembered, 24 bytes each: the code lists of a large machine must fit, or every round
reads them all again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One probe under n hypotheses: mean (n,), slope (3, n) and source (n,) as in Seen, the last
    two in single precision."""

    mean: Floats
    slope: NDArray[np.float32]
    source: NDArray[np.float32]

    @staticmethod
    def of(mean: Floats, slope: Floats, source: Floats) -> Column:
        """A column from (n,), (n, 3), (n,)."""
        return Column(
            mean=mean.copy(), slope=slope.T.astype(np.float32), source=source.astype(np.float32)
        )

    def only(self, rows: Ints) -> Column:
        """The column of some of them."""
        return Column(mean=self.mean[rows], slope=self.slope[:, rows], source=self.source[rows])


@dataclass(slots=True, eq=False)
class Piece:
    """Hypotheses settled together, and what was read under them: by probe, and whether roughly.
    `lone`: what was read of one row, in full."""

    settled: Settled
    columns: dict[tuple[Probe, bool], Column] = field(default_factory=dict)
    lone: dict[tuple[int, Probe], Column] = field(default_factory=dict)

    @property
    def count(self) -> int:
        """How many hypotheses."""
        return self.settled.cases.count


@dataclass(slots=True, eq=False)
class Place:
    """One situation. `who` (k,) rising: the hypotheses settled in it so far (Memory.named), in which
    piece and row of it (k,) each."""

    pieces: list[Piece] = field(default_factory=list)
    who: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    piece: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    row: Ints = field(default_factory=lambda: np.zeros(0, np.int64))

    def find(self, who: Ints) -> tuple[Ints, Ints]:
        """Piece and row (n,) of hypotheses, piece -1 for those not met."""
        if not self.who.size:
            return np.full(who.size, -1), np.zeros(who.size, np.int64)
        at = np.minimum(np.searchsorted(self.who, who), self.who.size - 1)
        return np.where(self.who[at] == who, self.piece[at], -1), self.row[at]

    def part(self, number: int, rows: Ints) -> None:
        """Some hypotheses of a piece, from now on a piece of their own."""
        rows, whole = np.unique(rows), self.pieces[number]
        place = np.full(whole.count, -1)
        place[rows] = np.arange(rows.size)
        mine = np.flatnonzero(self.piece == number)
        to = place[self.row[mine]]
        mine, to = mine[to >= 0], to[to >= 0]
        self.piece[mine], self.row[mine] = len(self.pieces), to
        columns = {key: column.only(rows) for key, column in whole.columns.items()}
        self.pieces.append(Piece(settled=whole.settled.spread(rows), columns=columns))

    def add(self, who: Ints, settled: Settled) -> None:
        """Hypotheses not met before, in the order of their rows."""
        joined = np.concatenate([self.who, who])
        order = np.argsort(joined, kind="stable")
        number = np.full(who.size, len(self.pieces))
        self.who = joined[order]
        self.piece = np.concatenate([self.piece, number])[order]
        self.row = np.concatenate([self.row, np.arange(who.size)])[order]
        self.pieces.append(Piece(settled=settled))


@dataclass(slots=True, eq=False)
class Memory:
    """What was worked out on one machine. `pasts`: a number for every set of lasting states;
    `pairs`: one for every two hypotheses that were joined."""

    places: OrderedDict[object, Place] = field(default_factory=OrderedDict)
    pasts: dict[bytes, int] = field(default_factory=dict)
    pairs: dict[tuple[int, int], int] = field(default_factory=dict)
    _since: int = 0

    def place(self, key: object) -> Place:
        """The place of a situation."""
        place = self.places.setdefault(key, Place())
        self.places.move_to_end(key)
        return place

    def trim(self, busy: Place) -> None:
        """Forget what was least lately asked for, where there is too much; looked at now and then."""
        self._since += 1
        if self._since < EVERY:
            return
        self._since = 0
        settled = read = 0
        for key, place in list(reversed(self.places.items())):
            settled += sum(piece.count for piece in place.pieces)
            read += sum(piece.count * len(piece.columns) for piece in place.pieces)
            if place is busy:
                continue
            if settled > SETTLED:
                del self.places[key]
            elif read > READ:
                for piece in place.pieces:
                    piece.columns.clear()

    def past(self, kept: States) -> Ints:
        """(n,) the number of each row of lasting states."""
        kinds, label = distinct(kept)
        numbers = [self.pasts.setdefault(kind.tobytes(), len(self.pasts)) for kind in kinds]
        return np.array(numbers, np.int64)[label]

    def joined(self, first: Ints, second: Ints) -> Ints:
        """A number for each pair of hypotheses, above those of all singles."""
        return np.array(
            [
                FIRST_PAIR + self.pairs.setdefault(pair, len(self.pairs))
                for pair in zip(first.tolist(), second.tolist(), strict=True)
            ],
            np.int64,
        )

    @staticmethod
    def named(ident: Ints, past: Ints) -> Ints:
        """(n,) who is who: a hypothesis with what was blown before."""
        return ident * PASTS + past


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Where n hypotheses, `who` (n,) as named, are in a place: `piece` and `row` (n,)."""

    place: Place
    who: Ints
    piece: Ints
    row: Ints

    def parts(self) -> list[tuple[Piece, Ints | slice, Ints | slice]]:
        """Every piece that is needed: which of the n are in it, and at which rows of it."""
        used = np.unique(self.piece)
        if used.size == 1:
            piece = self.place.pieces[used[0]]
            whole = self.row.size == piece.count and (self.row == np.arange(piece.count)).all()
            return [(piece, slice(None), slice(None) if whole else self.row)]
        found: list[tuple[Piece, Ints | slice, Ints | slice]] = []
        for number in used:
            mine = np.flatnonzero(self.piece == number)
            found.append((self.place.pieces[number], mine, self.row[mine]))
        return found

    def parted(self, wanted: Sequence[tuple[Probe, bool]]) -> Found:
        """The same, few of a large piece parted from it where they are to be read and it is not."""
        large = False
        for piece, _, rows in self.parts():
            if isinstance(rows, slice) or rows.size * FEW > piece.count:
                continue
            if any(one not in piece.columns for one in wanted):
                self.place.part(self.place.pieces.index(piece), rows)
                large = True
        if not large:
            return self
        number, row = self.place.find(self.who)
        return Found(place=self.place, who=self.who, piece=number, row=row)

    def alone(self) -> Settled | None:
        """The piece that is these hypotheses and no others, if there is one."""
        parts = self.parts()
        if len(parts) == 1 and isinstance(parts[0][2], slice):
            return parts[0][0].settled
        return None

    def states(self) -> States:
        """(n, S) at rest."""
        return self._gather(lambda settled: settled.states)

    def steady(self) -> Flags:
        """(n,) False where relays chatter."""
        return self._gather(lambda settled: settled.steady)

    def _gather(self, of: Callable[[Settled], NDArray[T]]) -> NDArray[T]:
        parts = self.parts()
        first = of(parts[0][0].settled)
        if len(parts) == 1:
            return first[parts[0][2]]
        result = np.empty((self.piece.size, *first.shape[1:]), first.dtype)
        for piece, mine, rows in parts:
            result[mine] = of(piece.settled)[rows]
        return result


def stacked(found: Found, probes: Sequence[Probe], *, rough: bool) -> tuple[Floats, Floats, Floats]:
    """Mean (n, P), slope (n, P, 3), source (n, P) of columns that have been read. Laid out column by
    column: who goes through the probes one by one copies nothing."""
    many, count = len(probes), found.piece.size
    mean, slope = np.empty((many, count)), np.empty((many, 3, count))
    source = np.empty((many, count))
    for piece, mine, rows in found.parts():
        for k, probe in enumerate(probes):
            column = piece.columns[probe, rough]
            mean[k, mine] = column.mean[rows]
            slope[k][:, mine] = column.slope[:, rows]
            source[k, mine] = column.source[rows]
    return mean.T, slope.transpose(2, 0, 1), source.T
