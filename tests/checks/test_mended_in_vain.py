"""What was mended in vain is not mended again: the findings that fit it so well are doubted."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book.situations import Situation
from backprobe.checks.draft import in_vain
from backprobe.checks.stories import set_aside
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, Failing
from checks import small_machine as small

DONE = Act(id="m", visit=2, act="repaired", target="sensor")
YES = Failing(id="y", visit=2, answer="yes", situation=Situation(key="on"))
GONE = Failing(id="g", visit=2, answer="gone", situation=Situation(key="on"))


def test_a_repair_is_in_vain_once_it_is_said_to_fail_still():
    before = Failing(id="b", answer="yes")
    assert in_vain(fold([before, DONE])) == ()
    assert in_vain(fold([before, DONE, GONE])) == ()
    assert in_vain(fold([before, DONE, YES])) == ("sensor",)


def test_what_was_mended_in_vain_is_set_aside_and_the_rest_share_its_chance():
    """By hand: 0.8 set aside, 0.15 and 0.05 of what is in the book are left, and the 0.02 that is not."""
    defects = small.small_defects()
    belief = small.believe({1: 0.8, 2: 0.15, 3: 0.05}, outside=0.02)
    left = set_aside(defects, belief, [defects.atoms[1].group])
    total = np.bincount(np.maximum(left.atom, 0), left.chance, minlength=4)
    share = 0.98 * np.array([0.15, 0.05]) / (0.98 * 0.2 + 0.02)
    assert total[1] == 0.0
    assert total[2:4] == pytest.approx(share)
    assert left.chance.sum() == pytest.approx(1.0)
    assert left.chance[-1] == pytest.approx(0.02 / (0.98 * 0.2 + 0.02))


def test_where_next_to_nothing_is_left_it_keeps_half_to_be_measured():
    """By hand: 0.98 of 0.97 is mended in vain; the rest, 0.0494, shares the other half."""
    defects = small.small_defects()
    belief = small.believe({1: 0.97, 2: 0.02, 3: 0.01}, outside=0.02)
    left = set_aside(defects, belief, [defects.atoms[1].group])
    total = np.bincount(np.maximum(left.atom, 0), left.chance, minlength=4)
    assert total[1] == pytest.approx(0.5)
    assert total[2:4] == pytest.approx(0.5 * 0.98 * np.array([0.02, 0.01]) / 0.0494)


def test_where_nothing_else_is_left_it_stays():
    defects = small.small_defects()
    belief = small.believe({1: 1.0}, outside=0.0)
    assert set_aside(defects, belief, [defects.atoms[1].group]) is belief


def test_where_it_has_no_chance_any_more_there_is_nothing_to_set_aside():
    defects = small.small_defects()
    belief = small.believe({1: 0.0, 2: 1.0}, outside=0.02)
    assert set_aside(defects, belief, [defects.atoms[1].group]) is belief
