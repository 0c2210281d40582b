"""The readings of a ranging as one linear model, for every place of the short at once.

A row's mean is linear in the ohms of each wire, of each joint and of the short; their errors are
shared by the rows. So rows are jointly normal, given which joints are poor, how good the short is
and which row is wrong; these few patterns are summed over. Shapes: G places, n rows, W wires, J
joints.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import hypot, log, log1p, pi, sqrt

import numpy as np
from scipy.special import logsumexp, ndtr

from backprobe.base.copper import TEMPERATURE_COEFFICIENT
from backprobe.defects.model import Floats
from backprobe.kinds.rates import SHORT_CELLS
from backprobe.suspects.line import Line, Point
from backprobe.suspects.meters import METERS, MILLIOHM_OVERLOAD

VOLT_FLOOR, VOLT_SHARE = 0.0003, 0.01
"""A meter with a 0.1 mV digit: 3 digits and 1 %. Handheld meters' data sheets, from memory."""
OHM_SHARE = 0.02
"""A four-wire milliohm meter, above its floor. Data sheets, from memory."""
SIZE_SHARE = 0.04
"""Copper in a wire against its size: makers use less than IEC 60228 allows. Judgement."""
WARM_K = 12.0
"""How far the loom may be from the temperature that was told, kelvin. Judgement."""
SLACK, GUESSED = 0.03, 0.2
"""Metres of wire to a metre of loom, and of a length nobody typed. Judgement."""
ENDS_M = 0.02
"""From where to where a probe's metres count: pigtails, the back of a plug. Judgement."""
HEALTHY_SPREAD = 0.5
BAD_TIMES, BAD_SPREAD, BAD_CHANCE = 10.0, 6.0, 0.1
"""A joint in healthy ohms: its spread; how poor a poor one is, its spread, how often. Judgement."""
MOST_BAD = 2
"""So many poor joints on one line are thought of at once."""
WRONG = 0.04
"""A reading that has nothing to do with these places. Judgement: practice says 5 to 8 % of all
readings, and fewer of those taken one after the other along one line."""
AGAIN = 0.05
"""A short is not the same at the next touch: share of its ohms. Judgement."""
SHORT_LOW, SHORT_STEP, SHORT_COUNT = 0.0005, 2.0, 16
"""Ohms of the best short, and the steps of a mixture of normals up to what the meter shows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A row. `wire` (G, W) and `joint` (G, J): its value to an ohm of the wires as the book has
    them (W: per unit of their ohms) and of the joints; `short`: 1 when it sees the short; `anything`:
    density of a figure from elsewhere."""

    value: float
    wire: Floats
    joint: Floats
    short: float
    floor: float
    share: float
    amps: float
    amps_share: float
    anything: float


def passes(source: Point, here: Point, at_m: Floats, *, blur_m: float = 1e-4) -> Floats:
    """(G,) chance that the current from `source` passes a place on its way into a short."""
    beyond: Floats = ndtr((at_m - here.at_m) / blur_m)
    if (here.at_m, here.joints) >= (source.at_m, source.joints):
        return beyond
    return 1.0 - beyond


def measured(
    line: Line,
    at_m: Floats,
    *,
    span: tuple[Point, Point] | None,
    source: Point | None,
    value: float,
    times: float,
    amps: float = 0.0,
    amps_share: float = 0.0,
) -> Measured:
    """A row of the table. `span`: between which places (None: from `source` to the short);
    `source`: where the current enters (None: it runs all along the span); `times`: the reading to
    an ohm of copper at 20 C; `amps` 0 for an ohmmeter."""
    edges = np.array(line.edges_m)
    near, far = sorted(span, key=lambda p: (p.at_m, p.joints)) if span else (None, None)
    low = np.full(at_m.size, near.at_m if near else 0.0)
    high = np.full(at_m.size, far.at_m if far else line.length_m)
    number = np.arange(len(line.joints))
    crossed = np.ones((at_m.size, number.size))
    if near and far:
        crossed *= (number >= near.joints) & (number < far.joints)
    if source:
        low = np.maximum(low, np.minimum(source.at_m, at_m))
        high = np.minimum(high, np.maximum(source.at_m, at_m))
        place = np.array([joint.at_m for joint in line.joints])
        onward = at_m[:, None] > source.at_m
        crossed *= np.where(
            onward,
            (number >= source.joints) & (place < at_m[:, None]),
            (number < source.joints) & (place > at_m[:, None]),
        )
    metres = np.minimum(high[:, None], edges[1:]) - np.maximum(low[:, None], edges[:-1])
    wire: Floats = np.maximum(metres, 0.0) * np.array(line.ohm_per_m) * times
    flow = amps or 1.0
    most = 1.5 * (line.length_m * max(line.ohm_per_m) * times + 0.02 * flow)
    meter = METERS["milliohm meter"]
    spread_out = 1.0 / (max(value, meter.floor) * log(MILLIOHM_OVERLOAD / meter.floor))
    return Measured(
        value=value,
        wire=wire,
        joint=crossed * flow,
        short=0.0 if span else 1.0,
        floor=hypot(VOLT_FLOOR if amps else meter.floor, ENDS_M * max(line.ohm_per_m) * times),
        share=VOLT_SHARE if amps else OHM_SHARE,
        amps=amps,
        amps_share=amps_share,
        anything=(1.0 / most if value <= most else 0.01 / most) if amps else spread_out,
    )


def log_likelihoods(line: Line, rows: Sequence[Measured], count: int) -> Floats:
    """(n + 1, G) ln chance of all rows: none wrong, and each of them wrong."""
    n = len(rows)
    found = np.full((n + 1, count), -np.inf)
    found[0] = n * log1p(-WRONG) if n else 0.0
    if not n:
        return found
    patterns = list(_patterns(line, rows))
    for wrong in range(n + 1):
        kept = [row for number, row in enumerate(rows) if number != wrong - 1]
        odds = (n - bool(wrong)) * log1p(-WRONG)
        if wrong:
            odds += log(WRONG) + log(rows[wrong - 1].anything)
        parts = [lean + _joint_normal(line, kept, *pattern) for lean, pattern in patterns]
        found[wrong] = odds + (logsumexp(parts, axis=0) if kept else 0.0)
    return found


def _patterns(
    line: Line, rows: Sequence[Measured]
) -> Iterator[tuple[float, tuple[frozenset[int], float, float]]]:
    """Which joints are poor, ohms of the short and their spread, with ln chance."""
    on_the_way = [j for j in range(len(line.joints)) if any(row.joint[:, j].any() for row in rows)]
    shorts = _shorts() if any(row.short for row in rows) else [(0.0, 0.0, 0.0)]
    for bad in range(min(MOST_BAD, len(on_the_way)) + 1):
        lean = bad * log(BAD_CHANCE) + (len(on_the_way) - bad) * log1p(-BAD_CHANCE)
        for poor in combinations(on_the_way, bad):
            for chance, ohm, sd in shorts:
                yield lean + chance, (frozenset(poor), ohm, sd)


def _shorts() -> list[tuple[float, float, float]]:
    """The resistance of a short as a mixture of normals: ln chance, ohm, standard deviation."""
    ohm = SHORT_LOW * SHORT_STEP ** np.arange(SHORT_COUNT)
    half = sqrt(SHORT_STEP)
    weight = sum(
        cell.weight
        * (
            ndtr(np.log(ohm * half / cell.ohm) / log(cell.spread))
            - ndtr(np.log(ohm / half / cell.ohm) / log(cell.spread))
        )
        for cell in SHORT_CELLS
    )
    weight = weight / weight.sum()
    sd = ohm * (half - 1.0 / half) / 2.0
    return [(float(np.log(w)), float(o), float(s)) for w, o, s in zip(weight, ohm, sd, strict=True)]


def _joint_normal(
    line: Line, rows: Sequence[Measured], poor: frozenset[int], ohm: float, ohm_sd: float
) -> Floats:
    """(G,) ln density of the rows for one pattern."""
    if not rows:
        return np.zeros(1)
    sound = np.array([joint.ohm for joint in line.joints])
    bad = np.isin(np.arange(sound.size), list(poor))
    mean_ohm = sound * np.where(bad, BAD_TIMES, 1.0)
    sd_ohm = sound * np.where(bad, BAD_SPREAD, HEALTHY_SPREAD)
    wire = np.stack([row.wire for row in rows], axis=1)  # (G, n, W)
    joint = np.stack([row.joint for row in rows], axis=1)  # (G, n, J)
    short = np.array([row.short for row in rows])
    copper = wire.sum(axis=2)
    mean = copper + joint @ mean_ohm + short * ohm
    own = np.array([row.floor for row in rows]) ** 2
    own = own + (np.array([row.share for row in rows]) * mean) ** 2 + (AGAIN * short * ohm) ** 2
    cov = own[:, :, None] * np.eye(len(rows))
    alike = sqrt(SIZE_SHARE**2 + (WARM_K * TEMPERATURE_COEFFICIENT) ** 2)
    cov = cov + _outer(copper * alike)
    for number, guessed in enumerate(line.assumed):
        cov = cov + _outer(wire[:, :, number] * (GUESSED if guessed else SLACK))
    cov = cov + np.einsum("gij,gkj,j->gik", joint, joint, sd_ohm**2)
    cov = cov + ohm_sd**2 * np.outer(short, short)
    for amps in {row.amps for row in rows if row.amps}:
        share = np.array([row.amps_share if row.amps == amps else 0.0 for row in rows])
        cov = cov + _outer(mean * share)
    off = np.array([row.value for row in rows]) - mean
    root = np.linalg.cholesky(cov)
    white = np.linalg.solve(root, off[:, :, None])[:, :, 0]
    size = np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
    density: Floats = -0.5 * (white**2).sum(axis=1) - size - 0.5 * len(rows) * log(2.0 * pi)
    return density


def _outer(column: Floats) -> Floats:
    product: Floats = column[:, :, None] * column[:, None, :]
    return product
