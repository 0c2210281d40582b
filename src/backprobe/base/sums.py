"""Sums of what is known by its logarithm."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def log_sum(logs: Floats) -> Floats:
    """(...,) natural log of the sum of exponentials over the last axis (..., n): scipy's logsumexp of
    numbers as they are, without its tenth of a millisecond of looking at what it was given."""
    top: Floats = logs.max(axis=-1, keepdims=True)
    first = logs == top
    rest = logs.copy()
    rest[first] = -np.inf
    many = first.sum(axis=-1, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        more = np.exp(rest - top).sum(axis=-1)
        more = np.where(more == 0.0, more, more / many)
        total: Floats = np.log1p(more) + np.log(many) + top[..., 0]
        if not np.isfinite(total).all():
            total = np.where(np.isfinite(total), total, np.log(np.exp(logs).sum(axis=-1)))
    return total
