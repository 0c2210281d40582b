"""A part is looked at once, its plug and all; the eye tells them apart."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.draft import planned
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Failing, Looked, Works
from backprobe.shop.answer import Answer, answered
from backprobe.shop.job import Job, start
from backprobe.shop.outlook import planned_on, standing
from backprobe.suspects.weigh import weigh

BOOK = """
machine press, 12 V
G1: battery
F1: fuse 10 A
lamp 1: lamp 21 W
GP1: ground stud, on frame
G1.+ > F1.1, 4 mm2, RD, wire 1
F1.2 > lamp 1.1, 2.5 mm2, RD, wire 2
lamp 1.2 > GP1, 2.5 mm2, BN, wire 3
GP1 > G1.-, 16 mm2, BK, wire 4
function lamp lights: needs lamp 1, key on
"""
ON = Situation(key="on")


@pytest.fixture(scope="module")
def job() -> Job:
    book, problems = read_book(BOOK, "press")
    assert book is not None, problems
    dead = Works(target="lamp lights", works=False, situation=ON)
    return start(book).note(dead, Failing(answer="yes", situation=ON))


def looks(job: Job):
    near, belief = planned_on(standing(job.circuit, job.findings))
    plan = planned(job.book, near, job.state, belief)
    return {
        check.target: (check, shown)
        for check, shown in zip(plan.checks, plan.shown, strict=True)
        if check.does == "look"
    }, plan


def test_one_look_for_a_part_and_its_plug(job: Job) -> None:
    found, _ = looks(job)
    parts = [check.opens[0] for check, _ in found.values() if check.opens[0] in job.book.parts]
    assert len(parts) == len(set(parts))
    check, shown = found["plug at lamp 1, lamp 1"]
    assert check.words.startswith("Look closely at plug at lamp 1 and lamp 1: filament whole")
    assert shown.words == (
        "damage at plug at lamp 1",
        "damage at lamp 1",
        "nothing to see",
    )


def test_what_it_promises_is_what_its_answer_is_worth(job: Job) -> None:
    """The plug that shows nothing is not looked at twice because the lamp is looked at as well."""
    found, plan = looks(job)
    check, shown = found["plug at lamp 1, lamp 1"]
    after = job.note(*answered(check, Answer(word="nothing to see"), job.state))
    assert [f.target for f in after.findings if isinstance(f, Looked)] == [
        "plug at lamp 1",
        "lamp 1",
    ]
    circuit: Circuit = job.circuit
    atoms = [circuit.defects.atoms[n] for n in circuit.defects.atom_of]
    before, later = (weigh(job.book, circuit, one.state).hypothesis for one in (job, after))
    plug = next(n for n, a in enumerate(atoms) if a.group == "plug at lamp 1" and before[n] > 1e-6)
    wire = next(n for n, a in enumerate(atoms) if a.id.startswith("wire 2/open"))
    ratio = (later[plug] / later[wire]) / (before[plug] / before[wire])
    seen = atoms[plug].visible
    assert ratio == pytest.approx(1.0 - seen, abs=0.03)
    row = int(np.flatnonzero(plan.stories.rows == plug)[0])
    assert shown.chance[-1, row] == pytest.approx((1.0 - seen) * 0.97**2, abs=0.03)


def test_the_part_is_left_once_the_plug_was_looked_at(job: Job) -> None:
    seen = job.note(Looked(target="plug at lamp 1", damage=False, situation=Situation(key="off")))
    found, _ = looks(seen)
    assert "lamp 1" in found
    assert not [target for target in found if "plug at lamp 1" in target]


def test_a_look_at_the_part_alone_still_speaks_of_its_plug(job: Job) -> None:
    """Whoever types "looked lamp 1: nothing" has had its plug in hand."""
    circuit: Circuit = job.circuit
    groups = np.array([circuit.defects.atoms[n].group for n in circuit.defects.atom_of])
    seen = fold([*job.findings, Looked(id="l", target="lamp 1", damage=True)])
    before, after = (weigh(job.book, circuit, one).hypothesis for one in (job.state, seen))
    plug = groups == "plug at lamp 1"
    assert after[plug].sum() > 2.0 * before[plug].sum()
