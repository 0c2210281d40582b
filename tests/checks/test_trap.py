"""A fault that stays away is waited for before the job is handed on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from backprobe.book.situations import Situation
from backprobe.checks import plan as plan_room
from backprobe.checks.answer import findings_of
from backprobe.checks.draft import planned
from backprobe.checks.generate import from_scene
from backprobe.checks.layout import layout_of
from backprobe.checks.outcomes import places_of
from backprobe.checks.places import at_places, watched
from backprobe.checks.plan import plan
from backprobe.checks.scene import scene_of
from backprobe.checks.steps import cautions
from backprobe.checks.trap import CARD, CAUGHT, FOR_NOTHING, PARKED, TRAPS, trap
from backprobe.findings.fold import fold
from backprobe.findings.model import CodesFound, Failing, Mentioned, NotPossible, Provoked, Works
from checks import small_machine as small

BOOK = small.small_book()
LAYOUT = layout_of(BOOK, small.KINDS)
ON = Situation(key="on")
CODES = CodesFound(id="c", unit="ECU", stored=("157/4", "3509/4"), situation=ON)
AWAY = Failing(id="f", answer="gone", situation=ON)
BELIEF = small.believe(dict.fromkeys(range(1, 7), 1.0), sometimes=1.0, present=0.0)


@pytest.fixture(autouse=True)
def small_kinds(monkeypatch):
    monkeypatch.setattr(plan_room, "KINDS", small.KINDS)


def scene(*findings):
    return scene_of(LAYOUT, fold(findings, start=ON), small.small_defects(), BELIEF)


def only_trap(*findings):
    """The job with every other check not possible."""
    others = [c.id for c in from_scene(scene(*findings)) if c.does != "trap"]
    barred = [NotPossible(id=f"n{k}", check=ident) for k, ident in enumerate(others)]
    return fold((*findings, *barred), start=ON)


def test_none_while_it_fails_or_before_it_was_asked():
    assert not list(trap(scene(CODES)))
    assert not list(trap(scene(CODES, replace(AWAY, answer="yes"))))
    assert list(trap(scene(CODES, AWAY)))


def test_what_can_move_the_machine_is_named_at_the_step():
    travel = Works(id="w", target="travel", works=False, situation=Situation(key="run"))
    light = Works(id="w", target="work light", works=False, situation=ON)
    (moving,) = trap(scene(CODES, travel, AWAY))
    (still,) = trap(scene(CODES, light, AWAY))
    assert "may-move" in moving.hazards
    assert "may-move" not in still.hazards
    assert any("move the machine" in words for words, _ in cautions(moving))


def test_parts_are_provoked_several_in_one_go_and_none_again():
    def moved(*findings):
        found = [c for c in at_places(scene(*findings)) if c.does == "provoke"]
        parts = [set(places_of(c)) & set(BOOK.parts) for c in found if c.condition == "moved"]
        return [one for one in parts if len(one) > 1]

    first = moved(CODES, AWAY)[0]
    assert len(first) == 3
    done = Provoked(id="p", places=tuple(sorted(first)), condition="moved", situation=ON)
    assert not any(first & others for others in moved(CODES, AWAY, done))


def test_what_is_watched_is_what_the_complaint_was_about():
    travel = Works(id="t", target="travel", works=False, situation=Situation(key="run"))
    light = Works(id="w", target="work light", works=False, situation=ON)
    assert watched(scene(light, AWAY)) == "whether it works: work light"
    assert watched(scene(travel, AWAY)) == "the display value rail pressure"
    assert "157/4" in watched(scene(CODES, light, AWAY))


def test_comes_before_the_job_is_handed_on_and_says_what_to_leave():
    gone = replace(small.OPEN, state="gone")
    said = plan(BOOK, small.MadeUp(seed=3), only_trap(CODES, AWAY), BELIEF, gone)
    first = said.next[0]
    assert first.check.does == "trap"
    assert PARKED in first.steps
    assert first.steps[-1] == CARD
    assert "It will come again." in first.why
    assert [o.word for o in first.outcomes] == ["fails again", "stays away"]


def test_no_lamp_or_meter_is_left_on_a_units_lines():
    """157/4 is about the rail sensor: its 5 V and signal are the ECU's, the fused feed is not."""
    (check,) = trap(scene(CODES, AWAY))
    nodes = [t.node for t in scene(CODES, AWAY).near if not LAYOUT.sensitive(t.node)]
    assert check.setting
    assert "rail sensor pin 2" not in check.setting
    assert any(
        LAYOUT.net_at(node) not in LAYOUT.unfused and node.split(".")[0] in check.setting
        for node in nodes
    )


def test_after_it_the_fault_shows_and_is_measured():
    done = planned(BOOK, small.MadeUp(seed=3), fold([CODES, AWAY], start=ON), BELIEF)
    at = next(k for k, c in enumerate(done.checks) if c.does == "trap")
    here = done.shown[at].chance[0]
    assert here[len(done.stories.rows)] == pytest.approx(FOR_NOTHING)
    assert here[len(done.stories.rows) + 1 : -1] == pytest.approx(CAUGHT)
    assert done.table.turns[at].tolist()[:2] == [True, False]
    assert np.allclose(done.shown[at].chance.sum(axis=0), 1.0)


@pytest.mark.parametrize(("word", "answer"), [("fails again", "yes"), ("stays away", "gone")])
def test_whoever_comes_again_is_on_another_visit(word, answer):
    (check,) = trap(scene(CODES, AWAY))
    kept, failing = findings_of(check, fold([CODES, AWAY], start=ON), word=word)
    assert isinstance(kept, Mentioned)
    assert (kept.visit, kept.about) == (1, "trap")
    assert word in kept.words
    assert (failing.visit, failing.answer) == (2, answer)


def test_a_fault_that_never_comes_is_not_waited_for_for_ever():
    findings = [CODES, AWAY]
    for _ in range(TRAPS):
        (check,) = trap(scene(*findings))
        findings += findings_of(check, fold(findings, start=ON), word="stays away")
    assert not list(trap(scene(*findings)))
    gone = replace(small.OPEN, state="gone")
    said = plan(BOOK, small.MadeUp(seed=3), only_trap(*findings), BELIEF, gone)
    assert said.next[0].check.does in ("stop", "repair")
