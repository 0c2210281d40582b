"""The first demo job, worked by following the first proposal every time. The others are worked so on the
page, in tests/web/test_web_walks.py."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.shop.answer import Answer, answered
from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.demo.jobs import DemoJob
from backprobe.shop.job import Job, start
from oracles.technician import Machine, Walked, follow

AFTER_WASHING = JOBS[0]


@cache
def dumper() -> Job:
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper.book")
    assert book is not None, problems
    return start(book)


def walk(demo: DemoJob, *, gone: bool, seed: int, most: int) -> Walked:
    job = dumper().note(*demo.arrival)
    defects = job.circuit.defects
    atom = next(k for k, a in enumerate(defects.atoms) if a.id == demo.truth.atom)
    severities = np.flatnonzero(defects.atom_of == atom)
    hypothesis = severities[np.argmin(np.abs(np.log(defects.ohm[severities] / demo.truth.ohm)))]
    machine = Machine(
        job.circuit,
        int(hypothesis),
        gone=gone,
        condition=demo.truth.condition if gone else "",
        places=("hinge", demo.truth.spot) if gone else (),
        seed=seed,
    )
    return follow(job, machine, most=most)


@pytest.mark.parametrize("seed", [0, 1])
def test_after_washing_leads_to_the_rubbed_lead_in_five_checks_and_25_minutes(seed: int) -> None:
    walked = walk(AFTER_WASHING, gone=True, seed=seed, most=5)
    assert walked.right, walked.done
    assert walked.leading[0][0] == "wire 41a (ECU to X10)"
    assert walked.in_vain == 0
    assert round(walked.seconds / 60) <= 25, walked.done


def test_once_the_repair_is_proven_nothing_is_odd_though_a_fuse_was_renewed_before() -> None:
    """What was read before the wire was mended fits the wire as it was: that a colleague fitted a new
    fuse the day before mended the fuse, not the wire."""
    demo = next(job for job in JOBS if job.name == "lights-dead")
    job = dumper().note(*demo.arrival)
    defects = job.circuit.defects
    atom = next(k for k, a in enumerate(defects.atoms) if a.id == demo.truth.atom)
    machine = Machine(job.circuit, int(np.flatnonzero(defects.atom_of == atom)[0]), seed=0)
    for _ in range(8):
        check = job.proposal.next[0].check
        if check.does == "repair":
            break
        job = job.note(*answered(check, machine.answer(check), job.state))
    assert check.target == defects.atoms[atom].group
    found = job.note(*answered(check, Answer(word="passes"), job.state)).verdict
    assert found.state == "proven"
    assert not found.contradictions
