"""Hypotheses at rest, and what they are read from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from backprobe.circuit.base import Base
from backprobe.circuit.bases import Bases
from backprobe.circuit.net import Flags, Floats, Ints, States
from backprobe.circuit.parting import distinct, parted
from backprobe.circuit.ports import Block, Cases, Ports, solve
from backprobe.circuit.turned import Turns

NOT_SETTLED = -1
"""In place of a reference."""
LEAST = 1e-13
"""Least share of its own transfer a port must be left with for refining to find its digits again."""
READS = 1e-5
"""The same share to read from whatever is asked."""
SEES = 1e-11
"""The same share to see with what is not decided by the last digits; a piece that hangs on its leak
has 1e-9 to 1e-6."""
LOST = 1e-13
"""Share, over the share that is left, of what an amount adds up from that rounding loses at most: some
five times what was measured."""
POOR = 1e-3
"""The same share below which whatever is read must be refined, if that is what the pattern leaves: one
nearer to it is a better place to read from."""
FEW = 12
"""Hypotheses in one pattern from which refining each is dearer than factorising it (measured)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Hypotheses `who` (n,) read on the factorisation of one pattern, `states`: `label` (n,) says
    which pattern each rests in, `turned` (p, turns) what that turns of it."""

    states: States
    who: Ints
    label: Ints
    turned: Flags


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """Where every hypothesis came to rest. `ports` and `cases`: the hypotheses' own, -1 where a port
    does nothing at rest; `references`: patterns to read from, and `on` (H,) which of them each is
    read from, NOT_SETTLED for those not settled; `share` (H,) of digits left there; `beside` (H,)
    whether a port of theirs sits on a branch that pattern lacks; `states` (H, S)
    at rest; `steady` (H,) False where relays chatter."""

    ports: Ports
    cases: Cases
    references: tuple[States, ...]
    on: Ints
    share: Floats
    beside: Flags
    states: States
    steady: Flags

    @property
    def count(self) -> int:
        """How many hypotheses."""
        return self.cases.count

    def only(self, rows: Ints) -> Settled:
        """Some of them, in this order; one may be asked for more than once."""
        return replace(
            self,
            cases=self.cases.only(rows),
            on=self.on[rows],
            share=self.share[rows],
            beside=self.beside[rows],
            states=self.states[rows],
            steady=self.steady[rows],
        )

    def then(self, other: Settled) -> Settled:
        """These and then the others, of whose ports these know the same numbers."""
        place = {states.tobytes(): number for number, states in enumerate(self.references)}
        more = [states for states in other.references if states.tobytes() not in place]
        place |= {states.tobytes(): len(place) + n for n, states in enumerate(more)}
        to = np.array([place[states.tobytes()] for states in other.references], np.int64)
        on = np.where(other.on < 0, other.on, to[np.maximum(other.on, 0)])
        return Settled(
            ports=self.ports,
            cases=self.cases.then(other.cases),
            references=(*self.references, *more),
            on=np.concatenate([self.on, on]),
            share=np.concatenate([self.share, other.share]),
            beside=np.concatenate([self.beside, other.beside]),
            states=np.concatenate([self.states, other.states]),
            steady=np.concatenate([self.steady, other.steady]),
        )

    def numbered(self, ports: Ports, numbers: Ints) -> Settled:
        """The same, each port k under its number (p,) among other ports."""
        own = self.cases.ports
        named = np.where(own < 0, -1, numbers[np.maximum(own, 0)]) if own.size else own
        return replace(self, ports=ports, cases=replace(self.cases, ports=named))

    def lean(self) -> Settled:
        """The same, without the ports that nobody has."""
        own = self.cases.ports
        used = self.cases.used(self.ports.count)
        named = np.full(self.ports.count + 1, -1, np.int64)  # the last stands for no port, too
        named[used] = np.arange(used.size)
        return replace(
            self, ports=self.ports.only(used), cases=replace(self.cases, ports=named[own])
        )

    def groups(self, turns: Turns, *, beside: bool = True, few: int = FEW) -> Iterator[Group]:
        """Who is read from where: from their reference, or where less than READS of the digits is
        left there to many of a pattern, or next to none, from the pattern itself; from that as well
        those who sit on what the reference lacks, unless the reader minds that (`beside`). Many (no
        `few`) to whom the reference leaves little are read from the commonest of their patterns."""
        for number, states in enumerate(self.references):
            who = np.flatnonzero(self.on == number)
            if not who.size:
                continue
            patterns, label = distinct(self.states[who])
            unsure = self.share[who] < READS
            many = np.bincount(label[unsure], minlength=len(patterns))[label] >= few
            lost = (unsure & many) | (self.share[who] < LEAST) | (self.beside[who] & (not beside))
            there, rest = turns.there(patterns), ~lost
            turned: Flags = there != turns.there(states[None])
            while beside and rest.any():
                poor = rest & (self.share[who] < POOR)
                near = int(np.bincount(label[poor], minlength=len(patterns)).argmax())
                closer: Flags = there != there[near]
                poor &= (closer.sum(axis=1) < turned.sum(axis=1))[label]
                if np.count_nonzero(poor) < few:
                    break
                yield Group(states=patterns[near], who=who[poor], label=label[poor], turned=closer)
                rest &= ~poor
            if rest.any():
                yield Group(states=states, who=who[rest], label=label[rest], turned=turned)
            for pattern, some in zip(patterns, parted(who[lost], label[lost], len(patterns))):
                if some.size:
                    yield Group(
                        states=pattern,
                        who=some,
                        label=np.zeros(some.size, np.int64),
                        turned=np.zeros((1, turns.count), bool),
                    )

    def solved(self, bases: Bases) -> Iterator[tuple[Base, Ports, tuple[Block, ...]]]:
        """The factorisations hypotheses are read from, all ports on each, and the systems solved."""
        for group in self.groups(bases.turns, beside=False):
            base, ports, cases = bases.get(group.states), self.ports, self.cases
            row, turn = np.nonzero(group.turned[group.label])
            if row.size:
                ports = ports.plus(bases.turns.ports(base))
                owner = np.repeat(np.arange(self.count), np.diff(cases.start))
                owner = np.concatenate([owner, group.who[row]])
                order = np.argsort(owner, kind="stable")
                cases = Cases(
                    start=np.searchsorted(owner[order], np.arange(self.count + 1)),
                    ports=np.concatenate([cases.ports, self.ports.count + turn])[order],
                )
            yield base, ports, solve(base, ports, cases, group.who)
