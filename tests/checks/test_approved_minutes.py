"""What the customer approved, held against what is spent and still to go."""

from __future__ import annotations

from backprobe.checks.wording import ask_words
from backprobe.findings.fold import fold
from backprobe.findings.model import Approved, Withdrawn


def test_the_customer_is_asked_when_half_of_such_jobs_take_longer_than_approved():
    assert ask_words(1800.0, 2400.0, 3600.0) == (
        "Ask the customer before you go on: 60 min approved, 30 min spent, about 40 min to go."
    )


def test_nobody_is_asked_while_it_is_likely_enough_or_nothing_was_said():
    assert ask_words(1200.0, 2400.0, 3600.0) == ""
    assert ask_words(1e5, 1e5, None) == ""


def test_the_last_word_counts_and_can_be_taken_back():
    said = [Approved(id="a", seconds=3600.0), Approved(id="b", seconds=7200.0)]
    assert fold([]).approved_s is None
    assert fold(said).approved_s == 7200.0
    assert fold([*said, Withdrawn(id="c", finding="b")]).approved_s == 3600.0


def test_a_night_between_two_notes_is_no_work():
    notes = [Approved(id=str(at), seconds=1.0, at_s=at) for at in (600.0, 50_000.0, 50_300.0)]
    assert fold(notes).worked_s == 900.0
