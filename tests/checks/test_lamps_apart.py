"""Of two lamps lit by one switch the eye sees which one is dark."""

from __future__ import annotations

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.findings.model import Failing, Works
from backprobe.shop.answer import Answer, answered
from backprobe.shop.job import start

PRESS = """
machine press, 12 V
G1: battery
F1: fuse 10 A, at fuse box
S1: switch, at dash
SP1: splice
GP1: ground stud, on frame
lamp left: lamp 21 W, at lamp bar
lamp right: lamp 21 W, at lamp bar
function work lights: needs lamp left, lamp right, key on, with S1
G1.+ > F1 > S1 > SP1, 1.0 mm2, RD, wire 1a / 1b / 1c
SP1 > lamp left.1, 1.0 mm2, RD, wire 2
SP1 > lamp right.1, 1.0 mm2, RD, wire 3
lamp left.2 > GP1, 1.0 mm2, BN, wire 4
lamp right.2 > GP1, 1.0 mm2, BN, wire 5
GP1 > G1.-, 16 mm2, BK, wire 6
"""
LIT = Situation(key="on", on=frozenset({"S1"}))


def test_each_lamp_is_looked_at_by_itself_and_clears_what_they_share():
    """By hand: with the left lamp lit, nothing that both hang on is broken, and the left branch is
    whole; with both dark only what they share is left."""
    book, problems = read_book(PRESS, "press")
    assert book is not None, problems
    job = start(book).note(
        Works(target="work lights", works=False, situation=LIT),
        Failing(answer="yes", situation=LIT),
    )
    checks = {offer.check.target: offer.check for offer in job.next_checks}
    one = next(check for name, check in checks.items() if name.startswith("lamp"))
    assert one.does == "works"
    assert one.situation.on == LIT.on
    lit = job.note(*answered(one, Answer(word="works"), job.state))
    dark = job.note(*answered(one, Answer(word="does not work"), job.state))
    other = {"lamp left": "lamp right", "lamp right": "lamp left"}[one.target]
    shared = ("F1", "socket of F1", "S1", "plug at S1", "wire 1a (G1 to F1)")
    chance = [{s.group: s.chance for s in each.suspects} for each in (job, lit, dark)]
    assert chance[1][other] > 2.0 * chance[0][other]
    assert sum(chance[1].get(name, 0.0) for name in shared) < 0.05
    assert sum(chance[2].get(name, 0.0) for name in shared) > sum(
        chance[0].get(name, 0.0) for name in shared
    )
