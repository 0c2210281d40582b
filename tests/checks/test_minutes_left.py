"""The minutes that are promised, against jobs drawn from the belief and worked to their end."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.checks.policy import best_step
from backprobe.checks.table import Table

QUICK = {"look_ahead": 3, "candidates": 8, "depth": 2}
"""Followed less far than usual: whoever is followed, the minutes must hold."""


def drawn(rng):
    """A job with doubtful readings: ten suspects in seven groups, something outside the book."""
    stories, checks, groups = 10, 12, 7
    outcome = rng.dirichlet(np.full(3, 0.3), (checks, stories)).transpose(0, 2, 1)
    return (
        Table(
            seconds=np.exp(rng.uniform(np.log(2), np.log(15), checks)),
            outcome=outcome,
            group=np.append(rng.integers(0, groups, stories - 1), groups),
            repair=np.exp(rng.uniform(np.log(15), np.log(60), groups)),
            vain=30.0,
            escalate=180.0,
        ),
        np.append(rng.dirichlet(np.full(stories - 1, 0.7)) * 0.97, 0.03),
    )


def worked(table, mass, story, rng, plans):
    """Minutes until the hidden story is mended or handed on, doing what is proposed."""
    path, spent = (), 0.0
    while True:
        if path not in plans:
            plans[path] = best_step(table, mass, **QUICK)
        step = plans[path]
        if step.does == "stop":
            return spent + table.escalate
        if step.does == "repair":
            spent += table.repair[step.group]
            if table.group[story] == step.group:
                return spent
            mass = np.where(table.group == step.group, 0.0, mass)
            path += ((-1, step.group),)
        else:
            spent += table.seconds[step.check]
            shown = int(rng.choice(3, p=table.outcome[step.check, :, story]))
            mass = mass * table.outcome[step.check, shown]
            path += ((step.check, shown),)


def test_nine_in_ten_jobs_end_within_the_minutes_said_and_half_within_the_median():
    rng = np.random.default_rng(6)
    half, ninety, jobs = 0, 0, 0
    for _ in range(8):
        table, mass = drawn(rng)
        plans = {}
        said = best_step(table, mass, **QUICK).ends.within(0.5, 0.9)
        for story in rng.choice(mass.size, 60, p=mass):
            took = worked(table, mass, int(story), rng, plans)
            half, ninety, jobs = half + (took <= said[0]), ninety + (took <= said[1]), jobs + 1
    print(f"{half / jobs:.3f} within the median, {ninety / jobs:.3f} within the 90 % figure")
    assert 0.45 < half / jobs < 0.65
    assert 0.86 < ninety / jobs < 0.97


def test_minutes_of_repairs_alone_are_their_sums():
    """By hand: three suspects at 10, 20 and 40, mended in the order of chance by minute."""
    table = Table(
        seconds=np.array([1.0]),
        outcome=np.ones((1, 1, 4)),
        group=np.arange(4),
        repair=np.array([10.0, 20.0, 40.0]),
        escalate=500.0,
    )
    ends = best_step(table, np.array([0.4, 0.35, 0.2, 0.05])).ends
    assert ends.within(0.3, 0.7, 0.9, 0.99) == pytest.approx((10.0, 30.0, 70.0, 570.0))


def test_a_wrong_repair_while_the_fault_is_away_costs_a_visit():
    table = Table(
        seconds=np.array([1.0]),
        outcome=np.ones((1, 1, 3)),
        group=np.arange(3),
        repair=np.array([10.0, 20.0]),
        escalate=5000.0,
        gone=np.array([1.0, 1.0, 0.0]),
        comeback=240.0,
    )
    ends = best_step(table, np.array([0.6, 0.35, 0.05])).ends
    assert ends.within(0.5, 0.9) == pytest.approx((10.0, 30.0 + 240.0))
