"""Who mends is told what the part, its place and the proof that follows are dangerous for.

The cautions themselves, with their authorities: kinds.hazards. Which part needs which is a judgement
but for the fuel line: HSE FOD 4-2014 and engine makers' manuals, pressure off before it is opened.
"""

from __future__ import annotations

from functools import cache

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.at_step import cautions_at
from backprobe.checks.layout import layout_of
from backprobe.checks.mending import MEASURED, failing_key, proof_hazards, repair_hazards
from backprobe.checks.proving import proof_steps
from backprobe.checks.scene import scene_of
from backprobe.checks.steps import LIFTED_FIRST
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import CodesFound, Failing, Looked, Reading, Works
from backprobe.kinds import KINDS
from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.job import start
from backprobe.suspects.weigh import weigh

ON, CRANK = Situation(key="on"), Situation(key="crank")
CODES = CodesFound(unit="ECU", active=("157/4",), situation=ON)
NO_CRANK = Works(target="engine cranks", works=False, situation=CRANK)


@cache
def dumper():
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None, problems
    return book, Circuit.of(book)


def scene(*found):
    book, circuit = dumper()
    job = fold([Failing(answer="yes"), *found], start=ON)
    return scene_of(layout_of(book, KINDS), job, circuit.defects, weigh(book, circuit, job))


def told(scene, key, condition=""):
    group = next(group for group in scene.defects.groups if group.key == key)
    return repair_hazards(scene, group, condition)


@pytest.mark.parametrize(
    ("key", "wanted", "unwanted"),
    [
        ("rail sensor", {"high-pressure-fuel", "unplug-live"}, set()),
        ("hydraulic pressure sensor", {"high-pressure-fuel"}, set()),
        ("boost sensor", set(), {"high-pressure-fuel"}),
        ("plug at rail sensor", {"unplug-live"}, {"high-pressure-fuel"}),
        ("metering valve", {"high-pressure-fuel"}, set()),
        ("glow plug 1", {"hot-parts"}, set()),
        ("starter", {"starter-bypass", "battery-gas", "short-circuit"}, set()),
        ("engine strap", {"battery-gas", "short-circuit", "battery-off-running"}, set()),
        ("battery", {"battery-gas", "frozen-battery", "battery-off-running"}, set()),
        ("beacon", set(), {"battery-gas", "high-pressure-fuel"}),
    ],
)
def test_a_repair_carries_the_cautions_of_its_part(key, wanted, unwanted):
    hazards = told(scene(CODES), key)
    assert wanted <= set(hazards)
    assert not unwanted & set(hazards)
    assert not MEASURED & set(hazards)
    assert len(hazards) == len(set(hazards))


def test_a_proof_carries_the_cautions_of_the_key_and_of_the_condition_it_failed_in():
    still, cranks = scene(CODES), scene(NO_CRANK)
    assert (failing_key(still), failing_key(cranks)) == ("on", "crank")
    assert proof_hazards(still, "") == ()
    assert proof_hazards(still, "wet") == ("spray",)
    assert {"crank-limit", "moving-parts"} <= set(proof_hazards(cranks, "wet"))
    assert {"hot-parts", "fumes"} <= set(proof_hazards(still, "hot"))
    tip = Works(target="tip skip", works=False, situation=Situation(key="run"))
    assert "may-move" in proof_hazards(scene(tip), "")


def test_nobody_moves_the_mended_place_while_the_engine_turns():
    for key in ("crank", "run"):
        for condition in ("", "wet", "hot", "moved"):
            steps = " ".join(proof_steps(condition, key)).lower()
            assert "while the engine stands" in steps
            assert "while you watch" not in steps
    assert "while the engine stands" not in " ".join(proof_steps("", "on"))


def mended(*found):
    """The repair that a job ends in: its own caution before each step."""
    job = start(dumper()[0]).note(*found)
    for offer in job.next_checks:
        if offer.check.does == "repair":
            return offer
    raise AssertionError([offer.check.id for offer in job.next_checks])


def test_a_strap_is_mended_with_the_minus_off_and_proven_by_cranking_with_its_caution():
    floats = Reading(p="engine", value=3.0, situation=ON)
    mend = mended(*JOBS[1].arrival, Looked(target="engine strap", damage=True), floats)
    assert mend.check.target == "engine strap"
    assert LIFTED_FIRST in mend.steps
    before = cautions_at(mend.check.hazards, mend.steps)
    assert any("Crank at most 30 seconds" in words for words, _ in before[-1])


def test_a_flat_battery_is_charged_and_tested_before_it_is_renewed():
    """Common practice, no source."""
    rest = Reading(p="battery.+", value=10.5, situation=Situation(key="off"))
    load = Reading(p="battery.+", value=9.0, situation=ON)
    mend = mended(NO_CRANK, rest, load, Looked(target="battery", damage=True))
    assert mend.check.target == "battery"
    step = next(step for step in mend.steps if step.startswith("Charge and test battery"))
    assert "Charge it and test it" in step
    assert any("frozen battery" in words for words, _ in mend.cautions)
