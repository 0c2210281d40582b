"""A lamp in place of a fuse burns hot and may feed a short: that is said at the step, and nothing that
forbids the step (common practice, no source)."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.checks.at_step import cautions_at
from backprobe.checks.generate import from_scene
from backprobe.checks.layout import layout_of
from backprobe.checks.scene import scene_of
from backprobe.checks.steps import STAYS_OUT, steps
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.kinds import KINDS
from backprobe.kinds.hazards import HAZARDS
from backprobe.shop.demo import JOBS, book_text
from backprobe.suspects.weigh import weigh


@pytest.fixture(scope="module")
def lamps():
    """The demo job whose F5 blew: its layout and job, and every lamp that is proposed there."""
    book, problems = read_book(book_text("tracked-dumper"))
    assert book is not None, problems
    circuit = Circuit.of(book)
    job = fold(JOBS[2].arrival)
    scene = scene_of(layout_of(book, KINDS), job, circuit.defects, weigh(book, circuit, job))
    lit = [
        check
        for check in from_scene(scene)
        if any(lead.kind.startswith("lamp") for lead in check.situation.fitted)
    ]
    return scene.layout, job, lit


def test_whoever_fits_a_lamp_is_told_that_it_burns(lamps):
    layout, job, checks = lamps
    assert checks
    for check in checks:
        told = steps(layout, job, check)
        fit = next(k for k, step in enumerate(told) if step.startswith("Fit a "))
        before = cautions_at(check.hazards, told)[fit]
        assert HAZARDS["hot-lamp"].words in dict(before), check.id


def test_a_lamp_in_place_of_a_fuse_is_no_bridge_and_the_fuse_waits_for_the_repair(lamps):
    layout, job, checks = lamps
    instead = [check for check in checks if "F5" in check.situation.pulled]
    assert instead
    for check in instead:
        assert {"hot-lamp", "fire"} <= set(check.hazards)
        assert "fuse-rating" not in check.hazards
        last = steps(layout, job, check)[-1]
        assert f"F5 {STAYS_OUT}" in last
        assert "put F5 back" not in last
