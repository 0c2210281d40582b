"""Which path stands in which column: short bars, few crossings, no path through a foreign box."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from backprobe.web.pictures.paths import Net, Path

CROSSED: Final = 4.0
"""A path across a splice bar, against one column of bar length."""
SPLIT: Final = 15.0
"""A path that would cut a box in two."""
PUSHED: Final = 6.0
"""Two bars in each other's way, so that one moves down."""
SWEEPS: Final = 6
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spans:
    """Heights before columns are known: where bars and paths begin and end, px."""

    bars: Mapping[str, tuple[float, float]]
    paths: Sequence[tuple[float, float]]


def tracks_of(net: Net) -> tuple[tuple[Path, ...], ...]:
    """Paths that run on into each other through a bar and so share a column."""
    after: dict[int, Path] = {}
    heads = {path.number for path in net.paths}
    for bar in net.bars:
        ins = [path for path in net.paths if path.bottom == bar]
        outs = [path for path in net.paths if path.top == bar]
        for one, other in zip(ins, outs, strict=False):
            after[one.number] = other
            heads.discard(other.number)
    found = []
    for path in net.paths:
        if path.number in heads:
            track = [path]
            while track[-1].number in after:
                track.append(after[track[-1].number])
            found.append(tuple(track))
    return tuple(found)


def column_of(net: Net, spans: Spans) -> dict[int, int]:
    """The column of every path, by its number. Deterministic local search from a first order that
    follows the paths down."""
    tracks = tracks_of(net)
    if not tracks:
        return {}
    track_of = {path.number: t for t, track in enumerate(tracks) for path in track}
    cost = _Cost(net, spans, track_of, len(tracks))
    best = _first(net, track_of, len(tracks))
    least = cost(best)
    for _ in range(SWEEPS):
        before = least
        for track in range(len(tracks)):
            rest = [t for t in best if t != track]
            for place in range(len(tracks)):
                order = [*rest[:place], track, *rest[place:]]
                now = cost(order)
                if now < least - 1e-9:
                    best, least = order, now
        for one in range(len(tracks)):
            for other in range(one + 1, len(tracks)):
                order = [*best[:one], *best[one : other + 1][::-1], *best[other + 1 :]]
                now = cost(order)
                if now < least - 1e-9:
                    best, least = order, now
        if least >= before - 1e-9:
            break
    place_of = {track: place for place, track in enumerate(best)}
    return {number: place_of[track] for number, track in track_of.items()}


def _first(net: Net, track_of: Mapping[int, int], count: int) -> list[int]:
    order: dict[int, None] = {}

    def down(bar: str, seen: set[str]) -> None:
        if bar in seen:
            return
        seen.add(bar)
        for path in net.paths:
            if path.top == bar:
                order.setdefault(track_of[path.number])
                down(path.bottom, seen)

    done: set[str] = set()
    for bar in net.bars:
        down(bar, done)
    return [*order, *(t for t in range(count) if t not in order)]


class _Cost:
    """What an order of the tracks costs."""

    def __init__(self, net: Net, spans: Spans, track_of: Mapping[int, int], count: int) -> None:
        bars, paths = net.bars, net.paths
        self.count = count
        self.touch = np.zeros((len(bars), count), bool)
        foreign = np.zeros((len(bars), len(paths)), bool)
        for b, bar in enumerate(bars):
            top, bottom = spans.bars[bar]
            for p, path in enumerate(paths):
                mine = bar in (path.top, path.bottom)
                if mine:
                    self.touch[b, track_of[path.number]] = True
                y0, y1 = spans.paths[p]
                foreign[b, p] = not mine and y0 < bottom and y1 > top
        self.track = np.array([track_of[path.number] for path in paths], np.int64)
        weight = np.array([CROSSED if net.pieces[b].shape == "splice" else SPLIT for b in bars])
        self.foreign = foreign * weight[:, None]
        tops = np.array([spans.bars[bar] for bar in bars]).reshape(-1, 2)
        meets = (tops[:, None, 0] < tops[None, :, 1]) & (tops[None, :, 0] < tops[:, None, 1])
        self.meets = np.triu(meets, 1) * PUSHED

    def __call__(self, order: Sequence[int]) -> float:
        place = np.empty(self.count)
        place[list(order)] = np.arange(self.count)
        low = np.where(self.touch, place, np.inf).min(axis=1)
        high = np.where(self.touch, place, -np.inf).max(axis=1)
        at = place[self.track]
        inside = (at > low[:, None]) & (at < high[:, None])
        meets = (low[:, None] <= high[None, :]) & (low[None, :] <= high[:, None])
        return float(
            (high - low).sum() + (inside * self.foreign).sum() + (meets * self.meets).sum()
        )
