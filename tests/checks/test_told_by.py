"""A proof names the reading that told, and what it must read now."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.layout import layout_of
from backprobe.checks.proving import proof_steps
from backprobe.checks.told_by import told_by
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, Failing, Reading, Works
from backprobe.kinds import KINDS
from backprobe.shop.job import start
from checks.small_machine import ONE_LOAD

ON = Situation(key="on")
FEED = Reading(id="f", p="motor.1", value=1.89, situation=ON)


@pytest.fixture(scope="module")
def circuit():
    book, problems = read_book(ONE_LOAD, "press")
    assert book is not None, problems
    return Circuit.of(book)


def told(circuit, *found):
    return told_by(layout_of(circuit.book, KINDS), fold(found, start=ON), circuit)


def test_the_reading_furthest_off_is_named_with_what_it_must_read(circuit):
    words = told(circuit, Reading(id="s", p="G1:+", value=11.6, situation=ON), FEED)
    place, _, rest = words.partition(" must read about ")
    assert place == "motor pin 1 (wire 2, red)"
    now, _, rest = rest.partition(" V (was ")
    assert float(now) == pytest.approx(12.4, abs=0.4)
    assert rest == "1.89 V), key on, engine stopped"


def test_of_one_place_the_last_reading_counts(circuit):
    assert told(circuit, FEED, Reading(id="g", p="motor.1", value=12.3, situation=ON)) == ""


def test_what_cannot_be_read_again_with_all_put_back_is_not_named(circuit):
    off = Situation(key="on", pulled=frozenset({"F1"}))
    assert told(circuit, Reading(id="o", p="motor.1", value=5.0, situation=off)) == ""
    assert told(circuit, Reading(id="c", p="2", value=90.0, instrument="clamp", situation=ON)) == ""
    assert told(circuit, Reading(id="n", p="no such place", value=5.0, situation=ON)) == ""


def test_a_repair_and_its_proof_say_it(circuit):
    found = start(circuit.book).note(
        Works(target="blower runs", works=False, situation=ON),
        Failing(answer="yes", situation=ON),
        Reading(p="motor.2", value=12.3, situation=ON),
        Reading(p="GP1:1<3>", value=12.4, situation=ON),
        Reading(p="GP1", value=0.0, situation=ON),
    )
    mend = next(one for one in found.next_checks if one.check.does == "repair")
    named = (
        "must pass now under load: the lug of wire 3, brown, on GP1 must read about 0 V (was 12.4 V), "
        "key on, engine stopped;"
    )
    assert named in mend.steps[-1]
    done = found.note(Act(act="repaired", target="lugs at GP1", situation=ON))
    prove = next(one for one in done.next_checks if one.check.does == "prove")
    assert named in prove.steps[-1]


def test_nothing_is_named_where_no_reading_told():
    assert "under load; move" in proof_steps("", "on")[-1]
