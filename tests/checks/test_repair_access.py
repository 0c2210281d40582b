"""Where a wire is got at: in the loom section where this job's findings put the fault."""

from __future__ import annotations

from functools import cache

from backprobe.book import read_book
from backprobe.checks.cost import repair_price
from backprobe.checks.draft import planned
from backprobe.checks.layout import layout_of
from backprobe.findings.model import AnyFinding, Failing, Looked, Provoked
from backprobe.kinds import KINDS
from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.job import Job, start

GROUP = "wire 41a (ECU to X10)"


@cache
def job() -> Job:
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None, problems
    return start(book).note(*JOBS[0].arrival)


def shown_at(section: str) -> Job:
    found: tuple[AnyFinding, ...] = (
        Provoked(places=(section,), condition="wet", shown_at=section),
        Failing(visit=2, answer="yes", condition="wet"),
        Looked(visit=2, target=section, damage=True),
    )
    return job().note(*found)


def access_of(job: Job) -> tuple[str, ...]:
    plan = planned(job.book, job.weighed, job.state, job.belief)
    return plan.repairs[GROUP].access


def test_the_loom_is_opened_where_the_fault_is_likelier() -> None:
    wire = job().book.wires["41a"]
    assert wire.route[0] == "seat box run", "the first section of its way is not the likeliest"
    assert access_of(shown_at("hinge")) == ("hinge",)
    assert access_of(shown_at("seat box run")) == ("seat box run",)


def test_what_is_shown_is_what_is_priced() -> None:
    found = shown_at("hinge")
    first = found.next_checks[0]
    assert first.check.target == GROUP
    assert first.check.opens == ("hinge",)
    assert not any("seat box run" in step for step in first.steps), first.steps
    plan = planned(found.book, found.weighed, found.state, found.belief)
    layout = layout_of(found.book, KINDS)
    priced = sum(i.seconds for i in repair_price(layout, found.state, plan.repairs[GROUP]))
    assert plan.table.repair[plan.stories.keys.index(GROUP)] == priced
    assert first.seconds == priced
