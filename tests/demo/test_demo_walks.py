"""The first demo job, worked by following the first proposal every time. The others are worked so on the
page, in tests/web/test_web_walks.py."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Lead, Situation
from backprobe.findings.model import Act, Failing, Reading
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
    lamp = Lead(kind="lamp 55 W", p="F5.1", n="F5.2")
    beacon = Situation(key="on", on=frozenset({"S3"}))
    reading = Reading(
        id="lamp", p="F5.1", n="F5.2", value=11.72, visit=1,
        situation=replace(
            beacon, unplugged=frozenset({"beacon"}), pulled=frozenset({"F5"}), fitted=(lamp,)
        ),
    )  # fmt: skip
    job = dumper().note(*demo.arrival, reading)
    group = next(a.group for a in job.circuit.defects.atoms if a.id == demo.truth.atom)
    mended = Act(id="mended", act="repaired", target=group, visit=2)
    gone = Failing(id="gone", answer="gone", visit=2, situation=beacon)
    found = job.note(mended, gone).verdict
    assert not found.contradictions
