"""Every caution of a check stands before the step it is for, once, and no cranking goes without.

That cautions come before the step they belong to is the rule of technical manuals (from memory:
ANSI Z535.6, MIL-STD-40051).
"""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.at_step import cautions_at
from backprobe.checks.generate import from_scene
from backprobe.checks.layout import layout_of
from backprobe.checks.scene import scene_of
from backprobe.checks.steps import steps
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Failing, Works
from backprobe.kinds import KINDS
from backprobe.kinds.hazards import HAZARDS
from backprobe.shop.demo import book_text
from backprobe.suspects.weigh import weigh

PLACES = {
    "unplug-live": ("Key off, wait", "Key stays off", "Unplug", "Pull", "Put"),
    "ohms-live": ("Meter on ohm", "Meter on continuity"),
    "battery-gas": ("Lift the battery minus",),
    "battery-off-running": ("Lift the battery minus",),
    "no-piercing": ("Meter on", "Clamp on"),
    "crank-limit": ("A second person cranks",),
    "fumes": ("Start the engine",),
}
"""The step a man does just after he should have read it. Judgement."""


@pytest.fixture(scope="module")
def proposed():
    """Every check that is generated for the demo machine that does not crank, and its layout."""
    book, problems = read_book(book_text("tracked-dumper"))
    assert book is not None, problems
    circuit = Circuit.of(book)
    job = fold(
        [Failing(answer="yes"), Works(target="engine cranks", works=False)],
        start=Situation(key="off"),
    )
    layout = layout_of(book, KINDS)
    scene = scene_of(layout, job, circuit.defects, weigh(book, circuit, job))
    return layout, job, tuple(from_scene(scene))


def test_every_caution_stands_once_before_the_step_it_is_for(proposed):
    layout, job, checks = proposed
    seen = set()
    for check in checks:
        told = steps(layout, job, check)
        before = cautions_at(check.hazards, told)
        assert len(before) == len(told)
        said = [words for one in before for words, _ in one]
        assert sorted(said) == sorted(HAZARDS[slug].words for slug in check.hazards)
        for slug, begins in PLACES.items():
            if slug not in check.hazards or not any(step.startswith(begins) for step in told):
                continue
            at = next(k for k, one in enumerate(before) if HAZARDS[slug].words in dict(one))
            assert told[at].startswith(begins), (check.id, slug, told)
            seen.add(slug)
    assert {"unplug-live", "ohms-live", "battery-gas", "no-piercing", "crank-limit"} <= seen


def test_no_cranking_goes_without_its_caution(proposed):
    _, _, checks = proposed
    cranking = [check for check in checks if check.situation.key == "crank"]
    assert cranking
    assert all("crank-limit" in check.hazards for check in cranking)


def test_what_belongs_to_no_step_is_said_first():
    before = cautions_at(("hot-parts", "crank-limit"), ("Get to K2.", "Pull K2."))
    assert [len(one) for one in before] == [2, 0]
    assert cautions_at(("hot-parts",), ()) == ()
