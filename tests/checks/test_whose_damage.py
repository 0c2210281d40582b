"""Who looks along a stretch of loom and sees a bare wire sees which one it is."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.draft import planned
from backprobe.checks.model import Check
from backprobe.checks.outcomes import answers_of, named_in
from backprobe.findings.model import Failing, FuseFound, Looked, Works
from backprobe.shop.answer import Answer, answered
from backprobe.shop.job import Job, start
from backprobe.shop.outlook import planned_on, standing

PRESS = """
machine press, 12 V
G1: battery
F1: fuse 10 A, at fuse box
SP1: splice
GP1: ground stud, on frame
lamp left: lamp 21 W, at lamp bar
lamp right: lamp 21 W, at lamp bar
function left light: needs lamp left, key on
function right light: needs lamp right, key on
G1.+ > F1 > SP1, 1.0 mm2, RD, wire 1a / 1b
SP1 > lamp left.1, 1.0 mm2, RD, 4.0 m, wire 2, via trunk
SP1 > lamp right.1, 1.0 mm2, RD, 4.0 m, wire 3, via trunk
lamp left.2 > GP1, 1.0 mm2, BN, wire 4
lamp right.2 > GP1, 1.0 mm2, BN, wire 5
GP1 > G1.-, 16 mm2, BK, wire 6
section trunk: SP1 to lamp bar, 4 m
"""
ON = Situation(key="on")


@pytest.fixture(scope="module")
def job() -> Job:
    book, problems = read_book(PRESS, "press")
    assert book is not None, problems
    return start(book).note(
        Works(target="left light", works=False, situation=ON),
        FuseFound(fuse="F1", state="blew", situation=ON),
        Failing(answer="yes", situation=ON),
    )


@pytest.fixture(scope="module")
def look(job: Job) -> Check:
    stands = standing(job.circuit, job.findings)
    near, belief = planned_on(stands)
    checks = planned(job.book, near, stands.state, belief).checks
    return next(check for check in checks if check.does == "look" and check.target == "trunk")


def test_a_stretch_of_loom_asks_which_wire_is_damaged(job: Job, look: Check):
    """By hand: two wires alike in one stretch; the one seen bare takes what both shared."""
    wires = [name for name in named_in(look) if name.startswith(("wire 2 ", "wire 3 "))]
    assert len(wires) == 2
    assert answers_of(look)[-1] == "trunk"
    before = {s.group: s.chance for s in job.suspects}
    assert before[wires[0]] == pytest.approx(before[wires[1]], rel=0.05)
    found = answered(look, Answer(word=f"damage at {wires[0]}"), job.state)
    assert [(f.target, f.damage) for f in found if isinstance(f, Looked)] == [(wires[0], True)]
    after = {s.group: s.chance for s in job.note(*found).suspects}
    assert after[wires[0]] > 10.0 * after.get(wires[1], 0.0)


def test_nothing_to_see_is_said_of_the_stretch_alone(job: Job, look: Check):
    found = answered(look, Answer(word="nothing to see"), job.state)
    assert [(f.target, f.damage) for f in found if isinstance(f, Looked)] == [("trunk", False)]


def test_what_no_look_asks_for_is_refused(job: Job, look: Check):
    with pytest.raises(ValueError, match="no answer"):
        answered(look, Answer(word="damage at lamp left"), job.state)
