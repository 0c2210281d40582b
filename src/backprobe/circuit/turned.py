"""Another pattern of states as ports on the factorisation of a reference pattern.

A pattern differs from the reference by branches and current sources turned on or off; each is a
port (signs as in circuit.ports):

    turned off    l = r = e_b                     alpha = 0
    turned on     l = row_b, r = column_b + e_b   alpha = ohm_b, emf = emf_b
    a source      l = 0, r = what it injects      alpha = 1, emf = 1 turned on, -1 turned off

A branch absent from the reference has the equation -i = 0 there; the e_b in r makes its current
read as what flows through the port.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.sparse import csr_array

from backprobe.circuit.base import Base
from backprobe.circuit.limits import Limits
from backprobe.circuit.net import Flags, Floats, Ints, Net, States, allowed
from backprobe.circuit.ports import Port, Ports


@dataclass(frozen=True, slots=True, kw_only=True)
class Turns:
    """What the states of a net turn on and off: branches with a condition, then sources. `branch`
    (b,) by number; `number` (B,) finds a branch among the turns, -1 for one that is always there;
    `battery` (turns,) flags batteries; `off` and `on`: the ports that turn them; `when`: the
    conditions of all, as Net has them."""

    net: Net
    branch: Ints
    number: Ints
    battery: Flags
    off: Ports
    on: Ports
    when: tuple[Ints, Ints, Ints]

    @staticmethod
    def of(net: Net) -> Turns:
        """Gathered once per net."""
        branch = np.flatnonzero([bool(element.when) for element in net.elements])
        number = np.full(len(net.elements), -1, np.int64)
        number[branch] = np.arange(len(branch))
        battery = [net.elements[b].battery for b in branch] + [False] * len(net.sources)
        off, on = [], []
        nodes = len(net.nodes) - 1
        rows, columns = _by_rows(net.row[branch]), _by_rows(net.column.tocsc()[:, branch].T)
        for b, left, right in zip(branch.tolist(), rows, columns, strict=True):
            own = ((nodes + b, 1.0),)
            off.append(Port(left=own, right=own, alpha=0.0))
            on.append(Port(left=left, right=right + own, alpha=1.0, emf=float(net.emf[b])))
        for source in net.sources:
            ends = ((net.node[source.n] - 1, source.amps), (net.node[source.p] - 1, -source.amps))
            off.append(Port(left=(), right=ends, alpha=1.0, emf=-1.0))
            on.append(Port(left=(), right=ends, alpha=1.0, emf=1.0))
        owner = [number[net.branch_when[0]], len(branch) + net.source_when[0]]
        rest = zip(net.branch_when[1:], net.source_when[1:], strict=True)
        state, mask = (np.concatenate(both) for both in rest)
        return Turns(
            net=net,
            when=(np.concatenate(owner), state, mask),
            branch=branch,
            number=number,
            battery=np.array(battery, bool),
            off=Ports.of(off),
            on=Ports.of(on),
        )

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.battery)

    def there(self, states: States) -> Flags:
        """(g, turns) what conducts in state vectors (g, S)."""
        return allowed(self.when, states, self.count)

    def ports(self, base: Base) -> Ports:
        """A port for every turn away from a base; made once."""
        if base.turned is None:
            base.turned = self._ports(base)
        return base.turned

    def _ports(self, base: Base) -> Ports:
        off, on = self.off, self.on
        there = self.there(base.states[None])[0]
        pick = there[:, None]
        ohm = np.ones(self.count)
        ohm[: len(self.branch)] = base.ohm[self.branch]
        return Ports(
            left_at=np.where(pick, off.left_at, on.left_at),
            left=np.where(pick, off.left, on.left),
            right_at=np.where(pick, off.right_at, on.right_at),
            right=np.where(pick, off.right, on.right),
            alpha=np.where(there, off.alpha, ohm),
            emf=np.where(there, off.emf, on.emf),
        )

    def swing(self, there: Flags) -> Floats:
        """(turns,) what a port's emf gains with a volt of the battery, away from a pattern with these
        turns there."""
        return np.where(self.battery & ~there, 1.0, 0.0)

    def watched(self, limits: Limits) -> Ints:
        """(K,) the turn whose current a limit watches, -1 for none."""
        branch = limits.at[:, 0] - (len(self.net.nodes) - 1)
        return np.where(branch >= 0, self.number[np.maximum(branch, 0)], -1)

    def touched(self, ports: Ports) -> tuple[Ints, Flags]:
        """(P,) the turn each port has a branch of, -1 for none, and whether it has nothing else:
        such a port does nothing where the branch is absent."""
        nodes = len(self.net.nodes) - 1
        turn = np.full(ports.count, -1, np.int64)
        for at in (ports.left_at, ports.right_at):
            for column in at.T:
                branch = np.flatnonzero(column >= nodes)
                found = self.number[column[branch] - nodes]
                turn[branch[found >= 0]] = found[found >= 0]
        alone: Flags = (turn >= 0) & ((ports.right_at >= 0).sum(axis=1) == 1)
        return turn, alone


def _by_rows(matrix: csr_array) -> list[tuple[tuple[int, float], ...]]:
    """Its rows as (node's place in x, coefficient), -1 for the reference."""
    entries = list(zip((matrix.indices - 1).tolist(), matrix.data.tolist(), strict=True))
    ends = matrix.indptr.tolist()
    return [tuple(entries[first:last]) for first, last in pairwise(ends)]
