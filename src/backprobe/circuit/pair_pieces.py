"""A round of pairs in pieces, for several to work off at once.

Each piece sets out from the patterns known before the round and numbers on its own what it meets anew.
Put together in the order of the pieces, all have the numbers that one after the other gives them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from backprobe.circuit.crew import Crew
from backprobe.circuit.net import Ints
from backprobe.circuit.pair_follow import Followers, Leavers, Runs, Shelf, follow, shelf_for
from backprobe.circuit.pair_lists import by_label
from backprobe.circuit.pair_look import Desk, Moves, desk_for, look
from backprobe.circuit.pair_put import Defective, Found, Made, Numbers, found_for, made_for
from backprobe.circuit.pair_table import Conditions, Table
from backprobe.circuit.parting import by_number
from backprobe.circuit.patterns import Patterns, forget, no_patterns, numbers_of, with_room

LEADER, LOOK = 500, 14
"""What a leader and a pair looked at in full take, in followers (measured)."""
LEAST = 60_000
"""Followers' worth in a piece, some milliseconds: below that handing it out takes longer."""
SHARES = 4
"""Pieces for each who works: they take longer or shorter than was reckoned."""


class Ground(NamedTuple):
    """What all pieces of a round work on."""

    table: Table
    cond: Conditions
    moves: Moves
    d: Defective
    runs: Runs
    followers: Followers


@dataclass(slots=True, kw_only=True)
class Seat:
    """Room for one to work in, and patterns `known` to him: the first of those known to all."""

    made: Made
    found: Found
    desk: Desk
    shelf: Shelf
    known: Patterns


def seat_for(table: Table, moves: Moves, runs: Runs, ports: int, states: int) -> Seat:
    """Room for pairs of so many `ports` and so many states."""
    turns, watches = len(table.there), len(moves.size)
    vectors, things = len(table.z) - turns, turns + ports
    return Seat(
        made=made_for(turns, ports, watches, 0),
        found=found_for(vectors, things, watches, 0),
        desk=desk_for(moves, states),
        shelf=shelf_for(things, vectors, len(moves.state), watches, len(runs.port)),
        known=no_patterns(states),
    )


class Following(NamedTuple):
    """Who leaves these `leaders`, as pair_follow.follow takes them: into `leave` from place `begin` on."""

    leaders: Ints
    stands: Ints
    aims: Ints
    leave: Leavers
    begin: int

    def work(self, on: Ground, known: Patterns, seat: Seat) -> Patterns:
        """The patterns known then."""
        done = 0
        while done < len(self.leaders):
            known = with_room(known)
            done = follow(
                on.table, on.cond, on.moves, known, on.d, on.runs, seat.made, seat.desk, seat.shelf,
                on.followers, self.leaders, self.stands, self.aims, self.leave, done,
            )  # fmt: skip
        return known

    def renumber(self, first: int, numbers: Ints) -> None:
        """Patterns from `first` on have other numbers."""
        goes = self.leave.goes[self.begin : self.leave.met[0]]
        new = goes >= first
        goes[new] = numbers[goes[new] - first]


class Looking(NamedTuple):
    """Where pairs `order` of `loose` go, as pair_look.look takes them."""

    order: Numbers
    loose: Numbers
    goes: Numbers

    def work(self, on: Ground, known: Patterns, seat: Seat) -> Patterns:
        """The patterns known then."""
        done = 0
        while done < len(self.order):
            known = with_room(known)
            done = look(
                on.table, on.cond, on.moves, known, on.d, seat.made, seat.found, seat.desk,
                self.order, self.loose, self.goes, done,
            )  # fmt: skip
        return known

    def renumber(self, first: int, numbers: Ints) -> None:
        """Patterns from `first` on have other numbers."""
        new = self.order[self.goes[self.order] >= first]
        self.goes[new] = numbers[self.goes[new] - first]


Piece = Following | Looking


def following(
    leaders: Ints, at: Ints, after: Ints, followers: Followers, leave: Leavers, met: int, most: int
) -> list[Following]:
    """Leaders that stand `at` and go to `after`, in at most so many pieces. `met`: patterns known."""
    leave.many[:] = 0
    leaders = leaders[by_number(at[leaders], met)]
    aims = np.where(at[leaders] == after[leaders], -1, after[leaders])
    many = followers.many[leaders]
    room, cuts = np.concatenate([[0], np.cumsum(many)]), _cuts(np.cumsum(many + LEADER), most)
    return [
        Following(
            leaders[a:b], at[leaders[a:b]], aims[a:b], leave._replace(met=room[a : a + 1].copy()),
            int(room[a]),
        )
        for a, b in pairwise(cuts)
    ]  # fmt: skip


def looking(loose: Numbers, met: int, most: int) -> tuple[list[Looking], Numbers]:
    """Pairs on their own (m, 4), in at most so many pieces; where all of them go, -1 for stay."""
    goes, order = np.empty(len(loose), np.int32), np.empty(len(loose), np.int32)
    by_label(loose[:, 3], np.zeros(met + 1, np.int64), np.arange(len(order), dtype=np.int32), order)
    cuts = _cuts(LOOK * np.arange(1, len(order) + 1), most)
    return [Looking(order[a:b], loose, goes) for a, b in pairwise(cuts)], goes


def _cuts(work: Ints, most: int) -> Ints:
    """Where to cut, so that about as much of the `work` summed up (n,) is in every piece."""
    if not len(work):
        return np.zeros(1, np.int64)
    pieces = max(1, min(most, int(work[-1]) // LEAST))
    inner = np.searchsorted(work, work[-1] * np.arange(1, pieces) // pieces)
    return np.unique(np.concatenate([[0], inner, [len(work)]]))


def worked(
    crew: Crew,
    on: Ground,
    known: Patterns,
    seats: list[Seat],
    pieces: Sequence[Piece],
    beside: Callable[[], None] | None,
) -> Patterns:
    """Work pieces off, and another job `beside` them; the patterns known then. `seats`: one for each
    of the crew."""
    if crew.many == 1 or (len(pieces) < 3 and beside is None):
        for piece in pieces:
            known = piece.work(on, known, seats[0])
        if beside is not None:
            beside()
        return known
    met, new = int(known.met[0]), [known.states[:0]] * len(pieces)

    def part(n: int) -> None:
        seat = seats.pop()
        own, _ = numbers_of(seat.known, known.states[seat.known.met[0] : met])
        own = pieces[n].work(on, own, seat)
        new[n] = own.states[met : own.met[0]].copy()
        forget(own, met)
        seat.known = own
        seats.append(seat)

    # The last take longest: whoever begins with them does not end alone.
    jobs = [partial(part, n) for n in reversed(range(len(pieces)))]
    crew.work(jobs if beside is None else [beside, *jobs])
    for piece, states in zip(pieces, new, strict=True):
        known, numbers = numbers_of(known, states)
        piece.renumber(met, numbers)
    return known
