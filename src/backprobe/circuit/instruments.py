"""What an instrument shows on a settled network, under every hypothesis at once.

A voltmeter of R ohm reads Voc R / (R + Rth); an ohmmeter reads Rth; both need the resistance the
network shows at the probes, corrected for the ports (sign conventions of circuit.ports):

    Z' = l' M^-1 r - (l' M^-1 R) C^-1 (L' M^-1 r)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from typing import Final, Literal

import numpy as np

from backprobe.circuit.base import CONTACT_STEP, WARM_STEP, Base, Variant
from backprobe.circuit.bases import Bases
from backprobe.circuit.net import Flags, Floats, Ints, Net
from backprobe.circuit.ports import Block, Ports, entries, read, solve
from backprobe.circuit.settle import Settled

PIECE: Final = 200_000
"""Readings worked out at a time, so that what is worked with stays in the processor's cache."""

LIGHT: Final = 1e6
"""Ohms from which an instrument loads so little that what contacts and warmth do to the load is
nothing beside what they do to the reading."""

Quantity = Literal["volts", "amps", "ohms"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Taps:
    """Where instruments touch: `at`, `value` (f, 2) what is read, `far_at`, `far` (f, 2) where a
    test current enters (the same pair, but for a transfer), `meter` (f,) input ohm (inf = none),
    `amps` and `ohms` (f,) flags."""

    at: Ints
    value: Floats
    far_at: Ints
    far: Floats
    meter: Floats
    amps: Flags
    ohms: Flags

    @property
    def loading(self) -> Ints:
        """Taps whose reading depends on the resistance at the probes."""
        return np.flatnonzero(self.ohms | np.isfinite(self.meter))

    def only(self, which: Ints) -> Taps:
        """Some of the taps."""
        return Taps(**{f.name: getattr(self, f.name)[which] for f in fields(self)})


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """Readings (H, f), their change per battery volt, per ln of contacts and per kelvin
    (H, f, 3), and the resistance at the probes (H, f), 0 where no instrument loads them."""

    mean: Floats
    slope: Floats
    source: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Tap:
    """One place to read: from p to n by node name, or the current of a branch."""

    quantity: Quantity
    p: str
    n: str = ""
    far: tuple[str, str] | None = None
    meter_ohm: float = np.inf


def taps_of(net: Net, taps: Sequence[Tap]) -> Taps:
    """Names to places. KeyError names an unknown node or branch."""

    def pair(p: str, n: str) -> list[tuple[int, float]]:
        return [(net.voltage(p), 1.0), (net.voltage(n), -1.0)]

    near = [
        [(net.current(tap.p), 1.0)] if tap.quantity == "amps" else pair(tap.p, tap.n)
        for tap in taps
    ]
    away = [[] if tap.quantity == "amps" else pair(*(tap.far or (tap.p, tap.n))) for tap in taps]
    at, value = entries(near, 2)
    far_at, far = entries(away, 2)
    return Taps(
        at=at,
        value=value,
        far_at=far_at,
        far=far,
        meter=np.array([tap.meter_ohm for tap in taps], float),
        amps=np.array([tap.quantity == "amps" for tap in taps], bool),
        ohms=np.array([tap.quantity == "ohms" for tap in taps], bool),
    )


def show(bases: Bases, settled: Settled, taps: Taps, *, slopes: bool = True) -> Shown:
    """Read every tap under every hypothesis."""
    where = _places(taps)
    mean, source, battery = _in_variant(bases, settled, taps, where, "nominal")
    slope = np.zeros((*mean.shape, 3))
    slope[..., 0] = battery
    if slopes:
        contacts, _, _ = _in_variant(bases, settled, taps, where, "contacts", source)
        warm, _, _ = _in_variant(bases, settled, taps, where, "warm", source)
        slope[..., 1] = (contacts - mean) / CONTACT_STEP
        slope[..., 2] = (warm - mean) / WARM_STEP
    return Shown(mean=mean, slope=slope, source=source)


def _in_variant(
    bases: Bases,
    settled: Settled,
    taps: Taps,
    where: tuple[Taps, Ints],
    variant: Variant,
    nominal: Floats | None = None,
) -> tuple[Floats, Floats, Floats]:
    """Means, resistances at the probes and battery slopes (H, f) with the states as settled.
    `nominal`: resistances already known, good enough for instruments that hardly load."""
    shape = (settled.cases.count, len(taps.meter))
    mean, battery = np.zeros(shape), np.zeros(shape)
    source = np.zeros(shape) if nominal is None else nominal.copy()
    places, place = where
    loading = taps.loading
    meter, ohms = taps.meter[loading], taps.ohms[loading]
    asked = loading if nominal is None else loading[ohms | (meter < LIGHT)]
    loaded, load_at = np.unique(place[asked], return_inverse=True)
    some = places.only(loaded)
    for states, solved in settled.groups:
        base = bases.get(states, variant)
        blocks = solved if variant == "nominal" else solved_again(base, settled, solved)
        ports = settled.ports_on(base)
        for block in _pieces(blocks, PIECE // max(1, len(place))):
            plain, weight = read(base, ports, block, places.at, places.value)
            value, change = plain[..., 0][:, place], plain[..., 1][:, place]
            if asked.size:
                seen = _resistance(base, ports, block, some, weight[:, loaded])
                source[np.ix_(block.cases, asked)] = seen[:, load_at]
            if loading.size:
                ohm = source[np.ix_(block.cases, loading)]
                load = 1.0 / (1.0 + np.maximum(ohm, 0.0) / meter)
                value[:, loading] *= load
                change[:, loading] *= load
                value[:, loading[ohms]] = ohm[:, ohms]
                change[:, loading[ohms]] = 0.0
            mean[block.cases] = value
            battery[block.cases] = change
    return mean, source, battery


def _pieces(blocks: Sequence[Block], rows: int) -> Iterator[Block]:
    """The blocks in pieces of some hypotheses each."""
    rows = max(1, rows)
    for block in blocks:
        for first in range(0, len(block.cases), rows):
            some = slice(first, first + rows)
            yield block.only(block.cases[some], some)


def _places(taps: Taps) -> tuple[Taps, Ints]:
    """The taps without those that only differ in their meter, and where each is among them."""
    touched = np.concatenate([taps.at, taps.value, taps.far_at, taps.far], axis=1)
    _, first, place = np.unique(touched, axis=0, return_index=True, return_inverse=True)
    return taps.only(first), place.ravel()


def solved_again(base: Base, settled: Settled, blocks: tuple[Block, ...]) -> tuple[Block, ...]:
    """The same hypotheses on another factorisation of the same states."""
    which = np.concatenate([block.cases for block in blocks])
    return solve(base, settled.ports_on(base), settled.turned, which)


def _resistance(base: Base, ports: Ports, block: Block, taps: Taps, weight: Floats) -> Floats:
    """(g, f) ohms seen from the far pair to the near pair of every tap."""
    solved, place = base.columns(np.maximum(taps.far_at, 0))
    far_at = place[np.maximum(taps.far_at, 0)]
    bare = np.zeros(len(taps.meter))
    for a in range(taps.at.shape[1]):
        for b in range(far_at.shape[1]):
            bare += (
                taps.value[:, a]
                * taps.far[:, b]
                * solved[np.maximum(taps.at[:, a], 0), far_at[:, b]]
            )
    if not block.ports.shape[1]:
        return np.broadcast_to(bare, (len(block.cases), len(bare)))
    live = block.ports >= 0
    safe = np.where(live, block.ports, 0)
    left_at, left = ports.left_at[safe], ports.left[safe] * live[..., None]
    reach = np.zeros((*block.ports.shape, len(taps.meter)))
    for b in range(far_at.shape[1]):
        far = taps.far[:, b]
        if not far.any():
            continue
        for a in range(left_at.shape[2]):
            ends = np.nonzero(left[..., a])
            if ends[0].size:
                seen = solved[np.ix_(left_at[..., a][ends], far_at[:, b])]
                reach[ends] += left[..., a][ends][:, None] * far * seen
    if block.matrix.shape[1] == 1:
        single: Floats = bare - weight[..., 0] * reach[:, 0] / block.matrix[:, 0]
        return single
    moved = np.asarray(np.linalg.solve(block.matrix, reach), np.float64)
    change: Floats = np.einsum("gfk,gkf->gf", weight, moved)
    return bare - change
