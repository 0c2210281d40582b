"""A part grounded through its body is measured to that metal: the battery's minus lead is off."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.draft import planned
from backprobe.defects.model import Probe
from backprobe.findings.model import Failing, FuseFound, Works
from backprobe.shop.demo import book_text
from backprobe.shop.job import Job, start
from backprobe.shop.outlook import planned_on, standing

ON = Situation(key="on")


@pytest.fixture(scope="module")
def job() -> Job:
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None, problems
    return start(book).note(
        Works(target="preheat", works=False, situation=ON),
        FuseFound(fuse="F20", state="blew", situation=ON),
        Failing(answer="yes", situation=ON),
    )


def test_a_shorted_glow_plug_is_told_by_its_ohms_with_the_wire_off(job: Job):
    """1.0 to 1.5 ohm is a sound one (Westerbeke), a shorted one none. The plug's wire is off, and so is
    the battery: measured to battery minus every plug read OL."""
    stands = standing(job.circuit, job.findings)
    near, belief = planned_on(stands)
    plan = planned(job.book, near, stands.state, belief)
    found = [
        (check, shown)
        for check, shown in zip(plan.checks, plan.shown, strict=True)
        if check.does == "ohms" and check.target.startswith("glow plug")
    ]
    assert found
    for check, shown in found:
        assert check.probe is not None
        assert check.probe.n == "engine"
        bad = plan.stories.keys.index(check.target)
        some = plan.stories.group == bad
        short = shown.chance[0, some] @ plan.stories.mass[some] / plan.stories.mass[some].sum()
        assert short > 0.5  # the rest burnt out, which reads OL
        others = ~some & (plan.stories.mass > 0.01)
        assert shown.chance[0, :-1][others[:-1]].max() < 0.1


def test_with_its_nut_off_a_glow_plug_reads_its_own_ohms_and_not_those_of_the_rail(job: Job):
    circuit = job.circuit
    dead = Situation(key="off", unplugged=frozenset({"glow plug 1"}), battery_off=True)
    probe = Probe(kind="ohms", p="glow plug 1:1", n="engine")
    mean = circuit.seen(dead, [probe]).mean[:, 0]
    assert mean[0] == pytest.approx(1.35, rel=0.1)
    atom = [a.id for a in circuit.defects.atoms].index("glow plug 1/shorted")
    assert mean[np.flatnonzero(circuit.defects.atom_of == atom)] == pytest.approx(0.02, abs=0.05)


def test_the_ground_wire_of_a_load_that_moves_the_machine_is_measured_dead(job: Job):
    """Worked by hand: 1 mm2 of wire to its stud is well below an ohm, a broken one reads OL. The load is
    not switched on for it."""
    run = Situation(key="run", on=frozenset({"S4", "S5"}))
    told = start(job.book).note(
        Works(target="tip skip", works=False, situation=run),
        Failing(answer="yes", situation=ON),
    )
    stands = standing(told.circuit, told.findings)
    near, belief = planned_on(stands)
    plan = planned(told.book, near, stands.state, belief)
    (at,) = (
        k
        for k, c in enumerate(plan.checks)
        if c.probe is not None
        and (c.does, c.probe.p, c.probe.n) == ("ohms", "tip lock valve.2", "frame")
    )
    check, shown = plan.checks[at], plan.shown[at]
    assert (check.situation.key, check.situation.battery_off) == ("off", True)
    assert check.situation.unplugged == {"tip lock valve"}
    assert not check.situation.on
    assert shown.healthy is not None
    assert shown.healthy < 0.3
    atoms = near.defects.atoms
    broken = [
        k
        for k, h in enumerate(plan.stories.rows)
        if atoms[near.defects.atom_of[h]].id == "wire 54d/open/valve run"
    ]
    assert broken
    assert shown.chance[-1, broken].min() > 0.9
