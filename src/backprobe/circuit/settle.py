"""Discrete consequences: what blows, pulls in, drops out, limits, under every hypothesis.

Hypotheses are walked from pattern to pattern of states until nothing moves (circuit.limits says
what moves first), all of them on the factorisation of one reference pattern, the healthy machine's
at rest, and are read from it. Only where the digits do not suffice is a pattern factorised on its
own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from backprobe.circuit.bases import Bases
from backprobe.circuit.limits import Limits, due
from backprobe.circuit.moves import Rules
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.parting import by_number, distinct, parted
from backprobe.circuit.ports import Cases, Ports, read, solve
from backprobe.circuit.reference import Reference
from backprobe.circuit.settled import LEAST, LOST, NOT_SETTLED, READS, SEES, Settled
from backprobe.circuit.step import UNSURE, Care, Crowd, Frame, step
from backprobe.circuit.turned import Turns

ROUNDS = 48
"""Rounds after which a hypothesis that still moves counts as chattering."""
FEW = 12
"""Hypotheses for which no reference of their own is looked for."""
NEAR = 24
"""Turns up to which the usual rest serves as reference for a situation's own (measured)."""
MANY = 24
"""Hypotheses in a pattern whose digits do not suffice from which it is factorised (measured)."""
MOST = 12
"""References of a walk, where there is room for their columns."""
CROWD = 80_000
"""Hypotheses in a pattern times its turns from which it is a reference of its own (measured)."""
CARE = Care(mend=False, least=LEAST, sees=SEES, reads=READS, close=LOST)
MENDING = CARE._replace(mend=True)

Start = Sequence[tuple[States, Ints]]


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
    turned = walk.reference.away(bases.turns.there(rest[None]))
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
    """Hypotheses on their way: `states` (H, S) where each is, `share` (H,) of digits left there on the
    pattern `on` (H,) among `stands`, the reference first; `near`: it and others made since, of which
    everyone is walked on the nearest; `framed`: these made ready for compiled code, with the turns
    (turns,) that serves."""

    bases: Bases
    reference: Reference
    limits: Limits
    ports: Ports
    cases: Cases
    touches: Ints
    alone: Flags
    states: States
    share: Floats
    steady: Flags
    on: Ints
    stands: list[States]
    near: list[Reference]
    framed: dict[int, tuple[Flags, Frame, Crowd]] = field(default_factory=dict)

    @staticmethod
    def of(bases: Bases, states: States, limits: Limits, ports: Ports, cases: Cases) -> _Walk:
        """Nobody has set out yet."""
        touches, alone = bases.touched(ports)
        reference = bases.reference(states, limits)
        return _Walk(
            bases=bases,
            reference=reference,
            limits=limits,
            ports=ports,
            cases=cases,
            touches=touches,
            alone=alone,
            states=np.zeros((cases.count, len(bases.net.states)), np.int8),
            share=np.ones(cases.count),
            steady=np.ones(cases.count, bool),
            on=np.full(cases.count, NOT_SETTLED, np.int64),
            stands=[reference.base.states],
            near=[reference],
        )

    def run(self, start: Start, rounds: int) -> None:
        """Walk until nothing moves, or so many rounds."""
        for states, which in start:
            self.states[which] = states
        moving = np.concatenate([which for _, which in start])
        used = self.cases.only(moving).used(self.ports.count)
        rules = _rules(self.bases.turns, self.limits)
        for turn in range(rounds):
            stood = self.states[moving] if turn == rounds - 1 else None
            moved = self._round(moving, used, rules)
            if stood is not None:
                self.states[moving] = stood
                self.steady[moving[moved]] = False
                return
            moving = moving[moved]
            if not moving.size:
                return

    def _round(self, which: Ints, used: Ints, rules: Rules) -> Flags:
        """(n,) who of some hypotheses moves on from where it stands."""
        patterns, label = distinct(self.states[which])
        there = np.ascontiguousarray(self.bases.turns.there(patterns))
        verdict = np.zeros(self.cases.count, np.int8)
        nearest = self._nearest(patterns, there, np.bincount(label, minlength=len(patterns)), used)
        order = by_number(label, len(patterns))
        for some, reference in zip(
            parted(order, nearest[label[order]], len(self.near)), tuple(self.near)
        ):
            if some.size:
                self._step(
                    reference, which[some], label[some], patterns, there, used, rules, verdict
                )
        return np.asarray(verdict[which] == 1)

    def _nearest(self, patterns: States, there: Flags, many: Ints, used: Ints) -> Ints:
        """(p,) which of `near` patterns with these turns there (p, turns) are nearest to; references are
        made where so `many` (p,) hypotheses are too far from all of them."""
        away = np.array([each.away(there).sum(axis=1) for each in self.near])
        size = max(1, self.bases.net.size)  # a book of plugs alone has no node
        room = self.bases.limit // (size * min(2 * len(used) + 1, size))
        most = max(2, min(MOST, room))
        for _ in range(most - 1):
            p = int((many * away.min(axis=0)).argmax())
            if many[p] * away[:, p].min() <= CROWD:
                break
            if len(self.near) == most:  # the oldest but the walk's own
                self.framed.pop(id(self.near.pop(1)), None)
                away = np.delete(away, 1, axis=0)
            self.near.append(self.bases.reference(patterns[p], self.limits))
            away = np.vstack([away, self.near[-1].away(there).sum(axis=1)])
        nearest: Ints = away.argmin(axis=0)
        return nearest

    def _step(
        self,
        reference: Reference,
        which: Ints,
        label: Ints,
        patterns: States,
        there: Flags,
        used: Ints,
        rules: Rules,
        verdict: States,
    ) -> None:
        """A round for hypotheses sorted by their pattern `label` (n,), from a reference of theirs."""
        self.on[which] = self._number(reference)
        frame, crowd = self._framed(
            reference, there[np.bincount(label, minlength=len(there)) > 0], used
        )
        for care in (CARE, MENDING):
            step(frame, rules, crowd, care, which, label, there, self.states, self.share, verdict)
            unsure = np.flatnonzero(verdict[which] == UNSURE)
            # Mending each of many is dearer than one more factorisation.
            many = np.bincount(label[unsure], minlength=len(patterns))[label[unsure]] >= MANY
            apart = unsure if care is MENDING else unsure[many]
            if apart.size:
                self._apart(which[apart], patterns, label[apart], verdict)
            which, label = which[unsure[~many]], label[unsure[~many]]
            if not which.size:
                break

    def _number(self, reference: Reference) -> int:
        """Which of the patterns that are read from a reference is."""
        states = reference.base.states
        for number, known in enumerate(self.stands):
            if np.array_equal(known, states):
                return number
        self.stands.append(states)
        return len(self.stands) - 1

    def _framed(self, reference: Reference, there: Flags, used: Ints) -> tuple[Frame, Crowd]:
        """A reference ready for compiled code, for patterns with these turns there (p, turns);
        kept for the rounds after."""
        away = np.asarray(reference.away(there).any(axis=0))
        kept, known = self.framed.get(id(reference)), None
        if kept is not None:
            if not (away & ~kept[0]).any():
                return kept[1], kept[2]
            away, known = away | kept[0], kept[2].own
        frame, own = reference.frame(self.ports, used, away, known)
        crowd = Crowd(self.cases.start, self.cases.ports, own, self.touches, self.alone)
        self.framed[id(reference)] = away, frame, crowd
        return frame, crowd

    def _apart(self, unseen: Ints, patterns: States, label: Ints, verdict: States) -> None:
        """A round for hypotheses whose digits do not suffice, each pattern on its own factorisation."""
        limits = self.limits
        self.share[unseen] = 0.0
        place = np.empty(self.cases.count, np.int64)
        place[unseen] = np.arange(len(unseen))
        seen = np.full((len(unseen), len(limits.at)), np.nan)
        for pattern, mine in zip(patterns, parted(unseen, label, len(patterns))):
            if not mine.size:
                continue
            base, kept = self.bases.get(pattern), self._in(pattern)
            # No comparison holds for nan: shifts that leave another word make no move.
            leave = pattern[limits.state] == limits.leaves
            for block in solve(base, self.ports, kept, mine):
                read_off, _ = read(base, self.ports, block, limits.at, limits.value)
                seen[place[block.cases]] = np.where(leave, read_off[..., 0], np.nan)
        row, shift = np.nonzero(due(limits, np.arange(len(limits.at)), seen))
        self.states[unseen[row], limits.state[shift]] = limits.to[shift]
        verdict[unseen] = 0
        verdict[unseen[row]] = 1

    def _in(self, pattern: States) -> Cases:
        """The cases without the ports that do nothing in a pattern."""
        there = self.bases.turns.there(pattern[None])[0]
        dead = self.alone & ~there[self.touches]
        return replace(self.cases, ports=np.where(dead[self.cases.ports], -1, self.cases.ports))

    def result(self, which: Ints) -> Settled:
        """All at rest."""
        turns, cases = self.bases.turns, self.cases
        patterns, found = distinct(self.states[which])
        there = turns.there(patterns)
        label = np.full(cases.count, -1, np.int64)
        label[which] = found
        owner = np.repeat(np.arange(cases.count), np.diff(cases.start))
        live = ~self.alone[cases.ports]
        some = np.flatnonzero(~live)
        live[some] = there[label[owner[some]], self.touches[cases.ports[some]]]
        turn = np.where(live & (cases.ports >= 0), self.touches[cases.ports], -1)
        at = np.flatnonzero((turn >= 0) & (self.on[owner] >= 0))
        has = turns.there(np.stack(self.stands))[self.on[owner[at]], turn[at]]
        beside = np.zeros(cases.count, bool)
        beside[owner[at[~has]]] = True
        return Settled(
            ports=self.ports,
            cases=replace(cases, ports=np.where(live, cases.ports, -1)),
            references=tuple(self.stands),
            on=self.on,
            share=self.share,
            beside=beside,
            states=self.states,
            steady=self.steady,
        )


def _rules(turns: Turns, limits: Limits) -> Rules:
    """What moves states, for compiled code."""
    return Rules(
        state=limits.state,
        leaves=limits.leaves,
        to=limits.to,
        above=limits.above,
        below=limits.below,
        size=limits.size,
        pace=limits.pace,
        watched=turns.watched(limits),
        at=np.maximum(limits.at, 0),
        value=limits.value,
    )
