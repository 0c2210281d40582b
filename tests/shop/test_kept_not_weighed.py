"""What is kept with a job and not weighed leaves every chance as it was."""

from __future__ import annotations

from backprobe.book import read_book
from backprobe.findings.model import Closed, CodesFound, Failing, Mentioned
from backprobe.shop.demo import book_text
from backprobe.shop.job import start
from backprobe.shop.say import told


def test_what_was_said_and_a_closing_move_no_chance() -> None:
    book, _ = read_book(book_text("unplugged-sensor"), "small")
    assert book is not None
    before = start(book).note(
        CodesFound(unit="engine unit", active=("100/4",)), Failing(answer="yes")
    )
    after = before.note(
        Mentioned(about="before it failed", words="washed down", situation=before.state.now),
        Closed(cause="plug off", situation=before.state.now),
    )
    assert len(after.findings) == len(before.findings) + 2
    assert [(s.group, s.chance) for s in after.suspects] == [
        (s.group, s.chance) for s in before.suspects
    ]


def test_both_are_told_in_plain_words() -> None:
    assert told(Mentioned(about="before it failed", words="boost start")) == (
        "said, before it failed: boost start"
    )
    assert told(Closed(cause="X2 off", done="plugged on", left="panel off: owner fits it")) == (
        "closed: X2 off; plugged on; panel off: owner fits it"
    )
    assert told(Closed()) == "closed: nothing said"
