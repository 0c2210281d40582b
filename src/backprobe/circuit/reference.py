"""One factorised pattern that leads to all others: their turns are ports on it (circuit.turned)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from backprobe.circuit.base import Base
from backprobe.circuit.limits import Limits
from backprobe.circuit.net import Flags, Floats, Ints
from backprobe.circuit.ports import Ports
from backprobe.circuit.small import Vectors, fed_apart, laid_out
from backprobe.circuit.step import Frame
from backprobe.circuit.turned import Turns


@dataclass(slots=True)
class Reference:
    """A factorised pattern. `there`: its turns; `ports`: a port for each, `number` (B,) the turn of
    every branch; `watch` (N, K): what a unit
    fed into any equation does to what limits watch, and `level` (K,) what they watch."""

    base: Base
    there: Flags
    ports: Ports
    number: Ints
    swing: Floats
    watch: Floats
    level: Floats

    @property
    def weight(self) -> int:
        """Numbers kept, for the cache's bookkeeping."""
        return int(self.watch.size)

    @staticmethod
    def of(base: Base, turns: Turns, limits: Limits) -> Reference:
        """Solve for the limits' own rows."""
        watched = np.zeros((base.net.size, len(limits.at)), order="F")
        for k in range(limits.at.shape[1]):
            some = np.flatnonzero(limits.at[:, k] >= 0)
            watched[limits.at[some, k], some] += limits.value[some, k]
        there = turns.there(base.states[None])[0]
        return Reference(
            base=base,
            there=there,
            ports=turns.ports(base),
            number=turns.number,
            swing=turns.swing(there),
            watch=np.ascontiguousarray(base.factor.back(watched)),
            level=(limits.value * base.x[np.maximum(limits.at, 0), 0]).sum(axis=1),
        )

    def away(self, there: Flags) -> Flags:
        """(p, turns) what patterns with these turns there have turned."""
        return np.asarray(there != self.there)

    def frame(
        self, ports: Ports, used: Ints, turned: Flags, known: Vectors | None = None
    ) -> tuple[Frame, Vectors]:
        """Ready for compiled code: itself, and ports of which the `used` will be looked at, in
        patterns with these turns (turns,) `turned`. `known`: the ports, if they were made ready
        before."""
        if known is None:
            laid, own, turns = on_base(
                self.base, ports, used, self.ports, turned, self.swing, self.number
            )
        else:
            laid, place = self.base.laid(np.maximum(self.ports.right_at[turned], 0))
            own, turns = known, laid_out(self.ports, place, self.swing)
        frame = Frame(
            exact=self.base.exact,
            laid=laid,
            x=self.base.x,
            watch=self.watch,
            level=self.level,
            there=self.there,
            turns=turns,
        )
        return frame, own


def on_base(
    base: Base,
    ports: Ports,
    used: Ints,
    turns: Ports,
    turned: Flags,
    swing: Floats,
    branch_turn: Ints,
    known: Vectors | None = None,
) -> tuple[Floats, Vectors, Vectors]:
    """Columns of the inverse for used ports and turns, and both for compiled code; `branch_turn` (B,)
    the turn of every branch. `known`: the ports on the same pattern in another variant."""
    wanted = np.concatenate([ports.right_at[used].ravel(), turns.right_at[turned].ravel()])
    solved, place = base.laid(np.maximum(wanted, 0))
    own = (
        fed_apart(laid_out(ports, place), base.absent, branch_turn)
        if known is None
        else known._replace(right_in=place[ports.right_at])
    )
    return solved, own, laid_out(turns, place, swing)
