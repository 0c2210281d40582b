"""A check that cannot be done here is remembered, and taken back like any finding."""

from __future__ import annotations

from functools import cache

from backprobe.book import read_book
from backprobe.findings.model import Failing, Looked, NotPossible, Provoked, Withdrawn
from backprobe.shop.answer import Answer, answered
from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.job import Job, start
from backprobe.shop.say import told


@cache
def job() -> Job:
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None, problems
    return start(book).note(*JOBS[1].arrival)


def cannot(job: Job) -> Job:
    """The first check cannot be done."""
    return job.note(*answered(job.next_checks[0].check, Answer(word="cannot"), job.state))


def test_it_is_not_proposed_again_and_nothing_else_changes() -> None:
    first = job().next_checks[0].check
    after = cannot(job())
    last = after.findings[-1]
    assert isinstance(last, NotPossible)
    assert told(last) == f"cannot be done here: {first.words}"
    assert first.id not in [offer.check.id for offer in after.next_checks]
    assert after.next_checks
    chances = [(s.group, s.chance) for s in job().suspects]
    assert [(s.group, s.chance) for s in after.suspects] == chances, "it says nothing of the fault"
    assert after.verdict.contradictions == job().verdict.contradictions
    assert after.state.now == job().state.now
    assert after.state.lived == job().state.lived


def test_it_is_proposed_again_once_that_is_taken_back() -> None:
    after = cannot(job())
    back = after.note(Withdrawn(finding=after.findings[-1].id))
    assert back.next_checks[0].check.id == job().next_checks[0].check.id


def test_one_after_the_other_until_nothing_is_left_but_the_end() -> None:
    now, refused = job(), set()
    for _ in range(4):
        first = now.next_checks[0].check
        assert first.id not in refused
        if first.does == "stop":
            break
        refused.add(first.id)
        now = cannot(now)
    assert now.state.not_possible == refused


def test_a_repair_that_cannot_be_done_here_is_not_proposed() -> None:
    now = start(job().book).note(*JOBS[0].arrival)
    now = now.note(
        Provoked(places=("hinge",), condition="wet", shown_at="hinge"),
        Failing(visit=2, answer="yes", condition="wet"),
        Looked(visit=2, target="hinge pin", damage=True),
    )
    first = now.next_checks[0].check
    assert (first.does, first.target) == ("repair", "wire 41a (ECU to X10)")
    assert first.id not in [offer.check.id for offer in cannot(now).next_checks]
