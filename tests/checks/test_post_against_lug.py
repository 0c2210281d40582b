"""A weak battery against its bad lug: volts at the post come before either is mended (common practice,
no source: read from post to post, then from post to lug, under load)."""

from __future__ import annotations

import pytest

import backprobe
from backprobe.book.situations import Situation
from backprobe.findings.model import Failing, Reading, Works
from backprobe.shop.demo import book_text

CRANK = Situation(key="crank")
BEHIND = Reading(p="isolator:2", value=7.0, situation=CRANK)
"""Volts behind lug, cable and isolator while it should crank."""


@pytest.fixture(scope="module")
def job():
    book, _ = backprobe.read_book(book_text("tracked-dumper"))
    dead = Works(target="engine cranks", works=False, situation=CRANK)
    found = backprobe.start(book).note(dead, Failing(answer="yes", situation=CRANK), BEHIND)
    assert not found.problems
    return found


def chance(job, group):
    return next((one.chance for one in job.suspects if one.group == group), 0.0)


def at_the_post(job, volts):
    found = job.note(Reading(p="battery:+", value=volts, situation=CRANK))
    assert not found.problems
    return found


def test_the_post_is_read_before_a_battery_is_renewed(job):
    """At most one other check comes before it, as harmless as the drop at a ground."""
    assert chance(job, "battery") > 0.5
    first, second = (step.check for step in job.next_checks[:2])
    assert {first.does, second.does} <= {"volts", "drop"}
    assert ("volts", "battery:+") in {(one.does, one.probe.p) for one in (first, second)}


def test_a_post_that_holds_its_volts_clears_the_battery(job):
    """What is lost is lost behind the post: it is read on from there, across the lug or at the other end of the
    cable, before anything is mended."""
    good = at_the_post(job, 12.1)
    assert chance(good, "battery") < 0.1
    assert chance(good, "lugs at battery") > 4.0 * chance(good, "battery")
    check = good.next_checks[0].check
    assert (check.does, check.probe.p) in {("drop", "battery:+"), ("volts", "isolator:1")}


def test_a_post_that_falls_with_the_rest_clears_the_lug(job):
    bad = at_the_post(job, 7.1)
    assert chance(bad, "battery") > 0.9
    assert chance(bad, "lugs at battery") < 0.02
