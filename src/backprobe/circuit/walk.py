"""The walk of leading defects and of pairs from pattern to pattern, until nothing moves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from backprobe.circuit.crowd import Places, crowds
from backprobe.circuit.limits import Limits, due
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.pair_solve import Defective, solve_pairs
from backprobe.circuit.parting import alike, distinct, joined, parted
from backprobe.circuit.screen import Lead, Screen, room_of
from backprobe.circuit.settle import ROUNDS
from backprobe.circuit.transfer import Pattern, Transfer

CHUNK = 32768
"""Pairs worked on together: their numbers stay in the cache (measured)."""
FEW = 40
"""Pairs on their own in one pattern below which they are solved one by one."""
SCREENED = 4096
"""Followers of a pattern below which every limit is looked at for each."""


Start = Sequence[tuple[States, Ints]]
Key = tuple[bytes, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class PairEnd:
    """Pairs at rest in one pattern of states, with one event of many pins (or none) in it."""

    states: States
    event: int
    pairs: Ints


@dataclass(slots=True)
class Group:
    """What stands in one pattern: leaders, pairs that follow them, pairs on their own."""

    rows: list[Ints] = field(default_factory=list)
    followers: list[Ints] = field(default_factory=list)
    loose: list[Ints] = field(default_factory=list)


@dataclass(slots=True)
class Walk:
    """One walk of leaders and pairs to rest."""

    transfer: Transfer
    defective: Defective
    limits: Limits
    looked: int = 0
    steady: Flags = field(default_factory=lambda: np.zeros(0, bool))
    lead: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    second: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    rest: dict[Key, Group] = field(default_factory=dict)
    slot: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    place: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    way: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    steps: int = 0

    def run(self, begin: States, rows: Ints, lead: Ints, second: Ints, together: Start) -> None:
        """Walk `rows` (hypotheses) with the pairs (lead, second), sorted by lead."""
        d = self.defective
        self.lead, self.second, self.steady = lead, second, np.ones(len(lead), bool)
        self.slot = np.zeros(len(d.vector), np.int64)
        self.way = np.zeros(len(d.vector), np.int64)
        self.place = np.full(self.transfer.vectors.count, -1, np.int64)
        waiting: dict[Key, Group] = {}
        on_its_own = np.zeros(len(lead), bool)
        for states, which in together:
            aside = which[(begin[lead[which]] != states).any(axis=1)]
            on_its_own[aside] = True
            for event in np.unique(d.event[lead[aside]]):
                some = aside[d.event[lead[aside]] == event]
                waiting.setdefault((states.tobytes(), int(event)), Group()).loose.append(some)
        _, label = distinct(begin)
        kinds, label = np.unique(label * len(d.held) + d.event, return_inverse=True)
        follows = np.flatnonzero(~on_its_own)
        leads = parted(follows, label[lead[follows]], len(kinds)) if len(lead) else []
        for one, mine in enumerate(parted(rows, label[rows], len(kinds))):
            if mine.size:
                key = (begin[mine[0]].tobytes(), int(d.event[mine[0]]))
                group = waiting.setdefault(key, Group())
                group.rows.append(mine)
                group.followers += leads[one : one + 1]
        for turn in range(ROUNDS):
            moving: dict[Key, Group] = {}
            scattered = []
            for key, group in waiting.items():
                if not group.rows and sum(map(len, group.loose)) < FEW:
                    scattered.append((key, joined(group.loose)))
                else:
                    self._step(key, group, moving, last=turn == ROUNDS - 1)
            if scattered:
                self._scatter(scattered, moving, last=turn == ROUNDS - 1)
            waiting = moving
            if not waiting:
                return

    def ends(self, *, rows: bool = True) -> Iterator[PairEnd]:
        """What came to rest where: leaders, or else pairs."""
        for (key, event), group in self.rest.items():
            parts = group.rows if rows else group.followers + group.loose
            which = np.sort(np.concatenate([np.zeros(0, np.int64), *parts]))
            if which.size:
                yield PairEnd(states=np.frombuffer(key, np.int8), event=event, pairs=which)

    def _step(self, key: Key, group: Group, moving: dict[Key, Group], *, last: bool) -> None:
        d = self.defective
        states = np.frombuffer(key[0], np.int8)
        rows, followers, loose = (joined(p) for p in (group.rows, group.followers, group.loose))
        needed = np.zeros(len(self.place), bool)
        needed[d.vector[rows]] = True
        for pairs in (followers, loose):
            needed[d.vector[self.lead[pairs]]] = True
            needed[d.vector[self.second[pairs]]] = True
        ports = np.flatnonzero(needed)
        self.place[:] = 0
        self.place[ports] = np.arange(len(ports))
        pattern = self.transfer.pattern(states, d.held[key[1]], ports)
        here = np.flatnonzero(states[self.limits.state] == self.limits.leaves)
        lead = self._alone(pattern, here, rows)
        self.steps += 1
        self.way[rows] = self.way[rows] * 1_000_003 + self.steps  # same steps, same way
        if followers.size:
            self.slot[rows] = np.arange(len(rows))
            off = self._leaving(pattern, here, lead, followers)
            if off.size:
                gone = followers[off]
                loose = np.concatenate([loose, gone])
                followers = np.delete(followers, off)
        moves = self._look(pattern, here, loose) if loose.size else np.zeros((0, len(here)), bool)
        self._depart(key, here, (rows, lead.moves), followers, (loose, moves), moving, last=last)

    def _scatter(
        self, groups: list[tuple[Key, Ints]], moving: dict[Key, Group], *, last: bool
    ) -> None:
        """One round for pairs on their own in many patterns, a few in each."""
        d, limits = self.defective, self.limits
        pairs = np.concatenate([some for _, some in groups])
        group = np.repeat(np.arange(len(groups)), [len(some) for _, some in groups])
        places = Places(
            states=np.array([np.frombuffer(key[0], np.int8) for key, _ in groups]),
            event=np.array([key[1] for key, _ in groups], np.int64),
        )
        who = np.stack([self.lead[pairs], self.second[pairs]], axis=1)
        watches = self.transfer.z[self.transfer.vectors.count :][: len(limits.at)]
        watched = np.maximum(self.transfer.watch_switch, 0)
        after, moved = places.states[group], np.zeros(len(pairs), bool)
        ports = (d.vector[who], d.alpha[who], d.emf[who])
        everything = np.arange(len(limits.at))
        for crowd in crowds(self.transfer, d.held, places, group, ports):
            seen = crowd.read(self.transfer, watches)[:, 0]
            absent = (self.transfer.watch_switch >= 0) & ~crowd.present[:, watched]
            seen[absent] = 0.0
            # No comparison holds for nan: shifts that leave another word make no move.
            seen[after[crowd.which][:, limits.state] != limits.leaves] = np.nan
            row, shift = np.nonzero(due(limits, everything, seen))
            after[crowd.which[row], limits.state[shift]] = limits.to[shift]
            moved[crowd.which[row]] = True
        self.looked += len(pairs)
        if last:
            self.steady[pairs[moved]] = False
            after, moved = places.states[group], np.zeros(len(pairs), bool)
        still = np.flatnonzero(~moved)
        for (key, _), mine in zip(groups, parted(still, group[still], len(groups))):
            if mine.size:
                self.rest.setdefault(key, Group()).loose.append(pairs[mine])
        going = np.flatnonzero(moved)
        tagged = np.concatenate(
            [after[going], places.event[group[going], None].astype(np.int32).view(np.int8)], axis=1
        )
        kinds, label = distinct(tagged)
        for kind, mine in zip(kinds, parted(going, label, len(kinds))):
            key = (kind[:-4].tobytes(), int(places.event[group[mine[0]]]))
            moving.setdefault(key, Group()).loose.append(pairs[mine])

    def _alone(self, pattern: Pattern, here: Ints, rows: Ints) -> Lead:
        """The leaders in this pattern, without any second defect."""
        d = self.defective
        at = self.place[d.vector[rows]]
        own = np.where(pattern.dead[at], 1.0, pattern.own[at] + d.alpha[rows])
        y = np.where(pattern.dead[at], 0.0, pattern.drive[at, 0]) - d.emf[rows]
        y /= own
        watch = pattern.watch[at][:, here]
        seen = pattern.level[here, 0] - watch * y[:, None]
        moves = due(self.limits, here, seen)
        return Lead(at=at, own=own, y=y, watch=watch, seen=seen, moves=moves)

    def _leaving(self, pattern: Pattern, here: Ints, lead: Lead, followers: Ints) -> Ints:
        """Places in `followers` of the pairs that do not move as their leader does."""
        room = room_of(self.limits, here, lead.seen)
        watch = np.ascontiguousarray(pattern.watch[:, here])
        screen = Screen.of(lead, room, watch) if followers.size >= SCREENED else None
        d = self.defective
        every = self.place[d.vector]
        own = np.where(pattern.dead[every], 1.0, pattern.own[every] + d.alpha)
        drive = np.where(pattern.dead[every], 0.0, pattern.drive[every, 0]) - d.emf
        near: list[Ints] = []
        for span, r, forth, back, at in self._blocks(pattern, followers, lead.at):
            column = self.second[followers[span]]
            c = forth / lead.own[r]
            pivot = own[column] - back * c
            y = (drive[column] - back * lead.y[r]) / pivot
            some = np.arange(len(y)) if screen is None else screen.near(r, at, forth, y)
            if some.size:
                slot, flow = r[some], y[some]
                change = lead.watch[slot] * (flow * c[some])[:, None]
                change -= watch[at[some]] * flow[:, None]
                stays = (change < room[0, slot]) & (change > -room[1, slot])
                near.append(span.start + some[~stays.all(axis=1)])
        return np.concatenate(near) if near else np.zeros(0, np.int64)

    def _blocks(
        self, pattern: Pattern, pairs: Ints, lead_at: Ints
    ) -> Iterator[tuple[slice, Ints, Floats, Floats, Ints]]:
        """Pairs sorted by leader in blocks: (where, leader slot, T12, T21, place of the second)."""
        many = len(pattern.ports)
        for start in range(0, len(pairs), 4 * CHUNK):
            wide = slice(start, min(len(pairs), start + 4 * CHUNK))
            slot = self.slot[self.lead[pairs[wide]]]
            leaders = np.unique(lead_at[slot[0] : slot[-1] + 1])
            line = np.zeros(many, np.int64)
            line[leaders] = np.arange(len(leaders)) * many
            forth = pattern.forth(leaders).ravel()
            back = pattern.back(leaders).ravel()
            for first in range(start, wide.stop, CHUNK):
                span = slice(first, min(first + CHUNK, wide.stop))
                r = slot[first - start : span.stop - start]
                at = self.place[self.defective.vector[self.second[pairs[span]]]]
                where = line[lead_at[r]] + at
                yield span, r, forth[where], back[where], at

    def _look(self, pattern: Pattern, here: Ints, pairs: Ints) -> Flags:
        """(m, here) the moves of pairs, each looked at in full."""
        self.looked += len(pairs)
        parts = []
        watch = np.ascontiguousarray(pattern.watch[:, here])
        for first in range(0, len(pairs), CHUNK // 8):
            some = pairs[first : first + CHUNK // 8]
            sol = solve_pairs(
                self.defective, pattern, self.place, self.lead[some], self.second[some]
            )
            seen = pattern.level[here, 0] - watch[sol.lead_at] * sol.y1[:, None]
            seen -= watch[sol.second_at] * sol.y2[:, None]
            parts.append(due(self.limits, here, seen))
        return np.concatenate(parts)

    def _depart(
        self,
        key: Key,
        here: Ints,
        rows: tuple[Ints, Flags],
        followers: Ints,
        loose: tuple[Ints, Flags],
        moving: dict[Key, Group],
        *,
        last: bool,
    ) -> None:
        """Send everything to the pattern it moves to, or to rest."""
        states = np.frombuffer(key[0], np.int8)

        def target(move: Flags) -> Group:
            if last or not move.any():
                return self.rest.setdefault(key, Group())
            after = states.copy()
            after[self.limits.state[here[move]]] = self.limits.to[here[move]]
            return moving.setdefault((after.tobytes(), key[1]), Group())

        if last:
            self.steady[followers[rows[1][self.slot[self.lead[followers]]].any(axis=1)]] = False
            self.steady[loose[0][loose[1].any(axis=1)]] = False
        kinds, label = alike(rows[1])
        followed = label[self.slot[self.lead[followers]]] if followers.size else followers
        for move, some, mine in zip(
            kinds, parted(rows[0], label, len(kinds)), parted(followers, followed, len(kinds))
        ):
            group = target(move)
            group.rows.append(some)
            if mine.size:
                group.followers.append(mine)
        kinds, label = alike(loose[1])
        for move, some in zip(kinds, parted(loose[0], label, len(kinds))):
            target(move).loose.append(some)
