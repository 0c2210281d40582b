"""Random job states: nothing that may be proposed is unsafe, judged apart from the rules.

The judge (oracles/safe_hands.py) follows the book's wires itself and solves the circuit with the
check's leads fitted by the one-at-a-time oracle. `make safe` judges 10,000 states.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
import safe

from backprobe.book import read_book
from backprobe.book.situations import Lead, Situation
from backprobe.checks.model import Check
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.shop.demo import book_text
from backprobe.shop.outlook import engine
from oracles.safe_hands import Judge

DEAD = Situation(key="off", battery_off=True, unplugged=frozenset({"U1"}))
OHMS = ("ohms-live", "battery-gas", "unplug-live")
VOLTS = Check(
    id="x",
    does="volts",
    target="F1",
    words="x",
    situation=Situation(key="on"),
    probe=Probe(kind="volts", p="F1.2"),
)


@pytest.fixture(scope="module")
def survey():
    return safe.Survey(safe.synthetic(1), 1, hidden=1)


@pytest.fixture(scope="module")
def judge(survey) -> Judge:
    return survey.judge


def test_random_job_states_yield_no_unsafe_check(survey):
    with engine():
        for _ in range(4):
            survey.one(read=True)
    assert survey.checks > 300
    assert not survey.wrong


def ohms(p, n, situation=DEAD, hazards=OHMS):
    probe = Probe(kind="ohms", p=p, n=n)
    return replace(VOLTS, does="ohms", situation=situation, probe=probe, hazards=hazards)


def lead(kind, p, n="battery minus", **more):
    return Situation(key="on", fitted=(Lead(kind=kind, p=p, n=n),), **more)


def moved(book):
    """A function that moves the machine, and what commands it."""
    return next(f for f in book.functions.values() if f.moves and f.commands)


@pytest.mark.parametrize(
    ("bad", "why"),
    [
        (ohms("F1.2", "G1", Situation(key="on")), "an ohmmeter across 12"),
        (ohms("U1.23", "G1", replace(DEAD, unplugged=frozenset())), "an ohmmeter puts"),
        (ohms("F1.2", "G1", hazards=()), "no word of ohms-live"),
        (replace(VOLTS, situation=lead("lamp 21 W", "U1.21")), "more in U1 pin 21"),
        (replace(VOLTS, situation=lead("jumper", "F1.2")), "a lead blows F1"),
        (replace(VOLTS, situation=lead("booster cable", "main stud")), "in a booster cable"),
        (replace(VOLTS, probe=Probe(kind="volts", p="SP1:1")), "SP1:1 has no bare metal"),
        (replace(VOLTS, probe=Probe(kind="volts", p="battery:+")), "no word of short-circuit"),
        (replace(VOLTS, probe=Probe(kind="volts", p="U1.23")), "no word of unit-lines"),
        (replace(VOLTS, situation=Situation(key="crank")), "no word of crank-limit"),
        (
            replace(VOLTS, situation=Situation(key="run", unplugged=frozenset({"F1"}))),
            "a plug off while the engine runs",
        ),
        (
            replace(VOLTS, situation=Situation(key="on", battery_off=True)),
            "battery minus off with the key on",
        ),
    ],
)
def test_the_judge_sees_what_is_unsafe(judge, bad, why):
    assert any(why in words for words in judge.wrong(bad)), judge.wrong(bad)


def test_the_judge_sees_what_moves(judge):
    function = moved(judge.book)
    on = Situation(key="on", on=frozenset(function.commands))
    found = judge.wrong(replace(VOLTS, situation=on))
    assert f"{function.name} moves the machine" in found
    assert any(" gets " in words for words in found)


def test_a_unit_that_gets_more_volts_moves_nothing():
    """With the neutral switch off nothing cranks: the battery sags less, the unit takes more."""
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None, problems
    judge = Judge(book=book, net=Circuit.of(book).net)
    bare = Situation(key="crank", unplugged=frozenset({"neutral switch"}))
    assert judge._through(bare, "ECU", 0) > judge._through(Situation(key="crank"), "ECU", 0) + 0.1
    assert "ECU" in {need for f in book.functions.values() if f.moves for need in f.needs}
    assert not list(judge._energised(bare, 0))


def test_a_plain_reading_is_safe(judge):
    assert judge.wrong(VOLTS) == []
