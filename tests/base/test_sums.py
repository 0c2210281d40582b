"""Sums of what is known by its logarithm."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import logsumexp

from backprobe.base.sums import log_sum


@pytest.mark.parametrize("shape", [(1,), (2,), (7,), (6213,), (32, 31)])
def test_it_is_scipys_to_the_last_digit(shape: tuple[int, ...]) -> None:
    rng = np.random.default_rng(5)
    for spread in (1e-9, 1.0, 40.0, 900.0):
        logs = rng.normal(0.0, spread, shape)
        logs[rng.random(shape) < 0.2] = -np.inf
        logs[rng.random(shape) < 0.2] = logs.max()
        assert (log_sum(logs) == logsumexp(logs, axis=-1)).all()


def test_nothing_at_all_has_no_logarithm() -> None:
    assert log_sum(np.full(3, -np.inf)) == -np.inf
