"""What was opened once is not paid for again, by checks or by repairs; minutes are those of the book of
the small machine, or common practice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from backprobe.book.situations import Situation
from backprobe.checks.cost import access, open_places, repair_price, seconds
from backprobe.checks.course import at_once, saves_most
from backprobe.checks.layout import layout_of
from backprobe.checks.policy import expected_seconds
from backprobe.checks.table import Table
from backprobe.checks.worth import repair_seconds, score
from backprobe.defects.model import RepairGroup
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, Failing, FuseFound, Looked, Provoked, Reading
from checks import small_machine as small

BOOK = small.small_book()
LAYOUT = layout_of(BOOK, small.KINDS)
ON = Situation(key="on")


def left_open(*findings):
    return open_places(LAYOUT, fold(findings, start=ON))


def test_a_wire_that_was_clamped_is_clamped_at_an_open_place():
    clamped = Reading(id="r", instrument="clamp", p="10", value=1.0, situation=ON)
    assert left_open(clamped) == {"fuse box"}


def test_a_fuse_that_was_pulled_lies_open():
    assert left_open(FuseFound(id="f", fuse="F1", state="blown", situation=ON)) == {"fuse box"}


def test_a_weak_spot_is_got_at_with_its_section():
    assert "hinge" in left_open(Looked(id="l", target="hinge pin", damage=False, situation=ON))


def test_what_was_moved_or_wetted_is_open_up_to_where_it_showed():
    def tried(**more):
        places = ("seat run", "hinge")
        return Provoked(id="p", places=places, condition="wet", situation=ON, visit=1, **more)

    assert left_open(tried()) == {"seat run", "hinge"}
    back = Failing(id="f", visit=2, answer="yes", condition="wet")
    assert left_open(tried(shown_at="seat run"), back) == {"seat run"}


def test_who_comes_again_finds_all_closed():
    read = Reading(id="r", p="X1.1a", n="X1.2a", value=5.0, situation=ON, visit=1)
    assert left_open(read) == {"under the seat"}
    assert not left_open(read, Failing(id="f", visit=2, answer="yes"))


def test_a_repair_that_is_seen_to_fail_closes_nothing_one_that_passes_does():
    read = Reading(id="r", p="X1.1a", n="X1.2a", value=5.0, situation=ON, visit=1)
    mended = Act(id="a", act="repaired", target="F1", visit=2)
    fails = Failing(id="f", visit=2, answer="yes")
    assert left_open(read, mended, fails) == {"under the seat", "fuse box"}
    assert "under the seat" not in left_open(read, mended, replace(fails, answer="gone"))


def test_slots_and_sockets_of_a_box_are_under_one_cover():
    places = {"F1": "fuse box row 1 slot 2", "X1": "fuse box socket 3", "ECU": "fuse box 2"}
    parts = {n: replace(p, where=places.get(n, p.where)) for n, p in BOOK.parts.items()}
    layout = layout_of(replace(BOOK, parts=parts), small.KINDS)
    assert [layout.cover(n) for n in ("F1", "X1", "ECU")] == ["fuse box", "fuse box", "fuse box 2"]
    assert len(access(layout, frozenset(), ("F1", "X1"))) == 1


def test_a_repair_where_something_is_open_does_not_pay_for_opening_it():
    group = RepairGroup(key="X1", words="X1", mend_s=900.0, access=("X1",))
    shut = fold([], start=ON)
    read = fold([Reading(id="r", p="X1.1a", value=5.0, situation=ON)], start=ON)
    assert seconds(repair_price(LAYOUT, shut, group)) == pytest.approx(900 + 240 + 180)
    assert seconds(repair_price(LAYOUT, read, group)) == pytest.approx(900)


def two_suspects(**more) -> tuple[Table, np.ndarray]:
    """Two suspects alike; one check (60 s, opening takes 100 of it) tells them apart, and opens where
    the first is mended (200 s, 100 of it opening)."""
    table = Table(
        seconds=np.array([160.0]),
        outcome=np.array([[[1.0, 0.0], [0.0, 1.0]]]),
        group=np.array([0, 1]),
        repair=np.array([200.0, 500.0]),
        vain=300.0,
        opens=np.array([[True]]),
        near_s=np.array([60.0]),
        **more,
    )
    return table, np.array([0.5, 0.5])


def test_a_plan_reckons_what_its_checks_spare_the_repair():
    plain, mass = two_suspects()
    spared, _ = two_suspects(spared_s=np.array([[100.0], [0.0]]))
    apart = 160 + 0.5 * 200 + 0.5 * 500
    assert expected_seconds(plain, mass, saves_most) == pytest.approx(apart)
    assert expected_seconds(spared, mass, saves_most) == pytest.approx(apart - 0.5 * 100)
    at = at_once(spared, mass).seconds(1)[0]
    assert at == pytest.approx(200 + 0.5 * (300 + 500))
    assert score(spared, mass).saved_s[0] == pytest.approx(at - (apart - 50))


def test_handing_on_spares_nobody_the_mend():
    """At 0.85 of 120 min against 180 of handing on: 0.85 120 + 0.15 (120 + 180 + 10) to mend it, and
    180 + 0.85 120 + 0.15 10 to hand it on, by hand."""
    groups, never = np.array([0.85, 0.15, 0.0]), np.array([120.0, 1e7])
    others = np.array([120.0, 10.0])
    mend = 0.85 * 120 + 0.15 * (120 + 180 + 10)
    hand_on = 180 + 0.85 * 120 + 0.15 * 10
    assert float(repair_seconds(groups, never, 180.0, others=others)) == pytest.approx(mend)
    dear = repair_seconds(groups, never, 180.0, None, 0.0, 1200.0, others)
    assert mend + 0.15 * 1200 > hand_on
    assert float(dear) == pytest.approx(hand_on)


def test_a_unit_is_found_where_mending_it_is_better_than_handing_it_on():
    """(mend + lost in vain) / (that + handing on), from the two costs being alike."""
    table = Table(
        seconds=np.zeros(0),
        outcome=np.zeros((0, 1, 1)),
        group=np.array([0]),
        repair=np.array([120.0]),
        escalate=180.0,
        vain=1200.0,
        sure=0.5,
        others=np.array([120.0]),
    )
    p = float(table.found_at[0])
    assert p == pytest.approx(1320 / 1500)
    one = np.array([p, 1.0 - p])
    mend = p * 120 + (1 - p) * (120 + 1200 + 180)
    cost = repair_seconds(one, table.repair, 180.0, None, 0.0, 1200.0, table.others)
    assert float(cost) == pytest.approx(mend) == pytest.approx(180 + p * 120)
