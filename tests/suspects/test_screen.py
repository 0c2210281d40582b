"""After arrival only what may matter is weighed; what that costs, and how what was left out returns.

Laws of the model, no outside source: fewer hypotheses must not change what is believed.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import AnyFinding, CodesFound, Failing, JobState, Reading, Works
from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.outlook import usual_life
from backprobe.suspects import verdict
from backprobe.suspects.screen import LEAST, screened, taken_in
from backprobe.suspects.verdict import judge_with_pairs


@cache
def circuit() -> Circuit:
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None, problems
    return Circuit.of(book)


def job(*findings: AnyFinding) -> JobState:
    numbered = [replace(f, id=f.id or f"f{k}") for k, f in enumerate(findings)]
    return fold(numbered, usual_life=usual_life(circuit().book))


ARRIVAL = JOBS[1].arrival
VOLTS = Reading(p="K1.30", value=12.1, situation=ARRIVAL[0].situation)


def test_arrival_ends_with_the_first_measurement() -> None:
    state = job(*ARRIVAL, VOLTS, Works(target="horn", works=True))
    assert taken_in(state) == state.findings[: len(ARRIVAL)]
    pulled = replace(ARRIVAL[0].situation, pulled=frozenset({"F1"}))
    opened = job(Failing(answer="yes"), CodesFound(unit="ECU", situation=pulled))
    assert len(taken_in(opened)) == 1


def test_everything_is_weighed_until_something_is_measured() -> None:
    assert screened(circuit(), job(*ARRIVAL)) is circuit()
    assert screened(circuit(), job(VOLTS)) is circuit(), "nothing was noted before"


def test_afterwards_whole_ladders_of_severity_are_followed() -> None:
    some = screened(circuit(), job(*ARRIVAL, VOLTS))
    assert LEAST <= some.cases.count < circuit().cases.count // 2
    atoms = np.unique(some.defects.atom_of)
    whole = np.isin(circuit().defects.atom_of, atoms)
    assert some.ident.tolist() == np.flatnonzero(whole).tolist()
    assert screened(circuit(), job(*ARRIVAL, VOLTS, replace(VOLTS, p="K1.87"))) is some


def test_the_chances_are_those_of_weighing_everything() -> None:
    state = job(*ARRIVAL, VOLTS)
    some, whole = judge_with_pairs(circuit(), state), verdict._judged(circuit(), state)
    assert some.circuit.cases.count < whole.circuit.cases.count
    found = {s.group: s.chance for s in some.verdict.suspects}
    for suspect in whole.verdict.suspects[:5]:
        assert found[suspect.group] == pytest.approx(suspect.chance, abs=0.01)


def test_what_was_left_out_comes_back_when_nothing_else_explains_the_readings() -> None:
    """A code about one thing, then readings of a machine with quite another thing wrong."""
    whole, on = circuit(), Situation(key="on")
    told = CodesFound(unit="ECU", active=("639/9",), complete=True, situation=on)
    some = screened(whole, job(told, replace(VOLTS, situation=on)))
    left = np.setdiff1d(np.arange(whole.cases.count), some.ident)
    assert left.size > whole.cases.count // 3
    pins = [n for n in whole.net.nodes if n.endswith((".1", ".2")) and ":" not in n][::3]
    volts = whole.seen(on, [Probe(kind="volts", p=pin) for pin in pins]).mean
    moved = (np.abs(volts - volts[0]) > 2.0).sum(axis=1)
    atoms = [whole.defects.atoms[whole.defects.atom_of[h]] for h in left]
    broken = np.array([atom.kind == "open" for atom in atoms])
    truth = int(left[np.argmax(np.where(broken, moved[left], 0))])
    far = np.abs(volts[truth] - volts[0])
    read = [
        Reading(p=pins[k], value=float(volts[truth, k]), situation=on)
        for k in np.argsort(-far)[:12]
    ]
    found = judge_with_pairs(whole, job(told, *read))
    assert found.circuit.cases.count >= whole.cases.count
    group = whole.defects.atoms[whole.defects.atom_of[truth]].group
    assert group in [suspect.group for suspect in found.verdict.suspects]
