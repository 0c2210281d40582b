"""Hypotheses in many patterns of states, all on the factorisation of one: what their limits see.

A pattern's turns (circuit.turned) are taken out once for all its hypotheses; what is left for each
is a system of its defect's ports alone,

    C' = C - A T^-1 B      T = alpha + L_t' M^-1 R_t,  A = L' M^-1 R_t,  B = L_t' M^-1 R

and only the amounts that limits watch are read.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from backprobe.circuit.base import Base
from backprobe.circuit.limits import Limits
from backprobe.circuit.net import Flags, Floats, Ints
from backprobe.circuit.ports import WIDTH, Ports, dot, matrix_of
from backprobe.circuit.turned import Turns


@dataclass(frozen=True, slots=True, kw_only=True)
class Patterns:
    """Patterns of like many turns on a reference. `slot` (p, d): their columns of it, 0 for none;
    `inverse` T^-1 (p, d, d); `flow` (p, d): their ports' currents while nothing is defect; `level`
    (p, K): what limits watch then; `watched` (p, d, K): what a turn's current takes off that;
    `share` (p,): the least that any port is left with of its own transfer."""

    slot: Ints
    inverse: Floats
    flow: Floats
    level: Floats
    watched: Floats
    share: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Ported:
    """Ports on a reference, filled in for those that are used: `own` (P,) the transfer of each to
    itself, `drive` (P,) L'x - emf, `watch` (P, K) what its current does to what limits watch."""

    ports: Ports
    own: Floats
    drive: Floats
    watch: Floats


@dataclass(slots=True)
class Reference:
    """A factorised pattern, and what leads from it to the others. `there`: its turns; `ports`: a
    port for each; `watch` (N, K): what a unit fed into any equation does to what limits watch, and
    `level` (K,) what they watch. Of the turns met so far, in slots (0 for none; `place` finds a
    turn's): `right` (N, s) and `left` (N, s) as solved, `core` (s, s) their transfer, `drive`
    (s,), `watched` (s, K)."""

    base: Base
    turns: Turns
    limits: Limits
    there: Flags
    ports: Ports
    watch: Floats
    level: Floats
    right: Floats
    left: Floats
    place: Ints
    core: Floats
    drive: Floats
    watched: Floats
    met: list[int] = field(default_factory=list)

    @property
    def weight(self) -> int:
        """Numbers kept, for the cache's bookkeeping."""
        return int(self.watch.size + self.right.size + self.left.size)

    @staticmethod
    def of(base: Base, turns: Turns, limits: Limits) -> Reference:
        """Nothing but the limits' own rows is solved yet."""
        size, many = base.net.size, len(limits.at)
        return Reference(
            base=base,
            turns=turns,
            limits=limits,
            there=turns.there(base.states[None])[0],
            ports=turns.ports(base),
            watch=base.factor.back(dense(limits.at, limits.value, size)),
            level=dot(base.x[:, :1], limits.at, limits.value)[:, 0],
            right=np.zeros((size, 1)),
            left=np.zeros((size, 1)),
            place=np.zeros(turns.count, np.int64),
            core=np.ones((1, 1)),
            drive=np.zeros(1),
            watched=np.zeros((1, many)),
        )

    def away(self, there: Flags) -> Flags:
        """(p, turns) what patterns with these turns there have turned."""
        return np.asarray(there != self.there)

    def _meet(self, turned: Flags) -> None:
        """Solve for turns not met yet."""
        new = np.flatnonzero(turned & (self.place == 0))
        if not new.size:
            return
        ports, size = self.ports, self.base.net.size
        right = self.base.factor.solve(dense(ports.right_at[new], ports.right[new], size))
        left = self.base.factor.back(dense(ports.left_at[new], ports.left[new], size))
        self.right = np.concatenate([self.right, right], axis=1)
        self.left = np.concatenate([self.left, left], axis=1)
        self.met += new.tolist()
        self.place[new] = 1 + np.arange(len(self.met) - new.size, len(self.met))
        met = np.array(self.met, np.int64)
        at, value = ports.left_at[met], ports.left[met]
        self.core = np.zeros((len(met) + 1, len(met) + 1))
        self.core[1:] = dot(self.right, at, value)
        reach = np.arange(1, len(met) + 1)
        self.core[reach, reach] += ports.alpha[met]
        drive = dot(self.base.x[:, :1], at, value)[:, 0] - ports.emf[met]
        self.drive = np.concatenate([np.zeros(1), drive])
        limits = self.limits
        self.watched = np.ascontiguousarray(dot(self.right, limits.at, limits.value).T)

    def patterns(self, turned: Flags) -> Patterns:
        """Patterns by what they have turned (p, turns), all of about as many."""
        self._meet(np.asarray(turned.any(axis=0)))
        count = turned.sum(axis=1)
        most = int(count.max(initial=0))
        order = np.argsort(~turned, axis=1, kind="stable")[:, :most]
        live = np.arange(most) < count[:, None]
        slot = np.where(live, self.place[order], 0)
        core = self.core[slot[:, :, None], slot[:, None, :]]
        core *= live[:, :, None] & live[:, None, :]
        reach = np.arange(most)
        core[:, reach, reach] += ~live
        inverse: Floats = np.asarray(np.linalg.inv(core), np.float64)
        before = np.abs(core[:, reach, reach]) * np.abs(inverse[:, reach, reach])
        watched = self.watched[slot]
        flow = np.einsum("pde,pe->pd", inverse, self.drive[slot])
        return Patterns(
            slot=slot,
            inverse=inverse,
            flow=flow,
            level=self.level - np.einsum("pd,pdk->pk", flow, watched),
            watched=watched,
            share=1.0 / before.max(axis=1, initial=1.0),
        )

    def ported(self, ports: Ports, used: Ints) -> Ported:
        """Ports ready to be looked at; `used`: the numbers that will be."""
        left_at, left = np.maximum(ports.left_at[used], 0), ports.left[used]
        right_at, right = np.maximum(ports.right_at[used], 0), ports.right[used]
        solved, place = self.base.columns(right_at)
        own, drive = np.empty(ports.count), np.empty(ports.count)
        watch = np.empty((ports.count, len(self.level)))
        own[used] = matrix_of(solved, place, ports, used[:, None])[:, 0, 0]
        drive[used] = (left * self.base.x[left_at, 0]).sum(axis=1) - ports.emf[used]
        watch[used] = gathered(self.watch, right_at[:, None], right[:, None])[:, 0]
        return Ported(ports=ports, own=own, drive=drive, watch=watch)

    def look(
        self, patterns: Patterns, label: Ints, ported: Ported, numbers: Ints, here: Ints
    ) -> tuple[Floats, Floats]:
        """What limits `here` see (g, here) under hypotheses with ports `numbers` (g, k), -1 for none, in
        patterns `label` (g,); and the least share (g,) that any port is left with of its own
        transfer: so many digits are gone."""
        share, ports = patterns.share[label], ported.ports
        level = patterns.level[:, here][label]
        live = numbers >= 0
        if not live.any():
            return level, share
        safe = np.where(live, numbers, 0 if live.all() else numbers[live][0])
        if numbers.shape[1] == 1:
            matrix = np.where(live, ported.own[safe], 0.0)[:, :, None]
        else:
            solved, place = self.base.columns(np.maximum(ports.right_at[safe], 0))
            matrix = matrix_of(solved, place, ports, numbers)
        reach = np.arange(numbers.shape[1])
        matrix[:, reach, reach] += np.where(live, ports.alpha[safe], 1.0)
        drive = np.where(live, ported.drive[safe], 0.0)
        seen = ported.watch[safe[..., None], here]
        seen[~live] = 0.0
        if patterns.slot.shape[1]:
            slot = patterns.slot[label][:, None, :] if len(patterns.slot) > 1 else patterns.slot
            left, right = ports.left[safe] * live[..., None], ports.right[safe] * live[..., None]
            near = gathered(self.right, np.maximum(ports.left_at[safe], 0), left, slot)
            far = gathered(self.left, np.maximum(ports.right_at[safe], 0), right, slot)
            far = _through(patterns.inverse, label, far)
            before = np.abs(_own(matrix))
            matrix -= near @ far.transpose(0, 2, 1)
            drive -= np.einsum("gkd,gd->gk", near, patterns.flow[label])
            seen -= _watched(patterns.watched[..., here], label, far)
            share = np.minimum(share, (before / np.abs(_own(matrix))).min(axis=1))
        if numbers.shape[1] == 1:
            seen = seen[:, 0] * (drive / matrix[:, 0])
        else:
            current = np.linalg.solve(matrix, drive[..., None])
            seen = np.matmul(seen.transpose(0, 2, 1), current)[..., 0]
        level -= seen
        return level, share


def dense(at: Ints, value: Floats, size: int) -> Floats:
    """Sparse vectors (f, w) as columns (size, f)."""
    result = np.zeros((size, len(at)), order="F")
    for k in range(at.shape[1]):
        some = np.flatnonzero(at[:, k] >= 0)
        result[at[some, k], some] += value[some, k]
    return result


def gathered(rows: Floats, at: Ints, value: Floats, slot: Ints | None = None) -> Floats:
    """Sparse vectors (g, k, w) read off rows (N, s): (g, k, s), or of the slots (g, 1, d) or (1, d)
    only."""
    shape = (*at.shape[:2], rows.shape[1] if slot is None else slot.shape[-1])
    total = np.zeros(shape)
    if slot is not None and slot.ndim == 2:
        rows, slot = rows[:, slot[0]], None
    for w in range(WIDTH):
        some = value[..., w]
        if not some.any():
            continue
        if slot is None:
            total += some[..., None] * rows[at[..., w]]
        else:
            total += some[..., None] * rows[at[..., w][..., None], slot]
    return total


def _own(matrix: Floats) -> Floats:
    """(g, k) 1 / what every port is left with after all others of its system."""
    if matrix.shape[1] == 1:
        return 1.0 / matrix[:, 0]
    return np.asarray(np.diagonal(np.linalg.inv(matrix), axis1=1, axis2=2))


def _through(inverse: Floats, label: Ints, far: Floats) -> Floats:
    """T^-1 of each one's pattern times its vectors (g, k, d)."""
    if len(inverse) == 1:
        result: Floats = far @ inverse[0].T
    else:
        result = np.einsum("gde,gke->gkd", inverse[label], far)
    return result


def _watched(watched: Floats, label: Ints, far: Floats) -> Floats:
    """(g, k, K) what a pattern's turns pass on of a port's current."""
    result: Floats = far @ (watched[0] if len(watched) == 1 else watched[label])
    return result
