"""Discrete consequences: what blows, pulls in, drops out, limits, under every hypothesis.

Hypotheses are walked from pattern to pattern of states until nothing moves (circuit.limits says
what moves first), all of them on the factorisation of one reference pattern, the healthy machine's
at rest. Only where the digits do not suffice is a pattern factorised on its own. At rest, patterns
that many share get a factorisation of their own, which is faster to read from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from backprobe.circuit.base import Base
from backprobe.circuit.bases import Bases
from backprobe.circuit.limits import Limits, due, near
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.parting import distinct, parted
from backprobe.circuit.ports import Block, Cases, Ports, read, solve
from backprobe.circuit.reference import Ported, Reference
from backprobe.circuit.turned import Turns

ROUNDS = 48
"""Rounds after which a hypothesis that still moves counts as chattering."""
MANY = 256
"""Hypotheses in one pattern that are looked at apart from those of other patterns."""
SHARED = 64
"""Hypotheses at rest in one pattern that get a factorisation of their own (measured)."""
FEW = 4
"""Hypotheses for which no reference of their own is looked for."""
NEAR = 8
"""Turns up to which the usual rest serves as reference for a situation's own (measured)."""
SIZES = (0, 4, 12, 32)
"""Patterns of up to so many turns are looked at together; of more, each for itself."""
FAR = 96
"""Turns beyond which a pattern is factorised."""
SEES = 1e-6
"""Least share of its own transfer a port must be left with to see what moves; a piece that hangs on
its leak has about that."""
READS = 1e-3
"""The same share to read from."""
CLOSE = 1e-6
"""Volts or amperes to a limit within which a pattern is factorised to say what moves, where not
even READS is left."""

Start = Sequence[tuple[States, Ints]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """Where every hypothesis came to rest. `ports` and `cases`: the hypotheses' own; `turned`: those
    that do something at rest, and the turns (numbered after the ports) from the factorised pattern to
    theirs; `reference`: the pattern turns start from; `groups`: (states factorised, solved blocks);
    `states` (H, S) at rest; `steady` (H,) False where relays chatter."""

    ports: Ports
    cases: Cases
    turns: Turns
    turned: Cases
    reference: States
    groups: tuple[tuple[States, tuple[Block, ...]], ...]
    states: States
    steady: Flags
    _joined: list[tuple[Base, Ports]] = field(default_factory=list)

    def spread(self, member: Ints) -> Settled:
        """For hypotheses (n,) that each came to rest as one of these did."""
        groups = []
        for states, blocks in self.groups:
            wider = []
            for block in blocks:
                place = np.full(self.cases.count, -1, np.int64)
                place[block.cases] = np.arange(len(block.cases))
                mine = np.flatnonzero(place[member] >= 0)
                wider.append(block.only(mine, place[member[mine]]))
            groups.append((states, tuple(wider)))
        return replace(
            self,
            cases=self.cases.only(member),
            turned=self.turned.only(member),
            groups=tuple(groups),
            states=self.states[member],
            steady=self.steady[member],
        )

    def forget(self) -> None:
        """Let go of the factorisations that were read on: what rests is kept far longer."""
        self._joined.clear()

    def ports_on(self, base: Base) -> Ports:
        """All ports the blocks of a base number; turns stand on the reference alone."""
        if not np.array_equal(base.states, self.reference):
            return self.ports
        for made, ports in self._joined:
            if made is base:
                return ports
        ports = self.ports.plus(self.turns.ports(base))
        self._joined.append((base, ports))
        del self._joined[:-4]
        return ports


def settle(
    bases: Bases,
    limits: Limits,
    ports: Ports,
    cases: Cases,
    start: Start,
    *,
    rounds: int = ROUNDS,
) -> Settled:
    """Bring every hypothesis to rest. `start`: (state vector, hypotheses that begin in it); one
    that still moves after `rounds` is left as it stands then."""
    settling = np.sort(np.concatenate([which for _, which in start]))
    walk = _Walk.of(
        bases, _reference(bases, limits, ports, cases, start[0], rounds), limits, ports, cases
    )
    walk.run(start, rounds)
    return walk.result(settling)


def _reference(
    bases: Bases,
    limits: Limits,
    ports: Ports,
    cases: Cases,
    start: tuple[States, Ints],
    rounds: int,
) -> States:
    """The pattern to settle a situation from: the usual rest, or where it leads when that is far
    away. Found once for each state vector it starts in."""
    first, which = start
    usual = _usual_rest(bases, limits, first)
    found = bases.leads.get(first.tobytes())
    if found is not None or len(which) < FEW:
        return usual if found is None else found
    lead = which[np.diff(cases.start)[which].argmin()][None]
    walk = _Walk.of(bases, usual, limits, ports, cases)
    walk.run([(first, lead)], rounds)
    rest: States = walk.states[lead[0]]
    turned = walk.reference.away(walk.reference.turns.there(rest[None]))
    if turned.sum() <= NEAR and walk.share[lead[0]] >= READS:
        rest = usual
    if not len(cases.only(lead).ports):
        bases.leads[first.tobytes()] = rest
    return rest


def _usual_rest(bases: Bases, limits: Limits, states: States) -> States:
    """Where the machine without any defect comes to rest with the key as in `states`, all plugs
    mated, nothing operated and no fuse blown."""
    net = bases.net
    usual = net.resting.copy()
    keyed = [number for number, state in enumerate(net.states) if state.driven == "key"]
    usual[keyed] = states[keyed]
    rest = bases.usual.get(usual.tobytes())
    if rest is None:
        nothing = Cases.of([[]])
        walk = _Walk.of(bases, usual, limits, Ports.of([]), nothing)
        walk.run([(usual, np.zeros(1, np.int64))], ROUNDS)
        rest = bases.usual[usual.tobytes()] = walk.states[0]
    return rest


@dataclass(slots=True)
class _Walk:
    """Hypotheses on their way: `states` (H, S) where each is, `share` (H,) of digits left there
    (0: looked at on a factorisation of its own)."""

    bases: Bases
    reference: Reference
    limits: Limits
    ports: Ports
    cases: Cases
    touches: Ints
    alone: Flags
    watched: Ints
    states: States
    share: Floats
    steady: Flags

    @staticmethod
    def of(bases: Bases, states: States, limits: Limits, ports: Ports, cases: Cases) -> _Walk:
        """Nobody has set out yet."""
        reference = bases.reference(states, limits)
        touches, alone = bases.touched(ports)
        return _Walk(
            bases=bases,
            reference=reference,
            limits=limits,
            ports=ports,
            cases=cases,
            touches=touches,
            alone=alone,
            watched=reference.turns.watched(limits),
            states=np.zeros((cases.count, len(bases.net.states)), np.int8),
            share=np.ones(cases.count),
            steady=np.ones(cases.count, bool),
        )

    def run(self, start: Start, rounds: int) -> None:
        """Walk until nothing moves, or so many rounds."""
        for states, which in start:
            self.states[which] = states
        moving = np.concatenate([which for _, which in start])
        used = np.unique(self.cases.only(moving).ports)
        ported = self.reference.ported(self.ports, used)
        for turn in range(rounds):
            moves = self._moves(moving, ported)
            row, shift = np.nonzero(moves)
            gone = np.unique(row)
            if turn == rounds - 1:
                self.steady[moving[gone]] = False
                return
            self.states[moving[row], self.limits.state[shift]] = self.limits.to[shift]
            moving = moving[gone]
            if not moving.size:
                return

    def _moves(self, which: Ints, ported: Ported) -> Flags:
        """(n, K) the moves hypotheses make where they stand."""
        reference, limits = self.reference, self.limits
        patterns, label = distinct(self.states[which])
        there = reference.turns.there(patterns)
        turned = reference.away(there)
        count = turned.sum(axis=1)
        many = (np.bincount(label, minlength=len(patterns)) >= MANY) | (count > SIZES[-1])
        far = count > FAR
        sets = [np.array([p]) for p in np.flatnonzero(many & ~far)]
        sizes = SIZES if len(which) >= MANY else SIZES[-1:]
        for low, high in zip((-1, *sizes), sizes):
            some = np.flatnonzero((count > low) & (count <= high) & ~many & ~far)
            sets += [some] if some.size else []
        # No comparison holds for nan: shifts that leave another word make no move.
        seen = np.full((len(which), len(limits.at)), np.nan)
        leaves = patterns[:, limits.state] == limits.leaves
        self.share[which] = 0.0
        place = np.full(len(patterns), -1, np.int64)
        member = np.empty(self.cases.count, np.int64)
        member[which] = np.arange(len(which))
        for some in sets:
            place[:] = -1
            place[some] = np.arange(len(some))
            mine = which[place[label] >= 0]
            together = reference.patterns(turned[some])
            here = np.flatnonzero(leaves[some].any(axis=0))
            for cases, own in self.cases.blocks(mine):
                at = member[cases]
                numbers, strange = self._live(own, there[label[at]])
                amounts, share = reference.look(together, place[label[at]], ported, numbers, here)
                seen[at[:, None], here] = amounts
                self.share[cases] = np.where(strange, 0.0, share)
        # An absent branch carries nothing, to the last digit: limits of zero look for less.
        absent = ~there[:, self.watched] & (self.watched >= 0)
        some = np.flatnonzero(absent.any(axis=0))
        seen[:, some] = np.where(absent[:, some][label], 0.0, seen[:, some])
        some = np.flatnonzero(~leaves.all(axis=0))
        seen[:, some] = np.where(leaves[:, some][label], seen[:, some], np.nan)
        unsure = np.flatnonzero(self.share[which] < READS)
        lost = (self.share[which[unsure]] < SEES) | near(limits, seen[unsure], CLOSE)
        unseen = unsure[lost]
        self.share[which[unseen]] = 0.0
        for pattern, mine in zip(patterns, parted(unseen, label[unseen], len(patterns))):
            if mine.size:
                base, kept = self.bases.get(pattern), self._in(pattern)
                leave = pattern[limits.state] == limits.leaves
                for block in solve(base, self.ports, kept, which[mine]):
                    read_off, _ = read(base, self.ports, block, limits.at, limits.value)
                    seen[member[block.cases]] = np.where(leave, read_off[..., 0], np.nan)
        return due(limits, np.arange(len(limits.at)), seen)

    def _live(self, numbers: Ints, there: Flags) -> tuple[Ints, Flags]:
        """Ports (g, k) without those on absent branches, and (g,) who has one on a branch that
        the reference lacks."""
        touches = np.where(numbers >= 0, self.touches[numbers], -1)
        if not (touches >= 0).any():
            return numbers, np.zeros(len(numbers), bool)
        here = np.take_along_axis(there, np.maximum(touches, 0), axis=1) | (touches < 0)
        strange = (touches >= 0) & here & ~self.reference.there[touches]
        live = np.where(here | ~self.alone[numbers], numbers, -1)
        return live, np.asarray(strange.any(axis=1))

    def _in(self, pattern: States) -> Cases:
        """The cases without the ports that do nothing in a pattern."""
        there = self.reference.turns.there(pattern[None])[0]
        dead = self.alone & ~there[self.touches]
        return replace(self.cases, ports=np.where(dead[self.cases.ports], -1, self.cases.ports))

    def result(self, which: Ints) -> Settled:
        """All at rest, each on the factorisation it is read from."""
        turns, cases = self.reference.turns, self.cases
        patterns, label = distinct(self.states[which])
        there = turns.there(patterns)
        turned = self.reference.away(there)
        shared = np.bincount(label, minlength=len(patterns)) >= SHARED
        here = np.asarray(~turned.any(axis=1))
        # A battery turned on moves with the battery's volts, which no port says.
        shared |= (turned & there & turns.battery).any(axis=1)
        led = here[label] | (~shared[label] & (self.share[which] >= READS))
        row, turn = np.nonzero(turned[label] & led[:, None])
        owner = np.repeat(np.arange(cases.count), np.diff(cases.start))
        pattern = np.zeros(cases.count, np.int64)
        pattern[which] = label
        live = there[pattern[owner], self.touches[cases.ports]] | ~self.alone[cases.ports]
        own = np.where(live, cases.ports, -1)
        owner = np.concatenate([owner, which[row]])
        order = np.argsort(owner, kind="stable")
        turned_cases = Cases(
            start=np.searchsorted(owner[order], np.arange(cases.count + 1)),
            ports=np.concatenate([own, self.ports.count + turn])[order],
        )
        settled = Settled(
            ports=self.ports,
            cases=cases,
            turns=turns,
            turned=turned_cases,
            reference=self.reference.base.states,
            groups=(),
            states=self.states,
            steady=self.steady,
        )
        groups = []
        mine = which[led]
        parts = [(self.reference.base.states, mine)] if mine.size else []
        parts += [
            (states, which[some])
            for states, some in zip(
                patterns, parted(np.flatnonzero(~led), label[~led], len(patterns))
            )
            if some.size
        ]
        for states, some in parts:
            base = self.bases.get(states)
            groups.append((states, solve(base, settled.ports_on(base), turned_cases, some)))
        return replace(settled, groups=tuple(groups))
