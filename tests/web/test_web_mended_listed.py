"""A part that was renewed does not lead the list of what it could be while another fault is looked for."""

from __future__ import annotations

from backprobe.book import read_book
from backprobe.checks.layout import layout_of
from backprobe.kinds import KINDS
from backprobe.shop.answer import Answer, answered
from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.job import start
from backprobe.web.sheet import _could


def test_a_fuse_that_was_just_renewed_and_holds_is_listed_by_the_chance_that_it_is_still_the_fault():
    """The demo job whose F5 blew: the new one holds with the work lights on, the beacon is not tried."""
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None, problems
    job = start(book).note(*JOBS[2].arrival)
    check = next(o.check for o in job.next_checks if o.check.does == "new fuse")
    job = job.note(*answered(check, Answer(word="holds"), job.state))
    fuse = next(s for s in job.suspects if s.group == "F5")
    assert job.verdict.state == "open"
    assert fuse.chance > 0.1 > fuse.still
    told = _could(layout_of(book, KINDS), job.state, job.verdict)
    listed = [one.group for one in (*told.suspects, *told.more)]
    others = [s for s in job.suspects if s.group != "F5"]
    assert listed[0] == others[0].group
    assert listed.index("F5") >= sum(s.chance > fuse.still for s in others)
    assert any("nothing is wrong any more" in one.words for one in told.rest)
