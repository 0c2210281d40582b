"""Findings the book cannot place are refused through the API too, and nothing of them is kept."""

from __future__ import annotations

from functools import cache

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Lead, Situation
from backprobe.checks.generate import from_scene
from backprobe.checks.layout import layout_of
from backprobe.checks.outcomes import NOTHING
from backprobe.checks.scene import scene_of
from backprobe.findings.model import (
    Act,
    AnyFinding,
    CodesFound,
    DisplayRead,
    FuseFound,
    Looked,
    Provoked,
    Reading,
    Works,
)
from backprobe.kinds import KINDS
from backprobe.shop.answer import Answer, answered
from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.displays import beyond_display
from backprobe.shop.fitting import unfit
from backprobe.shop.job import Job, start

ON = Situation(key="on")


@cache
def dumper() -> Job:
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None, problems
    return start(book)


@pytest.mark.parametrize(
    ("finding", "what"),
    [
        (CodesFound(unit="EUC", active=("157/4",)), "The book has no unit 'EUC'."),
        (Reading(p="X10.33", value=5.0), "The book has no place to measure 'X10.33'."),
        (Reading(p="X10.3", n="nowhere", value=5.0), "The book has no place to measure 'nowhere'."),
        (Reading(instrument="clamp", p="999", value=5.0), "The book has no wire '999'."),
        (
            DisplayRead(unit="ECU", name="ghost", value=1.0),
            "The book has no display value 'ECU ghost'.",
        ),
        (
            DisplayRead(unit="ECU", name="oil pressure", value=987654.0),
            "987654 bar is no value of oil pressure on the display of ECU: it can show 0 to 10 bar.",
        ),
        (
            Reading(p="X10.3", value=120.0),
            "120 V cannot be read on a 12 V machine: nothing on it holds more than 36 V.",
        ),
        (
            Reading(p="X10.3", value=4.9, to=-49.0),
            "-49 V cannot be read on a 12 V machine: nothing on it holds more than 36 V.",
        ),
        (Works(target="sails", works=True), "The book has no function or part 'sails'."),
        (FuseFound(fuse="F55", state="blown"), "The book has no fuse 'F55'."),
        (Looked(target="moon", damage=True), "The book has no place 'moon'."),
        (Provoked(places=("hinge", "moon"), condition="wet"), "The book has no place 'moon'."),
        (Act(act="repaired", target="moon"), "The book has no part or suspect 'moon'."),
        (Act(act="codes cleared", target="EUC"), "The book has no unit 'EUC'."),
        (
            Works(target="K3", works=True, situation=Situation(unplugged=frozenset({"X99"}))),
            "The book has no part 'X99'.",
        ),
        (
            Works(target="K3", works=True, situation=Situation(on=frozenset({"S99"}))),
            "The book has no switch 'S99'.",
        ),
        (
            Reading(
                p="X10.3",
                value=1.0,
                situation=Situation(fitted=(Lead(kind="jumper", p="X10.3", n="Q"),)),
            ),
            "The book has no place to measure 'Q'.",
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_error_note_takes_nothing_in_that_the_book_does_not_have(
    finding: AnyFinding, what: str
) -> None:
    good = Works(target="horn sounds", works=True, situation=ON)
    job = dumper().note(good, finding)
    assert [problem.what for problem in job.problems] == [what]
    assert job.findings == (), "nothing of what was handed over together is kept"
    again = job.note(good)
    assert again.problems == ()
    assert len(again.findings) == 1


def test_near_names_are_offered() -> None:
    (problem,) = dumper().note(FuseFound(fuse="f5", state="blown")).problems
    assert str(problem) == (
        "error: The book has no fuse 'f5'. [finding-unknown-name]\n"
        "  why: A finding about something the book does not have cannot be weighed.\n"
        "  do:  Use the name as the book prints it. Did you mean F5?"
    )


def test_all_that_a_demo_job_and_its_suspects_name_fits() -> None:
    job = dumper()
    for demo in JOBS:
        assert job.note(*demo.arrival).problems == ()
    acts = [Act(act="repaired", target=group.key) for group in job.circuit.defects.groups]
    looks = [Looked(target=group.key, damage=False) for group in job.circuit.defects.groups]
    assert len(acts) > 100
    assert job.note(*acts, *looks).problems == ()


def test_a_display_shows_whatever_a_voltage_of_the_machine_can_put_there() -> None:
    """0.5 V to 4.5 V is 0 to 10 bar: 0 V shows -1.25, a charging battery's 15 V 36.25 bar."""
    book = dumper().book
    for value in (-1.25, 0.0, 10.0, 11.25, 36.25):
        assert beyond_display(book, "ECU", "oil pressure", value) == ""
    for value in (-2.0, 37.0, 987654.0):
        assert beyond_display(book, "ECU", "oil pressure", value) == "0 to 10 bar"


def test_a_meter_shows_whatever_a_start_from_twice_the_volts_or_a_coil_can_put_there() -> None:
    """28 V from another machine's alternator; a peak hold also catches the spike of a coil."""
    job = dumper()
    for reading in (
        Reading(p="X10.3", value=28.4),
        Reading(p="X10.3", value=-28.4, instrument="lamp"),
        Reading(p="X10.3", value=-95.0, to=13.0, instrument="min-max"),
    ):
        assert job.note(reading).problems == ()


def test_every_check_that_is_proposed_can_be_answered():
    """Candidates near a dead sensor signal, ohms inside the unplugged sensor among them."""
    job = dumper().note(CodesFound(unit="ECU", active=("174/3",), situation=ON))
    scene = scene_of(layout_of(job.book, KINDS), job.state, job.weighed.defects, job.belief)
    checks = [c for c in from_scene(scene) if c.probe is not None and c.does != "display"]
    assert any(":" in c.probe.p for c in checks)
    for check in checks:
        silent = Answer(word=NOTHING[check.does]) if check.does in NOTHING else Answer(value=1.0)
        found = answered(check, silent, job.state)
        assert unfit(job.circuit, found) == (), check.words
