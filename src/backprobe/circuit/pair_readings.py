"""What instruments show under every settled pair, in blocks small enough for the cache.

With the first defect's port taken out of the way, C11 and c = T12 / C11 (circuit.pairs),

    x' = x - m1 y1 - m2 y2
    Z' = Z - w1 u1 / C11 - (w2 - w1 c) (u2 - T21 u1 / C11) / S         S = C22 - T21 c

where w is what a port's current takes off a reading and u what a test current at the probes drives
through the port.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from backprobe.circuit.crowd import Crowd, Places, crowds
from backprobe.circuit.instruments import Taps
from backprobe.circuit.islands import mended
from backprobe.circuit.net import Floats, Ints, States
from backprobe.circuit.pair_solve import Solved, solve_pairs
from backprobe.circuit.pairs import SettledPairs
from backprobe.circuit.parting import by_number
from backprobe.circuit.transfer import Held, Pattern, Transfer, hanging
from backprobe.circuit.walk import FEW, PairEnd

NUMBERS = 1 << 17
"""Readings (pairs times taps) worked on together: a megabyte of each kind at first, a quarter inside."""

MANY = 48
"""Taps from which on a pair's readings are worked out side by side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PairBlock:
    """Readings of some pairs (b,): `open_` (f, b) without any load, its change per volt of
    battery `battery` (f, b), and `ohm` (f, b) seen by the probes (0 where nothing loads)."""

    pairs: Ints
    open_: Floats
    battery: Floats
    ohm: Floats

    def shown(self, taps: Taps) -> Floats:
        """What the instruments show, (f, b)."""
        return shown(self.open_, self.ohm, taps)


@dataclass(frozen=True, slots=True, kw_only=True)
class PairsShown:
    """Readings of all pairs: `mean`, `battery` (change per volt), `source` (ohm), (f, m) each."""

    mean: Floats
    battery: Floats
    source: Floats


def shown(open_: Floats, ohm: Floats, taps: Taps) -> Floats:
    """What instruments show of unloaded readings (f, b) seen through `ohm` (f, b)."""
    value = np.maximum(ohm, 0.0)
    value *= (1.0 / taps.meter)[:, None]
    value += 1.0
    np.divide(open_, value, out=value)
    if taps.ohms.any():
        value[taps.ohms] = ohm[taps.ohms]
    return value


def show_pairs(settled: SettledPairs, taps: Taps, *, battery: bool = False) -> PairsShown:
    """Read every tap under every pair."""
    shape = (len(taps.meter), settled.count)
    mean, source = np.empty(shape), np.empty(shape)
    change = np.zeros(shape)
    for block in read_pairs(settled, taps, battery=battery):
        mean[:, block.pairs] = block.shown(taps)
        source[:, block.pairs] = block.ohm
        if battery:
            change[:, block.pairs] = np.where(
                taps.ohms[:, None],
                0.0,
                block.battery / (1.0 + np.maximum(block.ohm, 0.0) / taps.meter[:, None]),
            )
    return PairsShown(mean=mean, battery=change, source=source)


def read_pairs(settled: SettledPairs, taps: Taps, *, battery: bool = False) -> Iterator[PairBlock]:
    """Read every tap under every pair, block by block, each pair once."""
    reader = _Reader.of(settled.transfer, taps)
    few = []
    for end in settled.ends:
        if len(end.pairs) < FEW:
            few.append(end)
        else:
            yield from _of_end(settled, reader, end, battery=battery)
    for item in _of_few(settled, reader, few):
        if isinstance(item, PairBlock):
            yield item
        else:
            yield from _of_end(settled, reader, item, battery=battery)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reader:
    """Taps on the reference: `rows` (f, columns of z), `reach` (rows of z, f), `bare` (f,) ohm,
    `loads` (f,) which need ohms at all, `switch` (f,) the branch read when it can be absent."""

    transfer: Transfer
    rows: Floats
    reach: Floats
    bare: Floats
    loads: Ints
    switch: Ints
    taps: Taps

    @staticmethod
    def of(transfer: Transfer, taps: Taps) -> _Reader:
        loads = taps.loading
        some = taps.only(loads)
        reach, everywhere = transfer.columns(some.far_at, some.far)
        bare = np.zeros(len(loads))
        for k in range(some.at.shape[1]):
            bare += (
                some.value[:, k] * everywhere[np.maximum(some.at[:, k], 0), np.arange(len(loads))]
            )
        branch = taps.at[:, 0] - (len(transfer.net.nodes) - 1)
        can = (branch >= 0) & (transfer.toggle_of[np.maximum(branch, 0)] >= 0)
        return _Reader(
            transfer=transfer,
            rows=transfer.rows(taps.at, taps.value),
            reach=reach,
            bare=bare,
            loads=loads,
            switch=np.where(can, branch, -1),
            taps=taps,
        )

    def anew(self, states: States, held: Held, ports: Ints) -> tuple[_Reader, Held, Ints]:
        """The same taps with these states as the reference, for some ports only; what is held and
        the ports by their numbers there."""
        t = self.transfer
        numbers, at = np.unique(np.concatenate([ports, held.vector]), return_inverse=True)
        transfer = Transfer.of(
            t.bases, t.limits, t.vectors.only(numbers), states, shape=t.shape, fixed=True
        )
        mine = replace(held, vector=at[len(ports) :])
        return _Reader.of(transfer, self.taps), mine, at[: len(ports)]


def _of_end(
    settled: SettledPairs, reader: _Reader, end: PairEnd, *, battery: bool
) -> Iterator[PairBlock]:
    """The pairs of one end, by one pattern."""
    d, transfer = settled.defective, settled.transfer
    lead, second = settled.lead[end.pairs], settled.second[end.pairs]
    order = by_number(lead, len(d.vector))
    needed = np.zeros(transfer.vectors.count, bool)
    needed[d.vector[lead]] = True
    needed[d.vector[second]] = True
    ports = np.flatnonzero(needed)
    place = np.zeros(transfer.vectors.count, np.int64)
    place[ports] = np.arange(len(ports))
    held = d.held[end.event]
    pattern = transfer.pattern(end.states, held, ports)
    if pattern.hangs:
        reader, held, fresh = reader.anew(end.states, held, ports)
        pattern = reader.transfer.pattern(end.states, held, fresh)
    present = transfer.net.present(end.states)
    dark = (reader.switch >= 0) & ~present[np.maximum(reader.switch, 0)]
    weight = reader.rows[:, pattern.ports] - reader.rows[:, pattern.right] @ pattern.into
    level = pattern.level_of(reader.rows)
    weight[dark], level[dark] = 0.0, 0.0
    readings = _Readings.of(reader, pattern, weight, level)
    # Wide enough to pay for the leaders' transfers, narrow inside.
    for start in range(0, len(order), NUMBERS):
        wide = order[start : start + NUMBERS]
        sol = solve_pairs(d, pattern, place, lead[wide], second[wide])
        sol = mended(d, pattern, sol, lead[wide], second[wide])
        step = max(32, NUMBERS // (4 * max(1, len(weight))))
        for first in range(0, len(wide), step):
            some = slice(first, first + step)
            part = sol.part(some)
            per_volt = part.per_volt(pattern) if battery else None
            yield readings.block(end.pairs[wide[some]], part, per_volt)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Readings:
    """Taps in a pattern: `weight` what a port's current takes off a reading, `level` (f, 2),
    `reach` what a test current at the loading taps drives through a port, `bare` (l,) ohm.

    With many taps the matrices stand (ports, taps), a pair's numbers side by side; with few
    (taps, ports), a tap's numbers side by side: what is longer is worked on in one go.
    """

    loads: Ints
    weight: Floats
    level: Floats
    reach: Floats
    bare: Floats
    by_pair: bool

    @staticmethod
    def of(reader: _Reader, pattern: Pattern, weight: Floats, level: Floats) -> _Readings:
        moved = np.linalg.solve(pattern.core, reader.reach[pattern.left])
        reach = reader.reach[pattern.ports] - pattern.out @ moved
        reach[pattern.dead] = 0.0
        taken = np.einsum("fr,rf->f", reader.rows[np.ix_(reader.loads, pattern.right)], moved)
        by_pair = len(weight) >= MANY
        return _Readings(
            loads=reader.loads,
            weight=np.ascontiguousarray(weight.T if by_pair else weight),
            level=level,
            reach=np.ascontiguousarray(reach if by_pair else reach.T),
            bare=reader.bare - taken,
            by_pair=by_pair,
        )

    def block(self, pairs: Ints, sol: Solved, per_volt: tuple[Floats, Floats] | None) -> PairBlock:
        """The readings of some solved pairs."""
        one, two = self._take(self.weight, sol.lead_at), self._take(self.weight, sol.second_at)
        spent = two * self._pair(sol.y2)
        open_ = one * self._pair(sol.y1)
        open_ += spent
        np.subtract(self._tap(self.level[:, 0]), open_, out=open_)
        change = np.zeros((0, 0))
        if per_volt is not None:
            y1, y2 = (self._pair(y) for y in per_volt)
            change = self._out(self._tap(self.level[:, 1]) - one * y1 - two * y2)
        return PairBlock(
            pairs=pairs,
            open_=self._out(open_),
            battery=change,
            ohm=self._out(self._ohm(sol, one, two, spent)),
        )

    def _ohm(self, sol: Solved, one: Floats, two: Floats, into: Floats) -> Floats:
        """Ohms at the probes, 0 for taps that load nothing. `into`: to work in."""
        taps = self.level.shape[0]
        whole = len(self.loads) == taps
        if not whole:
            axis = 1 if self.by_pair else 0
            one, two = one.take(self.loads, axis), two.take(self.loads, axis)
            into = np.empty_like(one)
        near = self._take(self.reach, sol.lead_at)
        near *= self._pair(1.0 / sol.own)
        far = self._take(self.reach, sol.second_at)
        far -= np.multiply(near, self._pair(sol.back), out=into)
        far *= self._pair(1.0 / sol.pivot)
        near *= one
        one *= self._pair(sol.c)
        two -= one
        far *= two
        near += far
        np.subtract(self._tap(self.bare), near, out=near)
        if whole:
            return near
        count = len(sol.y1)
        result = np.zeros((count, taps) if self.by_pair else (taps, count))
        if self.by_pair:
            result[:, self.loads] = near
        else:
            result[self.loads] = near
        return result

    def _take(self, what: Floats, at: Ints) -> Floats:
        return what.take(at, 0 if self.by_pair else 1)

    def _pair(self, numbers: Floats) -> Floats:
        return numbers[:, None] if self.by_pair else numbers

    def _tap(self, numbers: Floats) -> Floats:
        return numbers if self.by_pair else numbers[:, None]

    def _out(self, numbers: Floats) -> Floats:
        return numbers.T if self.by_pair else numbers


def _of_few(
    settled: SettledPairs, reader: _Reader, ends: list[PairEnd]
) -> Iterator[PairBlock | PairEnd]:
    """The pairs of ends that few pairs share, each by its own system. Those in which something
    hangs on its leak are handed back as ends of their own."""
    if not ends:
        return
    d, transfer = settled.defective, settled.transfer
    pairs = np.concatenate([end.pairs for end in ends])
    group = np.repeat(np.arange(len(ends)), [len(end.pairs) for end in ends])
    who = np.stack([settled.lead[pairs], settled.second[pairs]], axis=1)
    places = Places(
        states=np.array([end.states for end in ends]),
        event=np.array([end.event for end in ends], np.int64),
    )
    ports = (d.vector[who], d.alpha[who], d.emf[who])
    floating: list[Ints] = []
    for whole in crowds(transfer, d.held, places, group, ports):
        hangs = (hanging(whole.matrix) & ~whole.held).any(axis=1)
        floating.append(whole.which[hangs])
        crowd = whole.part(np.flatnonzero(~hangs))
        step = max(16, 8 * NUMBERS // (50 * whole.left.shape[1]))
        for first in range(0, len(crowd.which), step):
            part = crowd.part(slice(first, first + step))
            seen = part.read(transfer, reader.rows)
            dark = (reader.switch >= 0) & ~part.present[:, np.maximum(reader.switch, 0)]
            seen[np.broadcast_to(dark[:, None], seen.shape)] = 0.0
            ohm = np.zeros((len(seen), seen.shape[2]))
            ohm[:, reader.loads] = _ohms(part, reader)
            yield PairBlock(
                pairs=pairs[part.which],
                open_=np.ascontiguousarray(seen[:, 0].T),
                battery=seen[:, 1].T,
                ohm=ohm.T,
            )
    left = np.concatenate(floating)
    for number in np.unique(group[left]):
        some = left[group[left] == number]
        yield replace(ends[number], pairs=np.sort(pairs[some]))


def _ohms(crowd: Crowd, reader: _Reader) -> Floats:
    """(m, l) ohms at the loading taps."""
    reach = reader.reach[crowd.left] * crowd.live[..., None]
    moved = np.linalg.solve(crowd.matrix, reach)
    weight = np.ascontiguousarray(reader.rows[reader.loads].T)[crowd.right]
    taken: Floats = reader.bare - np.einsum("mkl,mkl->ml", weight, moved)
    return taken
