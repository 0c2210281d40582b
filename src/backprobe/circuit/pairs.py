"""Where every pair of hypotheses comes to rest, millions at a time.

A pair ends exactly where settle() would bring it with the ports of both. Most pairs of a defect
move as that defect moves alone, whatever the second one is. So of the two, the one that takes the
rarer way through the patterns of states leads, and the other only has to be looked at where it may
move something its leader does not (circuit.pair_follow). What leaves its leader is followed on its own
(circuit.pair_look). In every round the table of transfers is that of the pattern where the healthy
machine stands, from which most others are a few turns away.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from backprobe.circuit.bases import Bases
from backprobe.circuit.limits import Limits
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.pair_follow import Followers, Leavers, Runs, runs_of
from backprobe.circuit.pair_lists import alone, by_end, led, moving_on, named, rested
from backprobe.circuit.pair_look import Moves
from backprobe.circuit.pair_pieces import (
    SHARES,
    Ground,
    Piece,
    Seat,
    following,
    looking,
    seat_for,
    worked,
)
from backprobe.circuit.pair_put import Defective, Numbers
from backprobe.circuit.pair_table import (
    Conditions,
    Table,
    conditions_of,
    sound,
    swept,
    table_of,
    turned_between,
)
from backprobe.circuit.patterns import Patterns, no_patterns, numbers_of
from backprobe.circuit.ports import Cases, Ports
from backprobe.circuit.settle import ROUNDS, settle
from backprobe.circuit.transfer import Transfer, vectors_of

Start = Sequence[tuple[States, Ints]]


@dataclass(frozen=True, slots=True, kw_only=True)
class SettledPairs:
    """Where every pair came to rest. `first`, `second` (m,): its hypotheses; `patterns` (p, S) the
    states some rest in and `end` (m,) which of them; `steady` (m,) False where relays chatter;
    `followers`: who leads whom."""

    transfer: Transfer
    table: Table
    conditions: Conditions
    defective: Defective
    cases: Cases
    ports: Ports
    leads: tuple[int, ...]
    first: Ints
    second: Ints
    patterns: States
    end: Numbers
    steady: Flags
    followers: Followers

    @property
    def count(self) -> int:
        """How many pairs there are."""
        return len(self.first)

    def states(self) -> States:
        """(m, S) the states every pair came to rest in."""
        return self.patterns[self.end]

    def order(self) -> Numbers:
        """(4, m) pairs by their end, those that one hypothesis leads side by side: number, who leads, the
        other, end."""
        order = np.empty((4, self.count), np.int32)
        by_end(self.followers, self.end, np.zeros(len(self.patterns) + 1, np.int64), order)
        return order


def settle_pairs(
    bases: Bases,
    limits: Limits,
    ports: Ports,
    cases: Cases,
    pairs: tuple[Ints, Ints],
    *,
    alone: Start,
    together: Start = (),
    leads: Sequence[int] = (),
) -> SettledPairs:
    """Bring pairs of the hypotheses of `cases` to rest.

    `pairs`: hypothesis numbers (m,), (m,); two on one and the same port are no pair. `alone`:
    (states, hypotheses) every hypothesis starts in; `together`: the same for pairs (pair numbers),
    where that is not where their hypotheses start. `leads`: ports fitted throughout.
    """
    first, second = (np.asarray(part, np.int64) for part in pairs)
    healthy = next(states for states, which in alone if (np.asarray(which) == 0).any())
    only = Cases.of([list(leads)])
    rest = settle(bases, limits, ports, only, [(healthy, np.zeros(1, np.int64))]).states[0]
    used = np.union1d(np.flatnonzero(named(cases.count, first, second)), [0])
    fit = np.array(leads, np.int64)
    vectors = vectors_of(bases.net, ports, np.concatenate([cases.only(used).ports, fit]))
    transfer = Transfer.of(bases, limits, vectors, rest)
    moves, watched = _moves(transfer, limits)
    walk = _Walk.of(transfer, watched, moves, _defective(transfer, ports, cases, fit), used)
    begin = np.zeros((cases.count, len(healthy)), np.int8)
    for states, which in alone:
        begin[which] = states
    begin[0] = healthy
    walk.singles(begin, used)
    starts = [(int(walk.number(states[None])[0]), which) for states, which in together]
    walk.pairs(first, second, starts)
    return SettledPairs(
        transfer=transfer,
        table=walk.table,
        conditions=walk.cond,
        defective=walk.d,
        cases=cases,
        ports=ports,
        leads=tuple(leads),
        first=first,
        second=second,
        patterns=walk.known.states[: walk.known.met[0]],
        end=walk.end,
        steady=walk.steady,
        followers=walk.followers,
    )


@dataclass(slots=True)
class _Walk:
    """Hypotheses and pairs on their way. `near`: the table last made from a factorisation; `ways`: the pattern every hypothesis stands in (H,), round
    by round until none of them moves. `seats`: one for each of the crew."""

    transfer: Transfer
    watched: Ints
    table: Table
    near: Table
    cond: Conditions
    moves: Moves
    d: Defective
    runs: Runs
    seats: list[Seat]
    known: Patterns
    ways: list[Ints]
    followers: Followers
    end: Numbers
    steady: Flags

    @staticmethod
    def of(transfer: Transfer, watched: Ints, moves: Moves, d: Defective, used: Ints) -> _Walk:
        """Nobody has set out yet; hypotheses `used` will."""
        table, runs = table_of(transfer, watched), runs_of(d, used, len(d.turn))
        states = len(transfer.net.states)
        return _Walk(
            transfer=transfer,
            watched=watched,
            table=table,
            near=table,
            cond=conditions_of(transfer.net, transfer.toggles),
            moves=moves,
            d=d,
            runs=runs,
            seats=[
                seat_for(table, moves, runs, 3 * int(d.most[0]), states)
                for _ in range(transfer.bases.crew.many)
            ],
            known=no_patterns(states),
            ways=[],
            followers=_followers(0, 0),
            end=np.zeros(0, np.int32),
            steady=np.zeros(0, bool),
        )

    def number(self, states: States) -> Ints:
        """(n,) the patterns of state vectors (n, S)."""
        self.known, numbers = numbers_of(self.known, states)
        return numbers

    def singles(self, begin: States, rows: Ints) -> None:
        """Walk hypotheses `rows` that begin in (H, S)."""
        at = np.full(self.d.begin.size - 2, -1, np.int64)
        at[rows] = self.number(begin[rows])
        self.ways = [at]
        moving = rows
        for _ in range(ROUNDS):
            loose = np.full((len(moving), 4), -1, np.int32)
            loose[:, 1], loose[:, 3] = moving, at[moving]
            pieces, goes = looking(loose, int(self.known.met[0]), 1)
            self._work(self.table, pieces)
            at = at.copy()
            going = goes >= 0
            moving = moving[going]
            at[moving] = goes[going]
            self.ways.append(at)
            if not moving.size:
                return

    def pairs(self, first: Ints, second: Ints, together: Sequence[tuple[int, Ints]]) -> None:
        """Walk pairs; `together`: patterns and the pairs that begin there."""
        self.end, self.steady = np.zeros(len(first), np.int32), np.ones(len(first), bool)
        starts = np.full(len(first) if together else 0, -1, np.int64)
        for pattern, which in together:
            starts[which] = pattern
        loose, ahead = np.zeros((0, 4), np.int32), _Ahead(self)

        def lead() -> None:
            nonlocal loose
            loose = self._led(first, second, starts)

        both: list[Callable[[], None]] = [lead, partial(ahead.make, self.ways[0][0])]
        self.transfer.bases.crew.work(both)
        many, most = self.followers.many, SHARES * len(self.seats) if len(self.seats) > 1 else 1
        leave = Leavers(
            np.zeros(len(many), np.int64),
            np.zeros(len(many), np.int64),
            np.empty(len(first), np.int32),
            np.empty(len(first), np.int32),
            np.zeros(1, np.int64),
        )
        for turn in range(ROUNDS):
            at = self.ways[min(turn, len(self.ways) - 1)]
            after = self.ways[min(turn + 1, len(self.ways) - 1)]
            leaders = np.flatnonzero(many)
            if not leaders.size and not loose.size:
                return
            last, met = turn == ROUNDS - 1, int(self.known.met[0])
            pieces = following(leaders, at, after, self.followers, leave, met, most)
            looks, goes = looking(loose, met, most)
            self._work(ahead.table(at[0]), [*pieces, *looks], ahead.job(after[0]))
            resting = leaders[(at[leaders] == after[leaders]) | last]
            rested(self.followers, resting, at, self.end)
            for h in leaders[at[leaders] != after[leaders]] if last else ():
                slots = slice(self.followers.begin[h], self.followers.begin[h + 1])
                here = self.followers.number[slots][~self.followers.away[slots]]
                self.steady[here] = False
            many[resting] = 0
            on = np.empty((len(goes) + int(leave.many.sum()), 4), np.int32)
            count = moving_on(
                self.followers, at, loose, goes, leave, last, self.end, self.steady, on
            )
            loose = on[:count]

    def _work(
        self, table: Table, pieces: Sequence[Piece], beside: Callable[[], None] | None = None
    ) -> None:
        """Work pieces off on the table of a round."""
        on = Ground(table, self.cond, self.moves, self.d, self.runs, self.followers)
        crew = self.transfer.bases.crew
        self.known = worked(crew, on, self.known, self.seats, pieces, beside)

    def at(self, pattern: int, room: tuple[Floats, Floats]) -> Table:
        """The table of a pattern, in `room`; made from its own factorisation where turns lose digits, and
        the next from that."""
        states = self.known.states[pattern]
        for table in (self.near, self.table):
            turns = turned_between(table, self.cond, states)
            if sound(table, turns):
                return swept(table, turns, room)
        t = self.transfer
        self.near = table_of(Transfer.of(t.bases, t.limits, t.vectors, states), self.watched)
        return self.near

    def _led(self, first: Ints, second: Ints, starts: Ints) -> Numbers:
        """Put pairs with their leaders; those on their own from the start, (m, 4)."""
        begin, rank = self.ways[0], self._ranks()
        events = np.diff(self.d.begin[:-1]) > 1
        self.followers = _followers(len(begin), len(first))
        if not led(first, second, rank, events, starts, begin, self.followers):
            order = np.lexsort((np.maximum(first, second), np.minimum(first, second)))
            self.followers = _followers(len(begin), len(first))
            some = starts[order] if starts.size else starts
            led(first[order], second[order], rank, events, some, begin, self.followers)
            self.followers.number[:] = order[self.followers.number]
        self._with_nobody(starts)
        loose = np.empty((int(np.count_nonzero(self.followers.away)), 4), np.int32)
        return loose[: alone(self.followers, starts, begin, loose)]

    def _with_nobody(self, starts: Ints) -> None:
        """Pairs of the hypothesis that does nothing end as the other does alone, where they begin as
        it does."""
        f, begin = self.followers, self.ways[0]
        slots = np.arange(f.begin[0], f.begin[1])
        second, number = f.second[slots], f.number[slots]
        start = starts[number] if starts.size else np.full(len(slots), -1)
        own = np.where(start < 0, begin[0], start) == begin[second]
        second, number = second[own], number[own]
        self.end[number] = self.ways[:ROUNDS][-1][second]
        self.steady[number] = self.ways[-1][second] == self.end[number]
        f.away[slots[own]] = True

    def _ranks(self) -> Ints:
        """(H,) how many hypotheses take the same way as each; before them those of several ports, and
        before all the one that does nothing."""
        way = np.zeros(len(self.ways[0]), np.int64)
        for at in self.ways:
            way = way * 1_000_003 + at
        _, same, shared = np.unique(way, return_inverse=True, return_counts=True)
        rank: Ints = shared[same.ravel()]
        rank[np.diff(self.d.begin[:-1]) > 1] = -1
        rank[0] = -2
        return rank


class _Ahead:
    """The table of a round, and where several work, that of the next made beside it."""

    def __init__(self, walk: _Walk) -> None:
        shape, rooms = walk.table.z.shape, min(2, len(walk.seats))
        self.rooms = [(np.empty(shape), np.empty(shape)) for _ in range(rooms)]
        self.walk, self.pattern, self.made = walk, -1, walk.table

    def table(self, pattern: int) -> Table:
        """The table of a pattern."""
        self.make(pattern)
        return self.made

    def job(self, pattern: int) -> Callable[[], None] | None:
        """What makes the table of the next pattern beside the round that goes on; None where there is
        nothing to make."""
        if pattern == self.pattern or len(self.rooms) == 1:
            return None
        return partial(self.make, pattern)

    def make(self, pattern: int) -> None:
        """Make the table of a pattern, where it is not the last that was made."""
        if pattern != self.pattern:
            self.made = self.walk.at(pattern, self.rooms[0])
            self.pattern = pattern
            self.rooms.reverse()


def _moves(transfer: Transfer, limits: Limits) -> tuple[Moves, Ints]:
    """What moves states, and limits (K,) that watch different things."""
    watches = np.concatenate([limits.at, limits.value, limits.size[:, None]], axis=1)
    _, first, watched = np.unique(watches, axis=0, return_index=True, return_inverse=True)
    switch = transfer.watch_switch[first]
    return (
        Moves(
            state=limits.state,
            leaves=limits.leaves,
            to=limits.to,
            above=limits.above,
            below=limits.below,
            pace=limits.pace,
            watched=watched.ravel(),
            size=limits.size[first],
            turn=np.where(switch >= 0, transfer.toggle_of[np.maximum(switch, 0)], -1),
        ),
        first,
    )


def _defective(transfer: Transfer, ports: Ports, cases: Cases, leads: Ints) -> Defective:
    """Every hypothesis of `cases`, one without ports with the one that does nothing, and `leads`."""
    size = np.diff(cases.start)
    begin = np.concatenate([[0], np.cumsum(np.maximum(size, 1))])
    where = np.arange(len(cases.ports)) + np.repeat(begin[:-1] - cases.start[:-1], size)
    vector = np.full(begin[-1] + len(leads), transfer.vectors.empty)
    alpha, emf = np.ones(len(vector)), np.zeros(len(vector))
    for at, port in ((where, cases.ports), (begin[-1] + np.arange(len(leads)), leads)):
        vector[at] = transfer.vectors.of[port]
        alpha[at], emf[at] = ports.alpha[port], ports.emf[port]
    begin = np.append(begin, len(vector))
    switch = transfer.vectors.switch
    turn = np.where(switch >= 0, transfer.toggle_of[np.maximum(switch, 0)], -1)
    most, own = np.array([np.diff(begin).max()]), begin[:-2]
    port = vector[own].astype(np.int32)
    return Defective(begin, vector, alpha, emf, turn, most, port, alpha[own], emf[own])


def _followers(count: int, pairs: int) -> Followers:
    """Room for so many pairs of so many hypotheses."""
    return Followers(
        np.zeros(count + 1, np.int64),
        np.zeros(count, np.int64),
        np.empty(pairs, np.int32),
        np.empty(pairs, np.int32),
        np.zeros(pairs, bool),
    )
