"""The seconds of repairing in the best order: alone they are those of the full working, whatever is given."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from backprobe.checks.policy import best_step
from backprobe.checks.table import Table
from backprobe.checks.worth import repair_seconds, repairs


@pytest.mark.parametrize("dear", [np.inf, 10800.0])
def test_seconds_alone_are_those_of_the_working(dear):
    rng = np.random.default_rng(5)
    for priced, hidden, mended in product((False, True), repeat=3):
        for shape in ((), (7,), (3, 11), (0,)):
            masses = rng.random((6, *shape)) ** 4 * (rng.random((6, *shape)) > 0.3)
            masses[-1] *= 0.01 if dear < np.inf else 0.0
            repair = 600.0 + 6000.0 * rng.random((5, *(shape if priced else ())))
            away = masses * rng.random(masses.shape) if hidden else None
            others = 4000.0 * rng.random(5) if mended else None
            given = (masses, repair, dear, away, 9000.0, 1800.0 * rng.random(5), others)
            whole = repairs(*given).cost.min(axis=0)
            alone = repair_seconds(*given)
            assert alone.shape == whole.shape == shape
            np.testing.assert_allclose(alone, whole, rtol=1e-7, atol=1e-4)


def test_a_repair_is_priced_job_by_job():
    masses = np.array([[0.6, 0.6], [0.4, 0.4]])
    repair = np.array([[1000.0, 1000.0], [3000.0, 200.0]])
    # In the first job the first is mended first, in the second the second, which is open there.
    expected = [1000.0 + 0.4 * 3000.0, 200.0 + 0.6 * 1000.0]
    np.testing.assert_allclose(repair_seconds(masses, repair), expected)


def test_a_repair_after_a_check_is_that_with_its_places_open():
    rng = np.random.default_rng(3)
    table = Table(
        seconds=np.full(4, 60.0),
        outcome=rng.random((4, 2, 3)),
        group=np.array([2, 0, 1]),
        repair=np.array([900.0, 1800.0, 2400.0]),
        opens=rng.random((4, 5)) > 0.5,
        spared_s=np.where(np.arange(5) % 2, 100.0, 0.0) * rng.random((3, 5)),
    )
    is_open = rng.random((6, 5)) > 0.5
    after = table.repair_after(is_open)
    assert after.shape == (3, 6, 8)
    for job, row in product(range(6), range(8)):
        then = is_open[job] | table.opens[row // 2]
        expected = table.repair - table.spared_s @ then
        np.testing.assert_allclose(after[:, job, row], expected)
        np.testing.assert_allclose(table.repair_at(then[None])[:, 0], expected)


def test_a_step_is_found_where_nothing_mends_what_is_suspected():
    table = Table(
        seconds=np.array([60.0]),
        outcome=np.array([[[0.9, 0.2], [0.1, 0.8]]]),
        group=np.array([1, 1]),
        repair=np.array([900.0]),
        escalate=10800.0,
        vain=np.array([1800.0]),
        others=np.array([900.0]),
    )
    step = best_step(table, np.array([0.5, 0.5]))
    assert step.does == "stop"
    assert step.left_s == pytest.approx(10800.0)
