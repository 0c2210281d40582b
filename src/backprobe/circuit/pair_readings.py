"""What instruments show under every settled pair, in blocks small enough for the cache.

Read by circuit.pair_read. Where the digits of a double do not suffice a pair is read as a hypothesis
of its own (circuit.instruments), a hundred times as slow.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from backprobe.circuit.instruments import Taps
from backprobe.circuit.instruments import show as show_cases
from backprobe.circuit.net import Floats
from backprobe.circuit.pair_put import Numbers, found_for, made_for
from backprobe.circuit.pair_read import Ends, Lens, read, room_for, show
from backprobe.circuit.pairs import SettledPairs
from backprobe.circuit.parting import parted
from backprobe.circuit.settle import settle
from backprobe.circuit.transfer import Transfer

NUMBERS = 1 << 17
"""Readings (pairs times taps) in a block: a megabyte of each kind."""
NO_LOAD = np.zeros((0, 0))


@dataclass(frozen=True, slots=True, kw_only=True)
class PairBlock:
    """Readings of some pairs (b,): `open_` (b, f) without any load, its change per volt of
    battery `battery` (b, f), empty when not asked for, and `ohm` (b, f) seen by the probes (0 where
    nothing loads)."""

    pairs: Numbers
    open_: Floats
    battery: Floats
    ohm: Floats

    def shown(self, taps: Taps) -> Floats:
        """What the instruments show, (b, f)."""
        result = np.empty(self.open_.shape)
        show(self.open_, self.ohm, 1.0 / taps.meter, taps.ohms, result)
        return result


@dataclass(frozen=True, slots=True, kw_only=True)
class PairsShown:
    """Readings of all pairs: `mean`, `battery` (change per volt), `source` (ohm), (f, m) each."""

    mean: Floats
    battery: Floats
    source: Floats


def show_pairs(settled: SettledPairs, taps: Taps, *, battery: bool = False) -> PairsShown:
    """Read every tap under every pair."""
    shape = (len(taps.meter), settled.count)
    mean, source = np.empty(shape), np.empty(shape)
    change = np.zeros(shape)
    for block in read_pairs(settled, taps, battery=battery):
        mean[:, block.pairs] = block.shown(taps).T
        source[:, block.pairs] = block.ohm.T
        if battery:
            load = 1.0 + np.maximum(block.ohm, 0.0) / taps.meter
            change[:, block.pairs] = np.where(taps.ohms, 0.0, block.battery / load).T
    return PairsShown(mean=mean, battery=change, source=source)


def read_pairs(settled: SettledPairs, taps: Taps, *, battery: bool = False) -> Iterator[PairBlock]:
    """Read every tap under every pair, block by block, each pair once."""
    lost: list[Numbers] = []
    for pairs, (open_, volt, ohm), _ in _blocks(settled, taps, battery, NO_LOAD, lost):
        yield PairBlock(pairs=pairs, open_=open_, battery=volt, ohm=ohm)
    yield from _carefully(settled, taps, lost)


def read_by(settled: SettledPairs, *meters: Taps) -> Iterator[tuple[Numbers, Floats]]:
    """What one or two voltmeters (or shunts) show at the same taps: some pairs (b,) at a time, and
    (meters, b, f), which stand until the next are asked for. Nothing else is kept of them, which takes
    half the time."""
    load = 1.0 / np.stack([taps.meter for taps in meters])
    lost: list[Numbers] = []
    for pairs, _, shown in _blocks(settled, meters[0], False, load, lost):
        yield pairs, shown
    for block in _carefully(settled, meters[0], lost):
        yield block.pairs, np.stack([block.shown(taps) for taps in meters])


def _blocks(
    settled: SettledPairs, taps: Taps, battery: bool, load: Floats, lost: list[Numbers]
) -> Iterator[tuple[Numbers, tuple[Floats, Floats, Floats], Floats]]:
    """Pairs (b,), their `open_`, `battery` and `ohm` (b, f), or with one or two meters that `load` (., f)
    instead what these show (meters, b, f). Those that must be read carefully are left out and put with
    the `lost`."""
    lens, ends, table = _lens(settled.transfer, taps), _ends(settled.transfer), settled.table
    count = len(taps.meter)
    step = max(1, NUMBERS // max(1, count))
    made = made_for(len(table.there), 3 * int(settled.defective.most[0]), count, count)
    found = found_for(len(table.z) - len(table.there), len(made.thing), count, count)
    room = room_for(len(made.thing), count, count if battery else 0)
    order = settled.order()
    by_pair = np.empty((min(step, settled.count), len(load), count))
    for first in range(0, settled.count, step):
        pairs, lead, other, stands = order[:, first : first + step]
        shape = (len(pairs), count)
        own = (1, count) if len(load) else shape
        open_, ohm, unsure = np.empty(own), np.empty(own), np.empty(len(pairs), bool)
        volt = np.empty(shape if battery else (0, count))
        shown = by_pair[: len(pairs)]
        read(
            table,
            settled.conditions,
            lens,
            ends,
            settled.defective,
            made,
            found,
            room,
            settled.patterns,
            lead,
            other,
            stands,
            open_,
            volt,
            ohm,
            unsure,
            load,
            shown,
        )
        if unsure.any():
            lost.append(pairs[unsure])
            sure = ~unsure
            pairs, shown = pairs[sure], shown[sure]
            if not len(load):
                open_, ohm, volt = open_[sure], ohm[sure], volt[sure] if battery else volt
        yield pairs, (open_, volt, ohm), shown.swapaxes(0, 1)


def _carefully(settled: SettledPairs, taps: Taps, lost: Sequence[Numbers]) -> Iterator[PairBlock]:
    """Pairs read as hypotheses of their own, in the states they rest in."""
    if not lost:
        return
    pairs, transfer = np.concatenate(lost), settled.transfer
    step = max(1, 8 * NUMBERS // max(1, len(taps.meter)))
    for first in range(0, len(pairs), step):
        some = pairs[first : first + step]
        cases = settled.cases.joined(settled.first[some], settled.second[some])
        ends, label = np.unique(settled.end[some], return_inverse=True)
        start = [
            (settled.patterns[end], who)
            for end, who in zip(ends, parted(np.arange(len(some)), label.ravel(), len(ends)))
        ]
        alone = settle(
            transfer.bases,
            transfer.limits,
            settled.ports,
            cases.with_all(settled.leads),
            start,
            rounds=1,
        )
        seen = show_cases(transfer.bases, alone, taps, slopes=False)
        load = 1.0 + np.maximum(seen.source, 0.0) / taps.meter
        yield PairBlock(
            pairs=some,
            open_=seen.mean * load,
            battery=seen.slope[..., 0] * load,
            ohm=seen.source,
        )


def _lens(transfer: Transfer, taps: Taps) -> Lens:
    """Taps on the reference."""
    things = transfer.things
    rows, own = np.empty((len(taps.meter), things)), np.empty((len(taps.meter), 2))
    transfer.read(taps.at, taps.value, rows, own)
    reach, everywhere = transfer.columns(taps.far_at, taps.far)
    reach *= np.isin(np.arange(len(taps.meter)), taps.loading)
    bare = np.zeros(len(taps.meter))
    for k in range(taps.at.shape[1]):
        bare += taps.value[:, k] * everywhere[np.maximum(taps.at[:, k], 0), np.arange(len(bare))]
    branch = taps.at[:, 0] - (len(transfer.net.nodes) - 1)
    driven = np.zeros((things, len(bare)))
    driven[: len(reach)] = reach
    return Lens(
        taken=np.ascontiguousarray(rows.T),
        reach=driven,
        level=own[:, 0].copy(),
        swing=own[:, 1].copy(),
        bare=np.where(np.isin(np.arange(len(bare)), taps.loading), bare, 0.0),
        turn=np.where(branch >= 0, transfer.toggle_of[np.maximum(branch, 0)], -1),
    )


def _ends(transfer: Transfer) -> Ends:
    """The ends of the branch every thing opens."""
    net = transfer.net
    here = transfer.present[transfer.toggles]
    branch = np.concatenate(
        [
            transfer.vectors.branch,
            np.where(here, transfer.toggles, -1),
            np.full(len(net.sources), -1),
        ]
    )
    top = np.array([net.node[element.p] - 1 for element in net.elements], np.int64)
    bottom = np.array([net.node[element.n] - 1 for element in net.elements], np.int64)
    return Ends(
        np.where(branch >= 0, top[branch], -2),
        np.where(branch >= 0, bottom[branch], -2),
        transfer.full,
        transfer.full[:, -2].copy(),
    )
