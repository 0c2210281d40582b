"""Where a reading is cut into outcomes, and how likely each is (compiled)."""

from __future__ import annotations

from math import erfc, log, sqrt
from typing import NamedTuple

import numpy as np

from backprobe.circuit.compiled import compiled, inner, making
from backprobe.defects.model import Flags, Floats, Ints

BINS = 4
GAP = 2.0
"""Neighbouring readings are told apart when their distance exceeds this many of the sum of
their sigmas: four sigmas when both are alike."""
LEAST = 0.005
"""A bin that holds less of the chance than this is not worth a line."""
TENTH, NINTH = 0.1, 0.9
"""Most of a bin lies between these shares of it."""


class Read(NamedTuple):
    """Readings of c checks (c, n). `order`: the `weighed` (c,) that have a weight first, rising;
    `share`: how much of it lies up to each."""

    y: Floats
    sigma: Floats
    order: Ints
    weighed: Ints
    share: Floats
    steady: Flags


class Bins(NamedTuple):
    """How many bins a check has (c,); their edges (c, BINS + 1), outermost -inf and inf; the chance
    of each (c, BINS, n); what most of a bin reads from and to (c, BINS, 2)."""

    many: Ints
    edges: Floats
    chance: Floats
    middle: Floats


def binned(y: Floats, sigma: Floats, weight: Floats, steady: Flags) -> Bins:
    """Readings of c checks (c, n) with their sigmas and weights in at most BINS bins each; a bin is as
    likely as any other where a reading is not `steady`.

    They are cut at their clear gaps, wider than GAP times the sum of the neighbours' sigmas. Of these
    the ones that split the weight best are taken, none that leaves a bin without a real share of it.
    """
    weighed = weight > 0.0
    order = np.argsort(np.where(weighed, y, np.inf), axis=1, kind="stable")
    share = np.cumsum(np.take_along_axis(weight, order, axis=1), axis=1)
    many, count = y.shape
    bins = Bins(
        np.empty(many, np.int64),
        np.empty((many, BINS + 1)),
        np.zeros((many, BINS, count)),
        np.empty((many, BINS, 2)),
    )
    each = Read(y, sigma, order, weighed.sum(axis=1), share / share[:, -1:], steady)
    sort_into(each, bins)
    return bins


@compiled
def sort_into(read: Read, bins: Bins) -> None:
    """Fills in what binned() answers."""
    for c in range(len(read.y)):
        bins.many[c] = sorted_into(
            read.y[c],
            read.sigma[c],
            read.order[c, : read.weighed[c]],
            read.share[c],
            read.steady[c],
            bins.edges[c],
            bins.chance[c],
            bins.middle[c],
        )


@making
def sorted_into(
    y: Floats,
    sigma: Floats,
    order: Ints,
    share: Floats,
    steady: Flags,
    edges: Floats,
    chance: Floats,
    middle: Floats,
) -> int:
    """One check; how many bins there are. `order`: the readings with a weight, rising."""
    cuts = np.empty(len(edges) - 2, np.int64)
    many = cut_well(y, sigma, order, share, cuts)
    bins, begin = many + 1, 0
    edges[0], edges[bins] = -np.inf, np.inf
    for b in range(bins):
        end = len(order)
        if b < many:
            end = cuts[b] + 1
            here, there = order[end - 1], order[end]
            edges[b + 1] = y[here] + (y[there] - y[here]) * sigma[here] / (
                sigma[here] + sigma[there]
            )
        spanned(y, sigma, order, share, begin, end, middle[b])
        for c in range(2):
            middle[b, c] = min(max(middle[b, c], edges[b]), edges[b + 1])
        begin = end
    for n in range(len(y)):
        below = 0.0
        for b in range(bins):
            upto = 1.0 if b == many else 0.5 * erfc((y[n] - edges[b + 1]) / (sigma[n] * sqrt(2.0)))
            chance[b, n] = upto - below if steady[n] else 1.0 / bins
            below = upto
    return bins


@inner
def cut_well(y: Floats, sigma: Floats, order: Ints, share: Floats, cuts: Ints) -> int:
    """The best cuts, each after the reading of this place in the order, rising; how many there are."""
    many = 0
    while many < len(cuts):
        best, best_gain = -1, 0.0
        for cut in range(len(order) - 1):
            here, there = order[cut], order[cut + 1]
            gap, both = y[there] - y[here], sigma[here] + sigma[there]
            if not gap > GAP * both:
                continue
            lower, upper, taken = 0.0, 1.0, False
            for c in cuts[:many]:
                taken |= c == cut
                if c < cut:
                    lower = max(lower, share[c])
                elif c > cut:
                    upper = min(upper, share[c])
            least = min(share[cut] - lower, upper - share[cut])
            gain = least * (1.0 + 0.05 * log(gap / both))
            if not taken and least >= LEAST and gain > best_gain:
                best, best_gain = cut, gain
        if best < 0:
            break
        at = many
        while at and cuts[at - 1] > best:
            cuts[at] = cuts[at - 1]
            at -= 1
        cuts[at] = best
        many += 1
    return many


@inner
def spanned(
    y: Floats, sigma: Floats, order: Ints, share: Floats, begin: int, end: int, span: Floats
) -> None:
    """What most of a bin reads from and to; it holds the readings order[begin:end]."""
    before = share[begin - 1] if begin else 0.0
    whole = share[end - 1] - before
    first, last = begin, begin
    while first < end - 1 and share[first] - before < TENTH * whole:
        first += 1
    while last < end - 1 and share[last] - before < NINTH * whole:
        last += 1
    span[0], span[1] = y[order[first]], y[order[last]]
    if first == last:
        span[0] -= sigma[order[first]]
        span[1] += sigma[order[last]]
