"""Two findings that no suspect brings together, each of which fits some of them, are named."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.findings.model import Reading
from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.job import start


@pytest.fixture(scope="module")
def no_crank():
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None, problems
    return start(book).note(*JOBS[1].arrival)


def test_a_sound_reading_where_it_fails_names_what_it_clashes_with_and_is_to_be_repeated(no_crank):
    """10.3 V at K3 pin 87 is what a cranking engine leaves there (the book's own sound machine), and it
    was noted that it does not crank: one of the two is wrong, and without the reading the first of the
    job leads as it did before."""
    reading = Reading(id="k3", p="K3.87", value=10.3, situation=Situation(key="crank"))
    job = no_crank.note(reading)
    assert job.verdict.state == "odd"
    (odd,) = job.verdict.contradictions
    assert odd.finding == "k3"
    assert odd.words == (
        "found 10.3 V at K3.87 to battery minus, as on a sound machine: that does not go together with "
        '"engine cranks does not work"'
    )
    assert odd.ways_out[0].startswith("measure again: right pin")
    assert f"{odd.words[1:]}." in job.proposal.words
    before = no_crank.verdict.suspects[0]
    assert f"without it {before.words} would stand at" in odd.without
    told = float(odd.without.split(" would stand at ")[1].split(" %")[0]) / 100.0
    assert told == pytest.approx(before.chance, abs=0.15)


def test_findings_that_go_together_name_none(no_crank):
    assert no_crank.verdict.contradictions == ()
    dead = Reading(id="k3", p="engine", value=11.5, situation=Situation(key="crank"))
    assert no_crank.note(dead).verdict.contradictions == ()
