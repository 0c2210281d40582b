"""Every hypothesis is settled once in a situation, and read once at a probe, whoever asks for it.

Circuits that speak of some hypotheses of a machine each share one memory. Hypotheses are known by
their number on the whole machine, and when their defect is gone, by what was blown before. Those not
met yet in a situation are settled together and join those that were.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from backprobe.circuit.drift import Drift
from backprobe.circuit.instruments import Taps
from backprobe.circuit.net import Flags, Ints, States
from backprobe.circuit.parting import distinct
from backprobe.circuit.ports import Ports
from backprobe.circuit.settled import Settled
from backprobe.defects.model import Floats, Probe

SETTLED = 500_000
"""Hypotheses times situations remembered."""
EVERY = 64
FIRST_PAIR, PASTS = 1 << 31, 1 << 24
"""More than a machine has hypotheses, and more than it has sets of blown fuses."""
READ = 8_000_000
"""Readings remembered, 21 bytes each: the code lists of a large machine must fit, or every round
reads them all again."""


@dataclass(slots=True, eq=False)
class Column:
    """One probe under the hypotheses of a place: `known` (k,) those it has been read under, mean
    (k,) and slope (3, k) as in Seen, in single precision."""

    known: Flags
    mean: Floats
    slope: NDArray[np.float32]

    @staticmethod
    def blank(count: int) -> Column:
        """Nothing read yet."""
        return Column(
            known=np.zeros(count, bool),
            mean=np.empty(count),
            slope=np.empty((3, count), np.float32),
        )

    def grown(self, count: int) -> Column:
        """The same, for more hypotheses."""
        wide, many = Column.blank(count), self.known.size
        wide.known[:many], wide.mean[:many] = self.known, self.mean
        wide.slope[:, :many] = self.slope
        return wide

    def put(self, rows: Ints, mean: Floats, slope: Floats) -> None:
        """What was read under some hypotheses: (n,), (n, 3)."""
        self.known[rows], self.mean[rows], self.slope[:, rows] = True, mean, slope.T


@dataclass(slots=True, eq=False)
class Place:
    """One situation: those settled in it so far, and `columns`, what was read under them, by probe
    and whether roughly. `who` (k,) rising: their names (Memory.named), and the `row` (k,) of each.
    `stand` (k,): equal where all that opens or pulls stands alike. `drifts`: of single rows;
    `amps`: through the load a "share" is of, in single rows."""

    settled: Settled | None = None
    stand: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    columns: dict[tuple[Probe, bool], Column] = field(default_factory=dict)
    drifts: dict[int, Drift | None] = field(default_factory=dict)
    amps: dict[tuple[int, Probe], float] = field(default_factory=dict)
    who: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    row: Ints = field(default_factory=lambda: np.zeros(0, np.int64))

    @property
    def rest(self) -> Settled:
        """Those settled in it. LookupError before anybody was."""
        if self.settled is None:
            raise LookupError("nobody has been settled in this situation")
        return self.settled

    def find(self, who: Ints) -> Ints:
        """(n,) the row of hypotheses, -1 for those not met."""
        if not self.who.size:
            return np.full(who.size, -1)
        at = np.minimum(np.searchsorted(self.who, who), self.who.size - 1)
        return np.where(self.who[at] == who, self.row[at], -1)

    def add(self, who: Ints, settled: Settled, stand: Ints, *, ports: Ports, numbers: Ints) -> None:
        """Hypotheses not met before, in the order of their rows, and how each stands; settled with
        ports that are the `numbers` (p,) of `ports`, and of what was fitted besides."""
        self.stand = np.concatenate([self.stand, stand])
        row = np.arange(self.who.size, self.who.size + who.size)
        joined = np.concatenate([self.who, who])
        order = np.argsort(joined, kind="stable")
        self.who = joined[order]
        self.row = np.concatenate([self.row, row])[order]
        if self.settled is None:
            own = numbers < ports.count
            self.settled = settled.numbered(
                ports.plus(settled.ports.only(np.flatnonzero(~own))), numbers
            )
        else:
            self.settled = self.settled.then(settled.numbered(self.settled.ports, numbers))

    def column(self, probe: Probe, *, rough: bool) -> Column:
        """What a probe reads under all that are settled here, as far as it is known."""
        found = self.columns.get((probe, rough))
        if found is None or found.known.size < self.who.size:
            found = found.grown(self.who.size) if found else Column.blank(self.who.size)
            self.columns[probe, rough] = found
        return found


@dataclass(slots=True, eq=False)
class Memory:
    """What was worked out on one machine. `pasts`: a number for every set of lasting states;
    `pairs`: one for every two hypotheses that were joined; `taps`: where probes touch;
    `moves`: the states that open, pull or give way."""

    places: OrderedDict[object, Place] = field(default_factory=OrderedDict)
    pasts: dict[bytes, int] = field(default_factory=dict)
    pairs: dict[tuple[int, int], int] = field(default_factory=dict)
    taps: dict[tuple[Probe, ...], Taps] = field(default_factory=dict)
    moves: Ints | None = None
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
            settled += place.who.size
            read += sum(column.known.size for column in place.columns.values())
            if place is busy:
                continue
            if settled > SETTLED:
                del self.places[key]
            elif read > READ:
                place.columns.clear()

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
    """Where n hypotheses are in a place: the `row` (n,) of each."""

    place: Place
    row: Ints

    def settled(self) -> Settled:
        """They alone, at rest."""
        rest = self.place.rest
        whole = self.row.size == rest.count and bool((self.row == np.arange(rest.count)).all())
        return rest if whole else rest.only(self.row)

    def states(self) -> States:
        """(n, S) at rest."""
        return self.place.rest.states[self.row]

    def state(self, number: int) -> States:
        """(n,) how one state stands at rest."""
        stands: States = self.place.rest.states[self.row, number]
        return stands

    def stand(self) -> Ints:
        """(n,) how all that opens or pulls stands."""
        return self.place.stand[self.row]

    def steady(self) -> Flags:
        """(n,) False where relays chatter."""
        return self.place.rest.steady[self.row]

    def columns(self, probes: Sequence[Probe], *, rough: bool) -> list[Column]:
        """What each probe reads, as far as it is known."""
        return [self.place.column(probe, rough=rough) for probe in probes]

    def unread(
        self, probes: Sequence[Probe], columns: Sequence[Column]
    ) -> list[tuple[Ints, list[tuple[Probe, Column]]]]:
        """Rows, and the probes that have not been read there."""
        rows: dict[bytes, tuple[Ints, list[tuple[Probe, Column]]]] = {}
        if not columns:
            return []
        known = np.array([column.known.take(self.row) for column in columns])
        some = np.flatnonzero(~known.all(axis=1)).tolist()
        for probe, (column, k) in {probes[k]: (columns[k], k) for k in some}.items():
            key = known[k].tobytes()
            if key not in rows:
                rows[key] = (np.unique(self.row[~known[k]]), [])
            rows[key][1].append((probe, column))
        return list(rows.values())

    def stacked(self, columns: Sequence[Column]) -> tuple[Floats, Floats]:
        """Mean (n, P) and slope (n, P, 3) of columns that have been read. Laid out column by column: who
        goes through the probes one by one copies nothing."""
        shape = len(columns), 3, self.row.size
        mean, slope = np.empty((shape[0], shape[2])), np.empty(shape)
        for k, column in enumerate(columns):
            mean[k] = column.mean.take(self.row)
            slope[k] = column.slope.take(self.row, axis=1)
        return mean.T, slope.transpose(2, 0, 1)
