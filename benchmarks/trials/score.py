"""Figures from records: shares with their bounds, minutes side by side, calibration."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import log, sqrt

import numpy as np

Record = Mapping[str, object]
Z = 1.959964
"""Two-sided 95 %."""
FEW = 30
"""Trials below which a figure is marked as resting on too few."""


def wilson(hits: int, of: int, z: float = Z) -> tuple[float, float]:
    """The interval of a share (Wilson 1927), 0 to 1 when there are no trials."""
    if not of:
        return 0.0, 1.0
    share, square = hits / of, z * z
    middle = (share + square / (2 * of)) / (1 + square / of)
    half = z * sqrt(share * (1 - share) / of + square / (4 * of * of)) / (1 + square / of)
    return max(0.0, middle - half), min(1.0, middle + half)


@dataclass(frozen=True)
class Share:
    """So many of so many."""

    hits: int
    of: int

    @property
    def low(self) -> float:
        """Lower bound, 95 %."""
        return wilson(self.hits, self.of)[0]


def share(records: Iterable[Record], holds: Callable[[Record], bool]) -> Share:
    """How many records something holds for."""
    told = [holds(record) for record in records]
    return Share(sum(told), len(told))


def mean(records: Iterable[Record], name: str) -> float:
    """Mean of a figure, NaN of none."""
    figures = [_number(record, name) for record in records]
    return float(np.mean(figures)) if figures else float("nan")


@dataclass(frozen=True)
class Ratio:
    """Mean minutes of the proposals over those of a baseline on the same cases. `high`: 95 % upper
    bound by resampling the cases."""

    ours: float
    theirs: float
    cases: int
    high: float

    @property
    def value(self) -> float:
        """Ours over theirs."""
        return self.ours / self.theirs if self.theirs else float("nan")


def case_of(record: Record) -> tuple[object, ...]:
    """Which case a record is about."""
    return tuple(record[name] for name in ("seed", "number", "stratum", "mode"))


def against(records: Sequence[Record], policy: str) -> Ratio:
    """The proposals against a baseline, on the cases that both worked."""
    ours = {case_of(r): _number(r, "minutes") for r in records if r["policy"] == "proposals"}
    pairs = np.array(
        [
            (ours[case_of(r)], _number(r, "minutes"))
            for r in records
            if r["policy"] == policy and case_of(r) in ours
        ],
        float,
    ).reshape(-1, 2)
    if not len(pairs):
        return Ratio(float("nan"), float("nan"), 0, float("nan"))
    drawn = np.random.default_rng(1).integers(0, len(pairs), (2000, len(pairs)))
    sums = pairs[drawn].sum(axis=1)
    high = float(np.quantile(sums[:, 0] / sums[:, 1], 0.95))
    return Ratio(float(pairs[:, 0].mean()), float(pairs[:, 1].mean()), len(pairs), high)


@dataclass(frozen=True)
class Reliability:
    """Claims of the leading suspect in ten bins: claimed, held, how many; `error`: the mean gap
    weighted by how many, `perfect`: what it would be on average if every chance were exactly right
    (the mean size of a normal error in each bin); `log_score`: mean natural log of the chance given
    to the truth."""

    claimed: tuple[float, ...]
    held: tuple[float, ...]
    count: tuple[int, ...]
    error: float
    perfect: float
    log_score: float


def reliability(records: Sequence[Record]) -> Reliability:
    """From cheap trials."""
    claim = np.array([_number(r, "leading") for r in records])
    right = np.array([bool(r["right"]) for r in records], float)
    place = np.minimum((claim * 10).astype(int), 9)
    count = np.bincount(place, minlength=10)
    some = np.maximum(count, 1)
    claimed = np.bincount(place, claim, 10) / some
    held = np.bincount(place, right, 10) / some
    error = float((count * np.abs(claimed - held)).sum() / max(1, count.sum()))
    noise = np.sqrt(np.bincount(place, claim * (1.0 - claim), 10)).sum()
    scores = [log(max(_number(r, "chance"), 1e-12)) for r in records]
    return Reliability(
        tuple(claimed), tuple(held), tuple(int(c) for c in count), error,
        float(sqrt(2.0 / np.pi) * noise / max(1, count.sum())),
        float(np.mean(scores)) if scores else float("nan"),
    )  # fmt: skip


def _number(record: Record, name: str) -> float:
    value = record[name]
    assert isinstance(value, int | float), (name, value)
    return float(value)
