"""Where every pair of hypotheses comes to rest, millions at a time.

A pair ends exactly where settle() would bring it with the ports of both. Most pairs of a defect
end where that defect ends alone, whatever the second one is. So of the two, the one with the
rarer end leads: it walks its own way from pattern to pattern, and a second defect of current y2
follows it as long as it moves no watched amount as far as the leader's nearest limit,

    |y2| (|W2| + |W1 c|) < margin,      c = T12 / C11,      W: watched amount per port current

tested by one number per pair, exactly only where that number is not enough. What leaves its leader
is followed alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, fields

import numpy as np

from backprobe.circuit.base import Bases
from backprobe.circuit.crowd import Places, crowds
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.ports import Cases, Ports
from backprobe.circuit.settle import ROUNDS, Limits, due, settle
from backprobe.circuit.transfer import Held, Pattern, Transfer, vectors_of

CHUNK = 32768
"""Pairs worked on together: their numbers stay in the cache (measured)."""
FEW = 40
"""Pairs on their own in one pattern below which they are solved one by one."""
SCREENED = 4096
"""Followers of a pattern below which every limit is looked at for each."""

Start = Sequence[tuple[States, Ints]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Defective:
    """Hypotheses as the pair arithmetic takes them: one port each (`vector`, `alpha`, `emf`, all
    (H,)), or an event of many pins, whose ports are `held` (`event` (H,): which, 0 for none) and
    whose own port is the empty one."""

    vector: Ints
    alpha: Floats
    emf: Floats
    event: Ints
    held: tuple[Held, ...]

    @staticmethod
    def of(transfer: Transfer, ports: Ports, cases: Cases, leads: Sequence[int]) -> Defective:
        """Every hypothesis of `cases`, with `leads` (port numbers) fitted throughout."""
        size = np.diff(cases.start)
        alone = size == 1
        port = np.where(alone, cases.ports[np.minimum(cases.start[:-1], len(cases.ports) - 1)], 0)
        many = np.flatnonzero(size > 1)
        held = [Held.of(transfer.vectors, ports, leads)]
        for number in many:
            own = cases.ports[cases.start[number] : cases.start[number + 1]]
            held.append(Held.of(transfer.vectors, ports, np.concatenate([leads, own]).astype(int)))
        event = np.zeros(cases.count, np.int64)
        event[many] = 1 + np.arange(len(many))
        return Defective(
            vector=np.where(alone, transfer.vectors.of[port], transfer.vectors.empty),
            alpha=np.where(alone, ports.alpha[port], 1.0),
            emf=np.where(alone, ports.emf[port], 0.0),
            event=event,
            held=tuple(held),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PairEnd:
    """Pairs at rest in one pattern of states, with one event of many pins (or none) in it."""

    states: States
    event: int
    pairs: Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class SettledPairs:
    """Where every pair came to rest. `lead`, `second` (m,): its hypotheses, the leading first
    (their order says nothing else); `end` (m,) which of `ends`; `steady` (m,) False where relays
    chatter; `looked` how many times a pair's limits were looked at in full."""

    transfer: Transfer
    defective: Defective
    lead: Ints
    second: Ints
    ends: tuple[PairEnd, ...]
    end: Ints
    steady: Flags
    looked: int

    @property
    def count(self) -> int:
        """How many pairs there are."""
        return len(self.lead)

    def states(self) -> States:
        """(m, S) the states every pair came to rest in."""
        table = np.array([end.states for end in self.ends], np.int8)
        return table[self.end] if len(table) else np.zeros((0, 0), np.int8)


@dataclass(slots=True)
class Group:
    """What stands in one pattern: leaders, pairs that follow them, pairs on their own."""

    rows: list[Ints] = field(default_factory=list)
    followers: list[Ints] = field(default_factory=list)
    loose: list[Ints] = field(default_factory=list)


Key = tuple[bytes, int]


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

    `pairs`: hypothesis numbers (m,), (m,); at most one of two may have more than one port, and
    two on one and the same port are no pair. `alone`: (states, hypotheses) every hypothesis starts
    in; `together`: the same for pairs (pair numbers), where that is not where their hypotheses
    start. `leads`: ports fitted throughout.
    """
    first, second = (np.asarray(part, np.int64) for part in pairs)
    healthy = next(states for states, which in alone if (np.asarray(which) == 0).any())
    only = Cases.of([list(leads)])
    rest = settle(bases, limits, ports, only, [(healthy, np.zeros(1, np.int64))]).states[0]
    used = np.unique(np.concatenate([first, second]))
    vectors = vectors_of(
        bases.net, ports, np.concatenate([cases.only(used).ports, np.array(leads, np.int64)])
    )
    transfer = Transfer.of(bases, limits, vectors, rest)
    defective = Defective.of(transfer, ports, cases, leads)
    begin = np.zeros((cases.count, len(healthy)), np.int8)
    for states, which in alone:
        begin[which] = states
    walk = _Walk(transfer=transfer, defective=defective, limits=limits)
    walk.run(begin, used, first[:0], second[:0], ())
    _, way, shared = np.unique(walk.way, return_inverse=True, return_counts=True)
    rank = np.where(defective.event > 0, -1, shared[way.ravel()])
    swap = rank[second] < rank[first]
    lead, other = np.where(swap, second, first), np.where(swap, first, second)
    if (defective.event[other] > 0).any():
        raise ValueError("two events of many pins are no pair for this kernel")
    order = by_number(lead, cases.count)
    lead, other = lead[order], other[order]
    back = np.empty(len(order), np.int64)
    back[order] = np.arange(len(order))
    walk = _Walk(transfer=transfer, defective=defective, limits=limits)
    walk.run(begin, np.unique(lead), lead, other, [(s, back[which]) for s, which in together])
    ends = [
        PairEnd(states=end.states, event=end.event, pairs=order[end.pairs])
        for end in walk.ends(rows=False)
    ]
    end_of = np.zeros(len(order), np.int64)
    for number, end in enumerate(ends):
        end_of[end.pairs] = number
    return SettledPairs(
        transfer=transfer,
        defective=defective,
        lead=lead[back],
        second=other[back],
        ends=tuple(ends),
        end=end_of,
        steady=walk.steady[back],
        looked=walk.looked,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """Leaders in a pattern, seen alone: place of their vector `at`, C11 `own`, current `y`, what
    the shifts `here` see and the moves they make; all (r,) or (r, here)."""

    at: Ints
    own: Floats
    y: Floats
    watch: Floats
    seen: Floats
    moves: Flags


@dataclass(frozen=True, slots=True, kw_only=True)
class _Screen:
    """One number per pair that tells most of those that change nothing. The room a limit usually
    leaves is the unit: `gain` (2u,) is the most of it one unit of a port's current
    takes, positive and negative; `lift` (r,) the same for what comes through the leader; `share`
    (r,) of the unit is left to a leader at its nearest limit."""

    gain: Floats
    lift: Floats
    share: Floats

    @staticmethod
    def of(lead: Lead, room: Floats, watch: Floats) -> _Screen:
        usual = np.maximum(np.median(room, axis=1), 1e-300)
        far = np.isinf(room)
        left = np.where(far, 1.0, np.where(far, 0.0, room) / usual[:, None])
        share = left.min(axis=(0, 2), initial=1.0)
        gain = np.empty((len(watch), 2))
        for column, sign in ((0, 1.0), (1, -1.0)):
            falls, rises = watch * (sign / usual[1]), watch * (-sign / usual[0])
            gain[:, column] = np.maximum(falls, rises, out=falls).max(axis=1, initial=0.0)
        lift = (np.abs(lead.watch) / usual.min(axis=0)).max(axis=1, initial=0.0)
        lift /= np.abs(lead.own)
        return _Screen(gain=gain.ravel(), lift=lift, share=share)

    def near(self, r: Ints, at: Ints, forth: Floats, y: Floats) -> Ints:
        """Pairs that may change something."""
        bound = np.abs(y) * (self.gain[2 * at + (y < 0.0)] + self.lift[r] * np.abs(forth))
        return np.flatnonzero(~(bound < self.share[r]))


@dataclass(slots=True)
class _Walk:
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
        _, label = _distinct(begin)
        kinds, label = np.unique(label * len(d.held) + d.event, return_inverse=True)
        follows = np.flatnonzero(~on_its_own)
        leads = _parted(follows, label[lead[follows]], len(kinds)) if len(lead) else []
        for one, mine in enumerate(_parted(rows, label[rows], len(kinds))):
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
                    scattered.append((key, _joined(group.loose)))
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
        rows, followers, loose = (_joined(p) for p in (group.rows, group.followers, group.loose))
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
        for (key, _), mine in zip(groups, _parted(still, group[still], len(groups))):
            if mine.size:
                self.rest.setdefault(key, Group()).loose.append(pairs[mine])
        going = np.flatnonzero(moved)
        tagged = np.concatenate(
            [after[going], places.event[group[going], None].astype(np.int32).view(np.int8)], axis=1
        )
        kinds, label = _distinct(tagged)
        for kind, mine in zip(kinds, _parted(going, label, len(kinds))):
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
        room = _room(self.limits, here, lead.seen)
        watch = np.ascontiguousarray(pattern.watch[:, here])
        screen = _Screen.of(lead, room, watch) if followers.size >= SCREENED else None
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
        reach = np.arange(len(pattern.ports))
        for start in range(0, len(pairs), 4 * CHUNK):
            wide = slice(start, min(len(pairs), start + 4 * CHUNK))
            slot = self.slot[self.lead[pairs[wide]]]
            leaders = np.unique(lead_at[slot[0] : slot[-1] + 1])
            line = np.zeros(len(pattern.ports), np.int64)
            line[leaders] = np.arange(len(leaders)) * len(reach)
            forth = pattern.block(leaders, reach).ravel()
            back = np.ascontiguousarray(pattern.block(reach, leaders).T).ravel()
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
        kinds, label = _alike(rows[1])
        followed = label[self.slot[self.lead[followers]]] if followers.size else followers
        for move, some, mine in zip(
            kinds, _parted(rows[0], label, len(kinds)), _parted(followers, followed, len(kinds))
        ):
            group = target(move)
            group.rows.append(some)
            if mine.size:
                group.followers.append(mine)
        kinds, label = _alike(loose[1])
        for move, some in zip(kinds, _parted(loose[0], label, len(kinds))):
            target(move).loose.append(some)


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """Pairs solved in a pattern, all (m,): places of their vectors, C11, T21, T12 / C11, what is
    left of C22, and both port currents."""

    lead_at: Ints
    second_at: Ints
    own: Floats
    back: Floats
    c: Floats
    pivot: Floats
    y1: Floats
    y2: Floats

    def part(self, some: slice) -> Solved:
        """Some of them."""
        return Solved(**{f.name: getattr(self, f.name)[some] for f in fields(self)})

    def per_volt(self, pattern: Pattern) -> tuple[Floats, Floats]:
        """Both port currents' change per volt of battery."""
        near, far = (
            np.where(pattern.dead[at], 0.0, pattern.drive[at, 1])
            for at in (self.lead_at, self.second_at)
        )
        y = near / self.own
        y2 = (far - self.back * y) / self.pivot
        return y - self.c * y2, y2


def solve_pairs(d: Defective, pattern: Pattern, place: Ints, lead: Ints, second: Ints) -> Solved:
    """The 2 x 2 system of every pair; `place` (V,) finds vectors among the pattern's ports."""
    one, two = place[d.vector[lead]], place[d.vector[second]]
    many = len(pattern.ports)
    used = np.zeros(many, bool)
    used[one] = True
    leaders = np.flatnonzero(used)
    if len(leaders) * many <= 16 * len(one):
        line = np.zeros(many, np.int64)
        line[leaders] = np.arange(len(leaders)) * many
        at = line[one] + two
        reach = np.arange(many)
        forth = pattern.block(leaders, reach).ravel()[at]
        back = np.ascontiguousarray(pattern.block(reach, leaders).T).ravel()[at]
    else:
        forth, back = pattern.each(one, two), pattern.each(two, one)

    def own(at: Ints, who: Ints) -> tuple[Floats, Floats]:
        dead = pattern.dead[at]
        matrix = np.where(dead, 1.0, pattern.own[at] + d.alpha[who])
        return matrix, np.where(dead, 0.0, pattern.drive[at, 0]) - d.emf[who]

    (first, drive), (other, far) = own(one, lead), own(two, second)
    c = forth / first
    y = drive / first
    pivot = other - back * c
    y2 = (far - back * y) / pivot
    return Solved(
        lead_at=one, second_at=two, own=first, back=back, c=c, pivot=pivot, y1=y - c * y2, y2=y2
    )


def _joined(parts: list[Ints]) -> Ints:
    """Numbers of several parts in order."""
    if not parts:
        return np.zeros(0, np.int64)
    return parts[0] if len(parts) == 1 else np.sort(np.concatenate(parts))


def _room(limits: Limits, here: Ints, seen: Floats) -> Floats:
    """(2, r, here) how far each amount may rise and fall before anything changes: over or not
    over its limit, and which of two blowing fuses is the one furthest over."""
    size, above, below = limits.size[here], limits.above[here], limits.below[here]
    amount = np.where(size, np.abs(seen), seen)
    over, under = amount > above, amount < below
    # Of a size, the same seen from zero: it may shrink to nothing and grow the other way.
    floor = np.where(size & ~np.isfinite(below), -above, below)
    up = np.where(over, np.inf, np.where(under, below, above) - amount)
    down = amount - np.where(over, above, floor)
    down = np.where(under, np.where(size, below + amount, np.inf), down)
    turned = size & (seen < 0.0)
    up, down = np.where(turned, down, up), np.where(turned, up, down)
    fuse = np.where((over | under) & (limits.pace[here] == 1) & np.isfinite(above), amount, 0.0)
    ratio = fuse / np.where(np.isfinite(above), above, 1.0)
    two = (ratio > 0).sum(axis=1) > 1
    room = np.stack([up, down])
    if two.any():
        top = np.sort(ratio[two], axis=1)[:, -2:]
        gap = (top[:, 1] - top[:, 0])[:, None] / 2.0 * np.where(np.isfinite(above), above, 1.0)
        room[:, two] = np.where(ratio[two] > 0, np.minimum(room[:, two], gap), room[:, two])
    return room


def _alike(moves: Flags) -> tuple[Flags, Ints]:
    """The different rows of moves, and which of them each row is."""
    kinds, label = _distinct(np.packbits(moves, axis=1).view(np.int8))
    if not kinds.shape[1]:
        return moves[: len(kinds)], label
    flags = np.unpackbits(kinds.view(np.uint8), axis=1, count=moves.shape[1])
    return flags.astype(bool), label


def _distinct(rows: States) -> tuple[States, Ints]:
    """The different rows of bytes, and which of them each row is."""
    if not rows.size:
        return rows[:1], np.zeros(len(rows), np.int64)
    wide = np.zeros((len(rows), -(-rows.shape[1] // 8) * 8), np.int8)
    wide[:, : rows.shape[1]] = rows
    words = wide.view(np.uint64)
    label = np.zeros(len(rows), np.int64)
    for column in words.T:
        kinds, each = np.unique(column, return_inverse=True)
        if len(kinds) > 1:
            _, label = np.unique(label * len(kinds) + each.ravel(), return_inverse=True)
            label = label.ravel()
    first = np.empty(int(label.max()) + 1, np.int64)
    first[label[::-1]] = np.arange(len(label))[::-1]
    return rows[first], label


def by_number(numbers: Ints, count: int) -> Ints:
    """The order that sorts numbers below `count`, equal ones as they stand."""
    short = numbers.astype(np.uint16) if count <= 1 << 16 else numbers  # sorted digit by digit
    return np.argsort(short, kind="stable")


def _parted(what: Ints, label: Ints, count: int) -> list[Ints]:
    """Numbers by their label, one part for every label below `count`."""
    if count == 1:
        return [what]
    order = by_number(label, count)
    return np.split(what[order], np.cumsum(np.bincount(label, minlength=count))[:-1])
