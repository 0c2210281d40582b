"""A short that went away leaves a blown fuse: the machine still fails, and an ohmmeter finds nothing.

Common practice, no source: fit a new fuse, and when it holds bring the fault back.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.draft import planned
from backprobe.checks.generate import candidates
from backprobe.checks.model import Check
from backprobe.checks.plan import proposal
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import (
    Act,
    AnyFinding,
    Failing,
    FuseFound,
    JobState,
    Reading,
    Works,
)
from backprobe.suspects.verdict import judge_with_pairs

TEXT = """
machine press, 12 V
G1: battery
F1: fuse 10 A, at fuse box
GP1: ground stud, on frame
X1: plug 2 ways
lamp 1: lamp 21 W, at lamp bar
G1.+ > F1 > X1.1 > lamp 1.1, 1.0 mm2, RD, wire 1a / 1b / 1c
lamp 1.2 > GP1, 1.0 mm2, BN, wire 2
GP1 > G1.-, 16 mm2, BK, wire 3
section trunk: F1 to X1, 4 m
function lamp lights: needs lamp 1, key on
"""
ON = Situation(key="on")
DARK = Works(id="dark", target="lamp 1", works=False, situation=ON)
TOLD = Failing(id="told", answer="yes", condition="wet", situation=ON)
STILL = Failing(id="still", visit=2, answer="yes", situation=ON)
FED = Reading(id="fed", visit=2, p="F1.1", value=12.5, situation=ON)
DEAD = Reading(id="dead", visit=2, p="F1.2", value=0.0, situation=ON)
OPEN = Reading(
    id="open",
    visit=2,
    instrument="ohmmeter",
    p="F1.2",
    n="frame",
    value=float("inf"),
    situation=Situation(key="off", unplugged=frozenset({"X1"}), pulled=frozenset({"F1"})),
)
NEW = Act(id="new", visit=2, act="replaced", target="F1")
HELD = FuseFound(
    id="held",
    visit=2,
    fuse="F1",
    state="held",
    situation=Situation(key="on", renewed=frozenset({"F1"})),
)
LIT = Works(id="lit", visit=2, target="lamp 1", works=True, situation=ON)


@pytest.fixture(scope="module")
def circuit() -> Circuit:
    book, problems = read_book(TEXT, "press")
    assert book is not None, problems
    return Circuit.of(book)


def job(*found: AnyFinding) -> JobState:
    return fold(found, usual_life=(ON,))


def short(circuit: Circuit, *found: AnyFinding) -> float:
    group = next(a.group for a in circuit.defects.atoms if a.id.startswith("wire 1b/to ground"))
    suspects = judge_with_pairs(circuit, job(*found)).verdict.suspects
    return next((s.chance for s in suspects if s.group == group), 0.0)


def offered(circuit: Circuit, *found: AnyFinding) -> list[Check]:
    told = job(*found)
    judged = judge_with_pairs(circuit, told)
    return list(candidates(circuit.book, told, circuit.defects, judged.belief))


def test_that_it_still_fails_does_not_speak_against_a_short_that_went(circuit: Circuit) -> None:
    """The blown fuse fails on; without the question nothing is known that it could contradict."""
    asked = short(circuit, DARK, TOLD, STILL, FED, DEAD, OPEN)
    not_asked = short(circuit, DARK, TOLD, FED, DEAD, OPEN)
    assert asked == pytest.approx(not_asked, rel=0.2)
    assert asked > 0.05


def test_a_fault_that_blew_nothing_does_not_fail_while_it_is_away(circuit: Circuit) -> None:
    """Two-sided: an open feed that went away leaves a lamp that lights."""
    gone = Failing(id="gone", visit=2, answer="gone", situation=ON)
    lit = Reading(id="lit", visit=2, p="lamp 1.1", value=12.3, situation=ON)
    assert short(circuit, DARK, TOLD, gone, lit) < 0.02


def test_a_fuse_measured_open_is_renewed_though_nobody_pulled_it(circuit: Circuit) -> None:
    assert not [c for c in offered(circuit, DARK, TOLD, STILL, FED) if c.does == "new fuse"]
    new = [c for c in offered(circuit, DARK, TOLD, STILL, FED, DEAD) if c.does == "new fuse"]
    assert {c.target for c in new} == {"F1"}
    again = offered(circuit, DARK, TOLD, STILL, FED, DEAD, NEW, HELD)
    assert not [c for c in again if c.does == "new fuse"]


def test_once_a_new_fuse_holds_the_fault_is_brought_back_or_waited_for(circuit: Circuit) -> None:
    before = {c.does for c in offered(circuit, DARK, TOLD, STILL, FED, DEAD)}
    assert not before & {"provoke", "trap"}
    after = offered(circuit, DARK, TOLD, STILL, FED, DEAD, NEW, HELD, LIT)
    assert {"provoke", "trap"} <= {c.does for c in after}
    wet = [c for c in after if c.does == "provoke" and c.condition == "wet"]
    assert any(c.target == "trunk" for c in wet)


def test_every_check_afterwards_has_the_new_fuse_in(circuit: Circuit) -> None:
    after = offered(circuit, DARK, TOLD, STILL, FED, DEAD, NEW, HELD, LIT)
    assert after
    assert all("F1" in c.situation.renewed for c in after)
    assert {c.does for c in after} >= {"lamp", "volts"}


def test_a_new_fuse_comes_before_a_repair_or_the_end_though_no_check_is_worth_it(
    circuit: Circuit,
) -> None:
    """What is suspected does not show: without a fuse nothing can be brought back."""
    told = job(DARK, TOLD, STILL, FED, DEAD, OPEN)
    judged = judge_with_pairs(circuit, told)
    made = planned(circuit.book, judged.circuit, told, judged.belief)
    dear = replace(made, table=replace(made.table, seconds=made.table.seconds + 1e5))
    assert dear.step.does != "check"
    shows, away = (replace(dear, scene=replace(dear.scene, away=share)) for share in (0.1, 0.9))
    assert proposal(shows, judged.verdict).next[0].check.does == "repair"
    first, *others = proposal(away, judged.verdict).next
    assert (first.check.does, first.check.target) == ("new fuse", "F1")
    assert "repair" not in {other.check.does for other in others}
