"""The verdict: groups, reasons in words and figures, what does not add up."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from backprobe.book.situations import Situation
from backprobe.findings.model import Act, CodesFound, Failing, Reading
from backprobe.suspects.verdict import judge, verdict
from backprobe.suspects.weigh import weigh

RUN = Situation(key="run")


def machine(bench: Any) -> tuple[Any, Any]:
    """Two sensors on one 5 V wire "w"; sensor "s" may also pull its own pin down."""
    defects = bench.defects(
        bench.atom("w", words="wire 50 rubbed through to ground"),
        bench.atom("s", words="rail sensor: signal stuck low"),
        bench.atom("far", words="lamp burnt out"),
    )
    rules = (bench.low("157/4", "31"), bench.low("100/4", "32"), bench.low("97/4", "33"))
    volts = {
        "U:31": [1.0, 0.1, 0.1, 1.0],
        "U:32": [1.0, 0.1, 1.0, 1.0],
        "U:33": [1.0, 1.0, 1.0, 1.0],
        "A": [4.98, 0.6, 4.98, 4.98],
    }
    return bench.book(*rules), bench.tables(defects, volts=volts)


def look(bench: Any, *findings: Any) -> Any:
    """The verdict of these findings."""
    book, predictor = machine(bench)
    job = bench.job(*findings)
    return verdict(book, predictor, job, weigh(book, predictor, job))


CODES = CodesFound(id="c", unit="U", active=("157/4", "100/4"), situation=RUN)


def test_one_defect_behind_two_codes_leads_and_says_why(bench: Any) -> None:
    found = look(bench, CODES, Reading(id="r", p="A", value=0.62, situation=RUN))
    first = found.suspects[0]
    assert first.group == "w"
    assert first.names[0][0] == "wire 50 rubbed through to ground"
    assert first.explains == ("U 157/4", "U 100/4")
    assert first.paths == (
        "U senses 0.10 V at pin 31, healthy 1.0 V; set below 0.5 V",
        "U senses 0.10 V at pin 32, healthy 1.0 V; set below 0.5 V",
    )
    assert first.leaves_open == ()
    words = {reason.finding: reason.words for reason in first.reasons}
    assert words["r"] == (
        "found 0.62 V at A to battery minus, this defect would read 0.60 V, healthy 5.0 V"
    )
    assert words["c"] == "U: explains 157/4, 100/4"
    assert all(reason.factor > 1.0 for reason in first.reasons)
    assert found.state == "decided"


def test_the_other_suspect_says_what_it_leaves_open(bench: Any) -> None:
    found = look(bench, CODES)
    second = next(suspect for suspect in found.suspects if suspect.group == "s")
    assert second.explains == ("U 157/4",)
    assert second.leaves_open == ("U 100/4",)
    assert second.reasons[0].words == "U: explains 157/4; does not explain 100/4"
    assert second.reasons[0].factor < 1.0


def test_a_missing_code_is_said(bench: Any) -> None:
    found = look(bench, CodesFound(id="c", unit="U", active=("157/4",), situation=RUN))
    assert found.suspects[0].group == "s"
    wire = next(suspect for suspect in found.suspects if suspect.group == "w")
    assert wire.reasons[0].words == "U: explains 157/4; would also set 100/4"


def test_left_out_by_a_full_second_weighing_gives_the_same_factor(bench: Any) -> None:
    """The factors against weigh() itself with and without the finding."""
    book, predictor = machine(bench)
    reading = Reading(id="r", p="A", value=0.62, situation=RUN)
    with_it, without = bench.job(CODES, reading), bench.job(CODES)
    full, rest = weigh(book, predictor, with_it), weigh(book, predictor, without)
    found = verdict(book, predictor, with_it, full)
    for suspect in found.suspects:
        atom = next(k for k, a in enumerate(predictor.defects.atoms) if a.group == suspect.group)
        rows = full.atom == atom
        expected = full.chance[rows].sum() / rest.chance[rows].sum()
        factors = [r.factor for r in suspect.reasons if r.finding == "r"]
        assert factors == [pytest.approx(expected, rel=1e-6)]


def test_a_reading_nobody_predicts_is_odd(bench: Any) -> None:
    readings = [
        Reading(id=f"r{k}", p="A", value=value, situation=RUN) for k, value in enumerate((7.9, 8.1))
    ]
    found = look(bench, *readings)
    assert found.not_in_book > 0.2
    assert found.state == "odd"
    odd = {c.finding: c for c in found.contradictions}
    assert set(odd) == {"r0", "r1"}
    as_healthy = "5.0 V, as a healthy machine does"
    assert odd["r0"].words == (
        "does not fit the rest: found 7.9 V at A to battery minus, this defect would read "
        f"{'0.60 V, healthy 5.0 V' if found.suspects[0].group == 'w' else as_healthy}"
    )
    assert odd["r0"].ways_out == (
        "measure again: right pin, right side of the plug, other lead on battery minus",
        "was it really with engine running?",
        "the machine may differ from the wiring book: an add-on, an altered or missing wire",
        "there may be two defects at once",
    )


def test_who_would_lead_without_what_does_not_add_up_is_said(bench: Any) -> None:
    """The figure told is that of a job in which the finding was never made."""
    odd = Reading(id="r", p="A", value=8.0, situation=RUN)
    found = look(bench, CODES, odd)
    (contradiction,) = [c for c in found.contradictions if c.finding == "r"]
    without = {s.group: s for s in look(bench, CODES).suspects}["w"]
    now = {s.group: s for s in found.suspects}["w"]
    assert contradiction.without == (
        "measuring again changes little: "
        f"without it {without.words} would stand at {100 * without.chance:.0f} %, now {100 * now.chance:.0f} %"
    )


def test_a_code_the_book_does_not_have_is_said(bench: Any) -> None:
    found = look(bench, CodesFound(id="c", unit="U", active=("999/1",), situation=RUN))
    assert [c.words for c in found.contradictions] == [
        "code U 999/1 is not in the wiring book and says nothing yet"
    ]


def test_a_code_every_likely_suspect_leaves_open_is_said(bench: Any) -> None:
    found = look(
        bench,
        CodesFound(id="c", unit="U", active=("157/4", "100/4", "97/4"), situation=RUN),
        Reading(id="r", p="A", value=0.6, situation=RUN),
    )
    assert "no likely suspect explains code U 97/4" in [c.words for c in found.contradictions]
    assert "U 97/4" in found.suspects[0].leaves_open


def test_a_place_the_book_does_not_know_is_said(bench: Any) -> None:
    found = look(bench, Reading(id="r", p="nowhere", value=3.0, situation=RUN))
    assert [c.words for c in found.contradictions] == [
        (
            "not weighed: 3 V at nowhere to battery minus; the wiring book does not have this place, "
            "or nothing flows there in this situation"
        )
    ]


def test_judging_in_one_go_gives_the_same(bench: Any) -> None:
    book, predictor = machine(bench)
    job = bench.job(CODES, Reading(id="r", p="A", value=0.62, situation=RUN))
    belief, found = judge(book, predictor, job)
    asked = len(predictor.asked)
    np.testing.assert_array_equal(belief.chance, weigh(book, predictor, job).chance)
    assert len(predictor.asked) == 2 * asked
    assert found == verdict(book, predictor, job, belief)


def test_states_of_a_job(bench: Any) -> None:
    assert look(bench).state == "open"
    assert look(bench, Failing(id="g", answer="gone")).state == "gone"
    assert look(bench, Failing(id="g", answer="yes")).state == "open"


def test_chances_and_remainders_sum_to_one(bench: Any) -> None:
    found = look(bench, CODES, Act(id="a", act="unplugged", target="w", visit=2))
    total = sum(s.chance for s in found.suspects) + found.not_in_book + found.healthy
    assert total == pytest.approx(1.0, abs=0.01)
    assert np.all(np.diff([s.chance for s in found.suspects]) <= 0.0)
