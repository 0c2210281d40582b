"""When a new fuse is worth fitting: the battery's feed on one side of the old one, nothing on the other."""

from __future__ import annotations

from dataclasses import replace

import pytest

from backprobe.book.situations import Situation
from backprobe.checks.hands import by_hand
from backprobe.checks.layout import layout_of
from backprobe.checks.scene import scene_of
from backprobe.findings.fold import fold
from backprobe.findings.model import Reading
from checks import small_machine as small

BOOK = small.small_book()
ON, LIT = Situation(key="on"), Situation(key="on", on=frozenset({"work light"}))
SWITCHED = replace(BOOK, wires={**BOOK.wires, "1": replace(BOOK.wires["1"], a=BOOK.wires["71"].b)})
"""The same with the fuse behind a valve instead of on the battery."""


def fitted_new(book, fed, dead):
    layout = layout_of(book, small.KINDS)
    read = (
        Reading(id="a", p="F1.1", value=12.1, situation=fed),
        Reading(id="b", p="F1.2", value=0.02, situation=dead),
    )
    scene = scene_of(layout, fold(read), small.small_defects(), small.believe({1: 1.0}))
    return {check.target for check in by_hand(scene) if check.does == "new fuse"}


@pytest.mark.parametrize(("fed", "dead"), [(ON, ON), (LIT, ON), (ON, LIT)])
def test_a_fuse_on_the_battery_is_blown_whatever_was_switched_on(fed, dead):
    assert fitted_new(BOOK, fed, dead) == {"F1"}


def test_a_fuse_that_is_not_always_fed_is_judged_in_one_situation():
    assert fitted_new(SWITCHED, ON, ON) == {"F1"}
    assert not fitted_new(SWITCHED, LIT, ON)


def test_without_the_battery_nothing_is_said():
    off = Situation(key="off", battery_off=True)
    assert not fitted_new(BOOK, ON, off)
