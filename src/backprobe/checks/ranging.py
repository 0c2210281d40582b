"""From readings along a line to the centimetre where it touches metal.

A lamp in place of the fuse sends a steady, known current into the short. Along sound wire the
millivolts grow with every metre (Ohm's law: V = I r x) and stay where they are beyond the short. A
milliohm meter from one end, better from both, sees the same metres and the short itself. A clamp,
and a plug taken apart, tell the side. Readings are weighed together, for they share the copper's
temperature, the measured current, the contacts they cross and the resistance of the short.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite

import numpy as np
from scipy.special import logsumexp

from backprobe.base.copper import TEMPERATURE_COEFFICIENT
from backprobe.base.problems import Problem
from backprobe.checks.range_table import WRONG, Measured, log_likelihoods, measured, passes
from backprobe.defects.model import Floats
from backprobe.suspects.along import (
    AtSpot,
    Piece,
    Spread,
    at_spots,
    look_first,
    shortest,
    weighed_by,
)
from backprobe.suspects.line import Line, Point
from backprobe.suspects.meters import noise, normal

AMPS_SHARE = 0.03
"""The lamp's current, measured with a clamp or in series. Data sheets, from memory."""
MOST = 1e4
"""No figure along a loom is larger, in its unit."""
COLDEST, WARMEST = -60.0, 150.0
"""Celsius a loom lives in (ISO 6722 names classes up to 150 C for ordinary thin wall)."""
CLAMP_PLACE_M = 0.03
"""A clamp's jaws are about so wide, m. Judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drop:
    """Volts between two places of the line, whichever way round, while `amps` flow from `fed` into
    the short. `amps_share`: one standard deviation of the current, as a share of it."""

    p: str
    n: str
    volts: float
    amps: float
    fed: str
    amps_share: float = AMPS_SHARE


@dataclass(frozen=True, slots=True, kw_only=True)
class Ohms:
    """A milliohm meter from a place of the line to metal through the short (`n` ""), or to another
    place of the line. The line is off everything else, the battery disconnected."""

    p: str
    ohm: float
    n: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamped:
    """A clamp around the wire while `fed_amps` flow from `fed`. `at`: a place for a probe, or a
    section and metres from its end a."""

    at: str | tuple[str, float]
    amps: float
    fed: str
    fed_amps: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Parted:
    """A plug on the line taken apart at `at` while the lamp feeds from `fed`: did it go out?"""

    at: str
    lamp_out: bool
    fed: str


RangeReading = Drop | Ohms | Clamped | Parted


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What one reading says by itself: `likelihood` (G,) along the line, 1 where it fits best;
    `wrong`: chance that it has nothing to do with these places, all others considered."""

    reading: RangeReading
    likelihood: Floats
    wrong: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Where the damage is. `before`, `after`: the chance along the line without and with the
    readings; `spots` likeliest first; `looks`: look first at the first, then at the second;
    `within`: the shortest piece that holds it eight times in ten; `told` by reading; `problems`:
    what was left out, and why."""

    before: Spread
    after: Spread
    spots: tuple[AtSpot, ...]
    looks: tuple[Piece, ...]
    within: Piece
    told: tuple[Told, ...]
    problems: tuple[Problem, ...]


def ranged(spread: Spread, readings: Sequence[RangeReading], *, celsius: float = 20.0) -> Placed:
    """The chance along a line after readings. `celsius`: how warm the loom is.

    At most one of the readings along the copper is thought to be wrong, of the others each by
    itself. It never raises for what a person read.
    """
    line, at_m = spread.line, spread.at_m
    faults = [tuple(_unfit(line, one)) for one in readings]
    fit = [one for one, wrong in zip(readings, faults, strict=True) if not wrong]
    rows = [one for one in fit if isinstance(one, Drop | Ohms)]
    sides = [one for one in fit if isinstance(one, Clamped | Parted)]
    odd = tuple(_warmth(celsius))
    warm = 1.0 + TEMPERATURE_COEFFICIENT * ((20.0 if odd else celsius) - 20.0)
    table = [_measured(line, at_m, one, warm) for one in rows]
    by_wrong = log_likelihoods(line, table, at_m.size)
    copper = logsumexp(by_wrong, axis=0)
    right = [_side(line, at_m, one) for one in sides]
    total = copper.copy()
    for one in right:
        total += np.log((1.0 - WRONG) * one + WRONG)
    after = weighed_by(spread, np.exp(total - total.max()))
    now = after.chance
    told: list[Told] = []
    for number, reading in enumerate(rows):
        alone = np.exp(log_likelihoods(line, [table[number]], at_m.size)[0])
        share = np.exp(by_wrong[number + 1] - copper)
        told.append(_told(reading, alone, float(now @ share)))
    for side, fits in zip(sides, right, strict=True):
        share = WRONG / ((1.0 - WRONG) * fits + WRONG)
        told.append(_told(side, fits, float(now @ share)))
    return Placed(
        before=spread,
        after=after,
        spots=at_spots(after),
        looks=look_first(after),
        within=shortest(after),
        told=tuple(sorted(told, key=lambda one: fit.index(one.reading))),
        problems=(*odd, *(problem for found in faults for problem in found)),
    )


def _told(reading: RangeReading, likelihood: Floats, wrong: float) -> Told:
    most = float(likelihood.max())
    return Told(
        reading=reading,
        likelihood=likelihood / most if most > 0.0 else np.ones_like(likelihood),
        wrong=wrong,
    )


def _measured(line: Line, at_m: Floats, reading: Drop | Ohms, warm: float) -> Measured:
    p = line.points[reading.p]
    if isinstance(reading, Drop):
        return measured(
            line,
            at_m,
            span=(p, line.points[reading.n]),
            source=line.points[reading.fed],
            value=abs(reading.volts),
            times=reading.amps * warm,
            amps=reading.amps,
            amps_share=reading.amps_share,
        )
    if reading.n:
        span = (p, line.points[reading.n])
        return measured(line, at_m, span=span, source=None, value=abs(reading.ohm), times=warm)
    return measured(line, at_m, span=None, source=p, value=abs(reading.ohm), times=warm)


def _side(line: Line, at_m: Floats, reading: Clamped | Parted) -> Floats:
    """(G,) chance of a reading that tells the side, over that of a figure from anywhere."""
    source = line.points[reading.fed]
    if isinstance(reading, Parted):
        beyond = passes(source, line.points[reading.at], at_m) > 0.5
        return np.where(beyond == reading.lamp_out, 2.0, 0.0)
    blur = passes(source, _place(line, reading.at), at_m, blur_m=CLAMP_PLACE_M)
    expected = np.array([reading.fed_amps, 0.0])
    flows, none = normal(abs(reading.amps), expected, noise("clamp", expected, 0.0))
    found: Floats = (blur * flows + (1.0 - blur) * none) * 1.5 * reading.fed_amps
    return found


def _place(line: Line, at: str | tuple[str, float]) -> Point:
    if isinstance(at, str):
        return line.points[at]
    where = line.where(*at)
    return Point(at_m=where, joints=sum(joint.at_m < where for joint in line.joints))


def _unfit(line: Line, reading: RangeReading) -> Iterator[Problem]:
    """Why a reading cannot be used, if it cannot."""
    match reading:
        case Drop():
            yield from _unknown(line, reading.p, reading.n, reading.fed)
            yield from _numbers("volts", reading.volts)
            yield from _current(reading.amps)
        case Ohms():
            yield from _unknown(line, reading.p, *((reading.n,) if reading.n else ()))
            yield from _numbers("ohms", reading.ohm)
        case Clamped():
            if isinstance(reading.at, str):
                yield from _unknown(line, reading.at, reading.fed)
            else:
                yield from _unknown(line, reading.fed)
                yield from _elsewhere(line, *reading.at)
            yield from _numbers("amperes", reading.amps)
            yield from _current(reading.fed_amps)
        case Parted():
            yield from _unknown(line, reading.at, reading.fed)


def _unknown(line: Line, *names: str) -> Iterator[Problem]:
    for name in names:
        if name not in line.points:
            yield Problem(
                slug="not-on-the-line",
                weight="error",
                at=None,
                what=f'There is no place "{name}" on the line from {line.start} to {line.end}.',
                why="Only readings along this line tell where on it the short is.",
                remedy=f"Use one of {', '.join(line.points)}.",
            )


def _elsewhere(line: Line, section: str, at_m: float) -> Iterator[Problem]:
    bits = [bit for bit in line.bits if bit.section == section]
    if bits and isfinite(at_m) and 0.0 <= at_m <= bits[0].to_m - bits[0].from_m + 1e-9:
        return
    known = ", ".join(bit.section for bit in line.bits if bit.section)
    yield Problem(
        slug="not-on-the-line",
        weight="error",
        at=None,
        what=f"{at_m:g} m in section {section} is not on the line from {line.start} to {line.end}.",
        why="Only readings along this line tell where on it the short is.",
        remedy=f"Its sections are {known}." if known else "No section of this line is in the book.",
    )


def _numbers(unit: str, value: float) -> Iterator[Problem]:
    if not isfinite(value) or abs(value) > MOST:
        yield Problem(
            slug="no-figure",
            weight="error",
            at=None,
            what=f"The reading has no figure in {unit}.",
            why="OL and a blank tell no distance.",
            remedy="Note it with the job instead; it weighs there.",
        )


def _current(amps: float) -> Iterator[Problem]:
    if not (isfinite(amps) and 0.0 < amps < MOST):
        yield Problem(
            slug="no-current",
            weight="error",
            at=None,
            what="Without the current through the lamp, millivolts tell no distance.",
            why="The distance is the millivolts over the current and the ohms of a metre.",
            remedy="Measure the lamp's current with a clamp or in series, in amperes.",
        )


def _warmth(celsius: float) -> Iterator[Problem]:
    if not COLDEST <= celsius <= WARMEST:
        yield Problem(
            slug="no-such-warmth",
            weight="error",
            at=None,
            what=f"A loom is not {celsius:g} degrees Celsius warm; 20 was taken.",
            why="Warm copper has more ohms to a metre.",
            remedy=f"Give degrees Celsius between {COLDEST:g} and {WARMEST:g}.",
        )
