"""After a repair: what is proven, what is not, and what is left to do."""

from __future__ import annotations

from functools import cache

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.findings.model import Act, Failing, FuseFound, Looked, Provoked, Withdrawn
from backprobe.shop.answer import Answer, answered
from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.demo.jobs import DemoJob
from backprobe.shop.job import Job, start

AFTER_WASHING, NO_CRANK, LIGHTS_DEAD = JOBS
BEACON = Situation(key="on", on=frozenset({"S3"}))


@cache
def dumper() -> Job:
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper.book")
    assert book is not None, problems
    return start(book)


@cache
def found(demo: DemoJob) -> tuple[Job, str]:
    """A job whose fault was found: it, and the group to mend."""
    job = dumper().note(*demo.arrival)
    group = next(a.group for a in job.circuit.defects.atoms if a.id == demo.truth.atom)
    visit = job.state.visit
    if demo is AFTER_WASHING:
        job = job.note(
            Provoked(visit=visit, places=("hinge",), condition="wet", shown_at="hinge"),
            Failing(visit=visit + 1, answer="yes", condition="wet"),
            Looked(visit=visit + 1, target="hinge pin", damage=True),
        )
    elif demo is LIGHTS_DEAD:
        job = job.note(
            Failing(answer="yes"),
            FuseFound(fuse="F5", state="blew", situation=BEACON),
            Looked(target=group, damage=True),
        )
    else:
        job = job.note(Looked(target=group, damage=True))
    return job, group


def mended(demo: DemoJob, *conditions: str) -> Job:
    """Mended, and gone in one visit after the other."""
    job, group = found(demo)
    visit = job.state.visit + 1
    job = job.note(Act(visit=visit, act="repaired", target=group))
    for k, condition in enumerate(conditions):
        job = job.note(Failing(visit=visit + k, answer="gone", condition=condition))
    return job


@pytest.mark.parametrize(
    ("demo", "words"),
    [
        (
            NO_CRANK,
            "Before engine strap was mended: engine cranks dead. Since then: gone in 1 visit.",
        ),
        (
            LIGHTS_DEAD,
            (
                "Before wire 35a (S3 to X6) was mended: display lights up dead, work lights dead. "
                "Since then: gone in 1 visit."
            ),
        ),
    ],
)
def test_a_fault_that_was_failing_and_is_gone_after_its_repair_is_proven(
    demo: DemoJob, words: str
) -> None:
    job = mended(demo, "")
    proof = job.verdict.proof
    assert job.verdict.state == "proven"
    assert proof is not None
    assert proof.holds
    assert proof.words == words
    assert proof.still <= 0.05
    leading = job.suspects[0]
    assert leading.group == proof.group
    assert leading.chance > 0.9, "what it was stays known"
    assert leading.still < 0.02, "and it does not read as if it were still there"
    (close,) = job.next_checks
    assert close.check.words == "Put everything back, clear the codes, write it up"
    assert job.proposal.words.startswith("The repair holds. ")


def test_a_fault_that_comes_and_goes_is_not_proven_by_a_quiet_visit_or_two() -> None:
    for quiet in (("",), ("", "")):
        job = mended(AFTER_WASHING, *quiet)
        proof = job.verdict.proof
        assert job.verdict.state == "mended"
        assert proof is not None
        assert not proof.holds
        assert proof.awaited == "wet"
        assert proof.still > 0.05
        first = job.next_checks[0]
        assert first.check.does == "prove"
        assert first.check.condition == "wet"
        assert any("Wet the mended place again" in step for step in first.steps)
        assert "Mended, not proven: wire 41a (ECU to X10)." in job.proposal.words


def test_the_proof_in_the_condition_it_failed_in_proves_it() -> None:
    job = mended(AFTER_WASHING, "")
    first = job.next_checks[0]
    stays, again = first.outcomes
    assert stays.word == "stays away"
    assert stays.chance + again.chance == pytest.approx(1.0)
    assert 0.02 < again.chance < 0.2
    proven = job.note(*answered(first.check, Answer(word="stays away"), job.state))
    assert proven.verdict.state == "proven"
    proof = proven.verdict.proof
    assert proof is not None
    assert proof.words.endswith("Since then: gone in 2 visits (1 wet).")
    still = job.note(*answered(first.check, Answer(word="shows again"), job.state))
    assert still.verdict.proof is None
    assert still.state.failing == "yes"
    assert still.suspects[0].still == pytest.approx(again.leaves[0][1], abs=0.04)


def test_the_repair_asks_for_the_proof_in_the_condition_the_fault_was_told_to_fail_in() -> None:
    job, _ = found(AFTER_WASHING)
    mend = job.next_checks[0]
    assert mend.check.does == "repair"
    assert mend.steps[-1].startswith("Prove it. Wet the mended place again")
    act, proof = answered(mend.check, Answer(word="passes"), job.state)
    assert isinstance(act, Act)
    assert isinstance(proof, Failing)
    assert proof.condition == "wet"
    assert job.note(act, proof).verdict.state == "proven"


def test_a_repair_of_something_else_proves_nothing() -> None:
    job, _ = found(NO_CRANK)
    visit = job.state.visit + 1
    other = job.note(
        Act(visit=visit, act="repaired", target="K3"), Failing(visit=visit, answer="gone")
    )
    assert other.verdict.proof is None
    assert other.verdict.state != "proven"


def test_a_proof_is_taken_back_with_its_answer() -> None:
    job = mended(NO_CRANK, "")
    last = job.findings[-1]
    undone = job.note(Withdrawn(visit=last.visit, finding=last.id))
    assert undone.verdict.proof is None
    assert undone.next_checks[0].check.id != "close"
