"""The contact of a lug is read across itself: from its post to the lug."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.model import MINUS
from backprobe.book.situations import Situation
from backprobe.checks.draft import planned
from backprobe.checks.layout import layout_of
from backprobe.checks.wording import node_words
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.findings.model import Failing, Reading, Works
from backprobe.kinds import KINDS
from backprobe.shop.job import start
from backprobe.shop.outlook import planned_on, standing
from checks.small_machine import ONE_LOAD

ON = Situation(key="on")


@pytest.fixture(scope="module")
def job():
    book, problems = read_book(ONE_LOAD, "press")
    assert book is not None, problems
    return start(book)


def test_a_lug_is_a_place_of_its_own_at_posts_and_studs_only(job):
    layout = layout_of(job.book, KINDS)
    assert {"G1:+<1>", "G1.-<4>", "GP1:1<3>", "GP1:1<4>"} <= set(layout.lugs)
    assert not [node for node in layout.lugs if node.startswith("F1")]
    assert node_words(layout, "G1:+<1>") == "the lug of wire 1, red, on G1 stud +"
    assert layout.net_at("G1:+<1>") == layout.net_at("G1:+")
    assert layout.net_at("G1.-<4>") == layout.net_at(MINUS)


def test_every_lug_is_a_node_of_the_circuit_and_reads_its_own_loss(job):
    layout = layout_of(job.book, KINDS)
    circuit: Circuit = job.circuit
    atoms = [circuit.defects.atoms[n].id for n in circuit.defects.atom_of]
    for node, lug in layout.lugs.items():
        post = MINUS if node.startswith("G1.-") else node.partition("<")[0]
        drop = Probe(kind="volts", p=post, n=node)
        read = np.abs(circuit.seen(ON, (drop,)).mean[:, 0])
        own = np.array([one == f"contact {node}" for one in atoms])
        assert own.any(), (node, lug)
        assert read[own].max() > 5.0
        assert read[~own].max() < 0.1


def test_it_is_proposed_and_tells_the_lug_from_all_else(job):
    """Volts at the far end of the ground wire leave its two lugs and the wire itself; one reading
    over the lug ends it."""
    found = job.note(
        Works(target="blower runs", works=False, situation=ON),
        Failing(answer="yes", situation=ON),
        Reading(p="GP1:1<3>", value=10.2, situation=ON),
    )
    assert not found.problems
    bad = found.note(Reading(p="GP1", n="GP1:1<3>", value=-10.1, situation=ON))
    good = found.note(Reading(p="GP1", n="GP1:1<3>", value=0.0, situation=ON))
    group = next(s for s in bad.suspects if "GP1" in s.group)
    assert bad.suspects[0].group == group.group
    assert group.chance > 0.95
    assert {s.group: s.chance for s in good.suspects}.get(group.group, 0.0) < 0.3


def test_a_suspected_lug_has_its_check(job):
    found = job.note(
        Works(target="blower runs", works=False, situation=ON), Failing(answer="yes", situation=ON)
    )
    near, belief = planned_on(standing(found.circuit, found.findings))
    plan = planned(job.book, near, found.state, belief)
    over = [c for c in plan.checks if c.probe and {c.probe.p, c.probe.n} & {"G1:+<1>", "GP1:1<3>"}]
    assert over
    assert all(c.does == "drop" for c in over)
    assert any("the lug of wire" in c.words for c in over)


def test_what_is_lost_over_a_lug_reads_positive_at_a_feed_and_at_a_ground(job):
    """Red where the current comes from: the post that feeds, the lug that brings it to ground."""
    found = job.note(
        Works(target="blower runs", works=False, situation=ON), Failing(answer="yes", situation=ON)
    )
    near, belief = planned_on(standing(found.circuit, found.findings))
    plan = planned(job.book, near, found.state, belief)
    layout = layout_of(job.book, KINDS)
    over = [c for c in plan.checks if c.does == "drop" and {c.probe.p, c.probe.n} & {*layout.lugs}]
    red = {c.probe.p for c in over if c.situation.bare() == ON}
    assert {"G1:+", "GP1:1<3>"} <= red
    for check in over:
        bad = job.circuit.seen(check.situation, (check.probe,)).mean[:, 0]
        assert bad.max() > 5.0
        assert bad.min() > -0.1


@pytest.mark.parametrize("leads", [("GP1:1", "GP1:1<3>"), ("GP1:1<3>", "GP1:1")])
def test_a_lug_that_was_read_either_way_round_is_not_asked_about_again(job, leads):
    """The other way round as older jobs noted it."""
    found = job.note(
        Works(target="blower runs", works=False, situation=ON),
        Failing(answer="yes", situation=ON),
        Reading(p=leads[0], n=leads[1], value=0.0, situation=ON),
    )
    near, belief = planned_on(standing(found.circuit, found.findings))
    plan = planned(job.book, near, found.state, belief)
    here = [c for c in plan.checks if c.does == "drop" and c.situation.bare() == ON]
    assert not [c for c in here if "GP1:1<3>" in (c.probe.p, c.probe.n)]
