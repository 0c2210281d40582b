"""What a repair ended costs its proof, what the book does not know costs handing on. By hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from backprobe.book.situations import Situation
from backprobe.checks import draft as draft_room
from backprobe.checks import plan as plan_room
from backprobe.checks.cost import BY_CLASS
from backprobe.checks.draft import ESCALATE_S, NEVER_S, planned
from backprobe.checks.plan import plan
from backprobe.checks.stories import MENDED, stories_of
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, Failing, NotPossible
from checks import small_machine as small

BOOK, DEFECTS = small.small_book(), small.small_defects()
ON = Situation(key="on")
FAILS = Failing(id="f", answer="yes", situation=ON)
DONE = Act(id="m", act="repaired", target="hinge", situation=Situation(key="off"))


@pytest.fixture(autouse=True)
def small_kinds(monkeypatch):
    monkeypatch.setattr(plan_room, "KINDS", small.KINDS)
    monkeypatch.setattr(draft_room, "KINDS", small.KINDS)


def mended(chances, share=0.97, outside=0.02):
    """A belief in which atom 1 was mended, and its repair took hold with a chance."""
    belief = small.believe(chances, outside=outside)
    return replace(belief, mended=np.where(belief.atom == 1, share, 0.0))


def test_what_is_mended_is_a_story_of_its_own_and_shows_nothing():
    """By hand: 0.98 * 0.8 * 0.97 is mended, the rest of it and the other suspect are not."""
    told = stories_of(DEFECTS, mended({1: 0.8, 2: 0.2}))
    by_group = np.bincount(told.group, told.mass, minlength=len(told.keys) + 1)
    known = dict(zip((*told.keys, "outside"), by_group, strict=True))
    assert told.keys[-1] == MENDED
    assert known == {
        "rail sensor": pytest.approx(0.98 * 0.2),
        "hinge": pytest.approx(0.98 * 0.8 * 0.03),
        MENDED: pytest.approx(0.98 * 0.8 * 0.97),
        "outside": pytest.approx(0.02),
    }
    assert told.group[0] == len(told.keys) - 1
    assert told.gone[0] == 0.0
    assert told.showing[told.rows.size] == told.rows.size


def test_suspects_beside_what_is_mended_are_not_left_out():
    """All but a thousandth is mended: what may be wrong beside it is still told apart."""
    told = stories_of(DEFECTS, mended({1: 0.999, 2: 0.0004, 3: 0.0006}, share=1.0, outside=0.0))
    assert {2, 3} <= set(DEFECTS.atom_of[told.rows])


def test_the_minutes_left_are_those_of_the_proof():
    """It was mended and nobody has looked since: the proof is next, and half of such jobs end with it."""
    job = fold([FAILS, DONE], start=ON)
    said = plan(BOOK, small.MadeUp(seed=4), job, mended({1: 0.95, 2: 0.05}), small.OPEN)
    first = said.next[0]
    assert first.check.id == "prove hinge"
    assert first.seconds == pytest.approx(BY_CLASS["prove"][0] + 60.0, abs=61.0)
    assert said.half_s == pytest.approx(first.seconds)
    assert said.ninety_s < ESCALATE_S


def test_what_is_not_in_the_book_goes_on_costing_handing_on():
    job = fold([FAILS, DONE], start=ON)
    belief = mended({1: 0.95, 2: 0.05}, outside=0.6)
    said = plan(BOOK, small.MadeUp(seed=4), job, belief, small.OPEN)
    assert said.ninety_s > ESCALATE_S


def test_a_proof_that_cannot_be_had_is_not_reckoned_with():
    cannot = NotPossible(id="n", check="prove hinge", words="", situation=ON)
    job = fold([FAILS, DONE, cannot], start=ON)
    done = planned(BOOK, small.MadeUp(seed=4), job, mended({1: 0.95, 2: 0.05}))
    assert done.table.repair[done.stories.keys.index(MENDED)] == NEVER_S


def test_handing_on_what_is_mended_takes_no_mend_and_its_proof_in_vain_no_part():
    job = fold([FAILS, DONE], start=ON)
    done = planned(BOOK, small.MadeUp(seed=4), job, mended({1: 0.95, 2: 0.05}))
    at = done.stories.keys.index(MENDED)
    assert done.table.others[at] == 0.0
    assert np.broadcast_to(done.table.vain, done.table.repair.shape)[at] == 0.0
