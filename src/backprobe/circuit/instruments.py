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

from backprobe.circuit.base import CONTACT_STEP, WARM_STEP, Variant
from backprobe.circuit.bases import Bases
from backprobe.circuit.net import Flags, Floats, Ints, Net, States
from backprobe.circuit.parting import by_number, distinct
from backprobe.circuit.ports import Ports, entries
from backprobe.circuit.readout import readout
from backprobe.circuit.reference import on_base
from backprobe.circuit.settled import FEW, NOT_SETTLED, Settled
from backprobe.circuit.small import Vectors
from backprobe.circuit.spots import (
    AGREE,
    ASKED,
    KNOWN,
    LIGHT,
    SURE,
    Ground,
    Meters,
    Resting,
    Spots,
)

NO_TURNS: Final = Ports.of([])
NUMBERS: Final = 1 << 20
"""Readings (hypotheses times taps) in a block."""
COLUMNS: Final = 20
"""Columns of another factorisation that take as long as refining one hypothesis (measured)."""

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

    @property
    def light(self) -> bool:
        """True when none shows ohms and none loads what it reads worth mentioning."""
        return not (self.ohms | (self.meter < LIGHT)).any()

    def only(self, which: Ints) -> Taps:
        """Some of the taps."""
        return Taps(**{f.name: getattr(self, f.name)[which] for f in fields(self)})


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """Readings (H, f), their change per battery volt and, where that was asked for, per ln of
    contacts and per kelvin (H, f, 1 or 3), and the resistance at the probes (H, f), as well as the
    instrument needs it there: 0 where none loads them, anything where there is no voltage to load."""

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


def show(
    bases: Bases, settled: Settled, taps: Taps, *, slopes: bool = True, sure: float = SURE
) -> Shown:
    """Read every tap under every hypothesis. What may have lost more than `sure` volts is refined."""
    [(mean, source, battery)] = _in_variants(bases, settled.lean(), taps, ("nominal",), sure)
    slope = battery[..., None]
    if slopes:
        more = moved(bases, settled, taps, mean, source, sure=sure)
        slope = np.concatenate([slope, more], axis=2)
    return Shown(mean=mean, slope=slope, source=source)


def show_in_blocks(
    bases: Bases, settled: Settled, taps: Taps, *, sure: float = SURE
) -> Iterator[tuple[Ints, Floats]]:
    """What show() gives as `mean` alone, block by block: numbers of hypotheses (b,), those of one pattern
    side by side, and their readings (b, f). Memory that is used again takes a tenth of the time of new
    memory."""
    patterns, label = distinct(settled.states)
    order = by_number(label, len(patterns))
    step = max(1, NUMBERS // max(1, len(taps.meter)))
    for first in range(0, len(order), step):
        rows = order[first : first + step]
        some = settled.only(rows).lean()
        [(mean, _, _)] = _in_variants(bases, some, taps, ("nominal",), sure, mean_only=True)
        yield rows, mean


def moved(
    bases: Bases, settled: Settled, taps: Taps, mean: Floats, source: Floats, *, sure: float
) -> Floats:
    """What contacts and warm copper add (H, f, 2) to taps that show `mean` (H, f), from resistances
    `source` (H, f) at the probes, as Shown has them."""
    (contacts, _, _), (warm, _, _) = _in_variants(
        bases, settled.lean(), taps, ("contacts", "warm"), sure, source, mean_only=True
    )
    return np.stack([(contacts - mean) / CONTACT_STEP, (warm - mean) / WARM_STEP], axis=2)


def _in_variants(
    bases: Bases,
    settled: Settled,
    taps: Taps,
    variants: Sequence[Variant],
    sure: float,
    nominal: Floats | None = None,
    mean_only: bool = False,
) -> list[tuple[Floats, Floats, Floats]]:
    """Means, resistances at the probes and battery slopes (H, f) in each variant with the states as
    settled, or the `mean_only` (the others hold nothing). `nominal`: resistances already known, good
    enough for instruments that hardly load."""
    shape = (settled.cases.count, len(taps.meter))
    room = np.zeros if (settled.on == NOT_SETTLED).any() else np.empty
    found = [
        (
            room(shape),
            room((1 if mean_only else shape[0], shape[1])) if nominal is None else nominal.copy(),
            room((0 if mean_only else shape[0], shape[1])),
        )
        for _ in variants
    ]
    places, place = _places(taps)
    state = np.zeros(len(taps.meter), np.int8)
    state[taps.loading] = KNOWN
    heavy = taps.ohms | (taps.meter < LIGHT)
    state[taps.loading if nominal is None else heavy] = ASKED
    wanted = np.zeros(len(places.meter), bool)
    wanted[place[state == ASKED]] = True
    finds = state == ASKED
    meters = Meters(
        place=place,
        easy=~finds,
        agree=np.where(finds & heavy, AGREE, 0.0),
        load=np.where((state > 0) & ~taps.ohms, 1.0 / taps.meter, 0.0),
        shows_ohms=taps.ohms,
        source=state,
        runs=_runs(place, state),
    )
    runs, second = _runs(np.maximum(places.at[:, 0], 0)), np.flatnonzero(places.value[:, 1])
    value = np.ascontiguousarray(places.value.T)
    few = FEW + int(wanted.sum()) // COLUMNS
    far_at = np.maximum(places.far_at, 0)
    for group in settled.groups(bases.turns, few=few):
        used = settled.cases.only(group.who).used(settled.ports.count)
        begin = np.concatenate([[0], np.cumsum(group.turned.sum(axis=1))])
        away = np.ascontiguousarray(np.nonzero(group.turned)[1])
        order = by_number(group.label, len(group.turned))
        who, label = group.who[order], group.label[order]
        own: Vectors | None = None
        for variant, (mean, source, battery) in zip(variants, found, strict=True):
            base = bases.get(group.states, variant)
            base.laid(far_at[wanted])
            ports, swing, turned = NO_TURNS, np.zeros(0), np.zeros(0, bool)
            if group.turned.any():
                ports, turned = bases.turns.ports(base), np.asarray(group.turned.any(axis=0))
                swing = bases.turns.swing(bases.turns.there(base.states[None])[0])
            laid, own, turns = on_base(
                base, settled.ports, used, ports, turned, swing, bases.turns.number, own
            )
            spots = Spots(
                at=np.maximum(places.at, 0),
                value=value,
                far_at=far_at,
                far_in=base.laid(far_at[wanted])[1][far_at],
                far=places.far,
                asked=wanted,
                runs=runs,
                second=second,
            )
            readout(
                Ground(exact=base.exact, laid=laid, x=base.x, turns=turns),
                Resting(settled.cases.start, settled.cases.ports, own, begin, away),
                spots,
                meters,
                who,
                label,
                mean,
                battery,
                source,
                sure,
            )
    return found


def _runs(place: Ints, known: States | None = None) -> Ints:
    """Meters.runs, Spots.runs: where places follow each other, and the same is `known` of them."""
    breaks = np.ones(len(place), bool)
    breaks[1:] = place[1:] != place[:-1] + 1
    if known is not None:
        breaks[1:] |= known[1:] != known[:-1]
    first = breaks.nonzero()[0]
    runs = np.empty((first.size, 3), np.int64)
    runs[:, 0], runs[:, 1] = first, place[first]
    runs[:-1, 2], runs[-1:, 2] = first[1:] - first[:-1], len(place) - first[-1:]
    return runs


def _places(taps: Taps) -> tuple[Taps, Ints]:
    """The taps without those that only differ in their meter, and where each is among them."""
    touched = np.concatenate([taps.at, taps.value, taps.far_at, taps.far], axis=1)
    kinds, place = distinct(touched.view(np.int8))
    if len(kinds) == len(touched):
        return taps, place
    return taps.only(np.unique(place, return_index=True)[1]), place
