"""The write-up says what the job's own events say, and what somebody would ask about."""

from __future__ import annotations

from math import inf

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.model import Probe
from backprobe.findings.model import (
    Act,
    Closed,
    CodesFound,
    DisplayRead,
    Failing,
    Looked,
    Mentioned,
    Reading,
    Withdrawn,
    Works,
)
from backprobe.jobs import JobRow
from backprobe.shop.demo import book_text
from backprobe.shop.history import closed_of
from backprobe.shop.job import Job, start
from backprobe.shop.write_up import CodeLine, minutes_spent, write_up
from backprobe.shop.write_up_text import as_text

UNIT = "engine unit"
ON, OFF = Situation(key="on"), Situation(key="off")


@pytest.fixture(scope="module")
def arrived() -> Job:
    book, _ = read_book(book_text("unplugged-sensor"), "small")
    assert book is not None
    return start(book).note(
        CodesFound(unit=UNIT, active=("100/4", "94/4"), stored=("102/4",)), Failing(answer="yes")
    )


def test_what_was_measured_stands_against_the_healthy_machine(arrived: Job) -> None:
    healthy = arrived.expect(Probe(kind="volts", p="battery.+"), situation=OFF)[0].value
    job = arrived.note(
        Reading(situation=OFF, p="battery.+", value=round(healthy, 2)),
        Reading(situation=OFF, p="battery.+", value=round(healthy - 2.0, 2)),
        Reading(situation=OFF, p="battery.+", value=12.0, to=3.0),
        Reading(situation=OFF, p="battery.+", value=0.0, trusted=False),
        DisplayRead(unit=UNIT, name="oil pressure", value=0.0),
    )
    up = write_up(job)
    assert [one.fits for one in up.measured] == [True, False, False, None]
    assert [one.where for one in up.measured][:1] == ["battery pin +"]
    assert up.measured[0].should == f"{healthy:.3g} V"
    assert up.measured[2].found == "jumps from 12 V to 3 V"
    assert up.measured[3].found == "0 kPa"


def test_an_ohmmeter_without_a_path_reads_as_it_should(arrived: Job) -> None:
    apart = Situation(key="off", unplugged=frozenset({"oil pressure sender"}), battery_off=True)
    probe = Probe(kind="ohms", p="oil pressure sender.2", n="oil pressure sender.1")
    healthy = arrived.expect(probe, situation=apart)[0].value
    job = arrived.note(
        Reading(situation=apart, instrument="ohmmeter", p=probe.p, n=probe.n, value=inf)
    )
    (row,) = write_up(job).measured
    assert row.found == "OL"
    assert row.fits == (healthy > 2e7)


def test_codes_are_told_from_first_to_last(arrived: Job) -> None:
    job = arrived.note(
        CodesFound(unit=UNIT, active=("100/4",), stored=("94/4",), by_test=("100/4",), visit=2)
    )
    assert write_up(job).codes == (
        CodeLine(
            unit=UNIT,
            code="100/4",
            words="oil pressure, voltage low",
            first="active",
            last="active",
        ),
        CodeLine(
            unit=UNIT,
            code="94/4",
            words=job.book.codes[UNIT, "94/4"].words,
            first="active",
            last="stored",
        ),
        CodeLine(
            unit=UNIT,
            code="102/4",
            words=job.book.codes[UNIT, "102/4"].words,
            first="stored",
            last="gone",
        ),
    )


def test_what_somebody_would_ask_about_comes_weightiest_first(arrived: Job) -> None:
    job = arrived.note(Act(act="unplugged", target="oil pressure sender"))
    assert write_up(job).gaps == (
        "No cause is named.",
        "No repair is noted.",
        "Still on the put-back list: oil pressure sender unplugged.",
        "The complaint is missing.",
    )


def test_a_repair_that_is_proven_and_written_down_leaves_no_question(arrived: Job) -> None:
    group = arrived.suspects[0].group
    mended = arrived.note(
        Looked(target=group, damage=True),
        Act(act="repaired", target=group, visit=2),
        Failing(answer="gone", visit=2),
        Failing(answer="gone", visit=3),
        CodesFound(unit=UNIT, visit=3),
        Closed(cause="plug off", done="plugged on", visit=3),
    )
    up = write_up(mended, "oil lamp on")
    assert up.proven
    assert up.gaps == ()
    assert up.closed
    assert up.mended == (group,)
    assert {one.last for one in up.codes} == {"gone"}
    assert up.said == ("Failing right now.",), "how it came in, not how it left"


def test_a_job_is_closed_until_something_is_noted_or_the_closing_taken_back(arrived: Job) -> None:
    closed = arrived.note(Closed(cause="plug off"))
    assert closed_of(closed.findings) is not None
    assert closed_of(closed.note(Failing(answer="gone")).findings) is None
    back = closed.note(Withdrawn(finding=closed.findings[-1].id))
    assert closed_of(back.findings) is None
    assert closed_of(()) is None


def test_minutes_are_those_between_notes_without_the_long_pauses() -> None:
    times = (60.0, 300.0, 2400.0, 2400.0 + 3601.0, 2400.0 + 3601.0 + 600.0)
    assert minutes_spent([Failing(answer="yes", at_s=t) for t in times]) == (2400.0 + 600.0) / 60.0
    assert minutes_spent([]) == 0.0


def test_the_text_says_all_of_it_in_lines_that_fit_a_message(arrived: Job) -> None:
    job = arrived.note(
        Mentioned(about="before it failed", words="wash", situation=OFF),
        Works(situation=ON, target="engine cranks", works=True, note="slowly"),
        Reading(situation=OFF, p="battery.+", value=9.0),
        Closed(
            cause="plug of the oil pressure sender was off " * 4,
            done="plugged on",
            parts="seal",
            left="cover off: the owner fits it",
            minutes=35.0,
        ),
    )
    row = JobRow(
        id="J-0007",
        machine="compact tractor",
        serial="77",
        hours=12.5,
        book_digest="",
        complaint="oil lamp on",
        started_at=0.0,
        tool_version="",
    )
    text = as_text(row, "2026-03-01", write_up(job, row.complaint))
    assert text.startswith("Job J-0007, 2026-03-01\ncompact tractor, serial 77, 12.5 h\n")
    for line in (
        "Complaint\n  oil lamp on\n  Failing right now.\n  Before it failed: wash.\n",
        f"  {UNIT} 100/4 oil pressure, voltage low: active\n",
        "Done\n  plugged on\n",
        "Parts\n  seal\n",
        "  battery pin +, key off: 9 V, should be ",
        "  engine cranks: works (key on, engine stopped). slowly\n",
        "Left as it is\n  cover off: the owner fits it\n",
        "Time\n  35 min\n",
    ):
        assert line in text
    assert max(len(line) for line in text.splitlines()) <= 78
