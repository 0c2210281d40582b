"""Every caution of a check stands before the step it is for, once, and no cranking goes without.

That cautions come before the step they belong to is the rule of technical manuals (from memory:
ANSI Z535.6, MIL-STD-40051).
"""

from __future__ import annotations

import inspect
from dataclasses import replace

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks import at_step, places, proving, ranging_steps
from backprobe.checks import steps as steps_module
from backprobe.checks.at_step import BEGINS, cautions_at
from backprobe.checks.generate import from_scene
from backprobe.checks.layout import layout_of
from backprobe.checks.mending import heavy
from backprobe.checks.scene import scene_of
from backprobe.checks.steps import LIFTED_FIRST, NEW_FUSES, steps
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
def proposed_scene():
    """The demo machine that does not crank."""
    book, problems = read_book(book_text("tracked-dumper"))
    assert book is not None, problems
    circuit = Circuit.of(book)
    job = fold(
        [Failing(answer="yes"), Works(target="engine cranks", works=False)],
        start=Situation(key="off"),
    )
    return scene_of(layout_of(book, KINDS), job, circuit.defects, weigh(book, circuit, job))


@pytest.fixture(scope="module")
def proposed(proposed_scene):
    """Its layout and job, and every check that is generated."""
    return proposed_scene.layout, proposed_scene.job, tuple(from_scene(proposed_scene))


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


def test_leads_are_placed_before_the_engine_turns(proposed):
    """Hands are out of the way when belts and fan move (common practice, no source)."""
    layout, job, checks = proposed
    seen = 0
    for check in checks:
        told = steps(layout, job, check)
        turns = [k for k, step in enumerate(told) if step.startswith(("A second", "Start the"))]
        placed = [k for k, step in enumerate(told) if step.startswith(("Meter on", "Clamp on"))]
        if turns and placed:
            assert placed[0] < turns[0], told
            seen += 1
    assert seen


def test_a_repair_mends_before_it_puts_back_and_minus_comes_on_last(proposed):
    """Minus off first and on last: HSE INDG139, which the caution for batteries names."""
    layout, _, checks = proposed
    repair = replace(
        checks[0], id="repair x", does="repair", target="x", words="Mend x and prove it",
        situation=Situation(key="off"), opens=(), probe=None, hazards=("unplug-live",),
    )  # fmt: skip
    now = Situation(key="off", unplugged=frozenset({"X4"}), battery_off=True)
    assert steps(layout, fold([], start=now), repair) == (
        "Key stays off.",
        "Mend x.",
        "Plug X4 back.",
        "Battery minus back on, wait 30 seconds.",
        NEW_FUSES,
    )
    heavy = replace(repair, hazards=("unplug-live", "battery-gas", "short-circuit"))
    told = steps(layout, fold([], start=Situation(key="on")), heavy)
    assert told == ("Key off.", LIFTED_FIRST, "Mend x.", NEW_FUSES)
    assert [len(one) for one in cautions_at(heavy.hazards, told)] == [1, 2, 0, 0]


@pytest.mark.parametrize(
    ("key", "live"),
    [
        ("lugs at starter", True),
        ("starter", True),
        ("engine strap", True),
        ("beacon", False),
        ("wire 35a", False),
    ],
)
def test_work_on_unfused_copper_lifts_the_minus_first(proposed_scene, key, live):
    found = [group.key for group in proposed_scene.defects.groups if group.key.startswith(key)]
    assert found
    assert bool(heavy(proposed_scene, found[0])) == live


def test_the_beginnings_are_those_of_steps() -> None:
    """A step that is worded anew must be found again."""
    told = (steps_module, ranging_steps, places, proving)
    said = "".join((*map(inspect.getsource, told), at_step.PROVE)).lower()
    known = {begin for begins in BEGINS.values() for begin in begins}
    assert {begin for begin in known if begin.lower() not in said} == set()
