"""Reading a pin once more in another state does not clear it of having been the wrong one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.layout import layout_of
from backprobe.checks.outcomes import Forecast
from backprobe.checks.readings import reading
from backprobe.checks.stories import Stories
from backprobe.defects.model import Probe
from backprobe.findings.model import Failing, Reading, Works
from backprobe.kinds import KINDS
from backprobe.shop.job import start

BOOK = """
machine press, 12 V
G1: battery
F1: fuse 10 A
F2: fuse 10 A
S1: rocker switch, at panel
X1: plug 2 ways, at post
K1: lamp 55 W, at cab
K2: lamp 55 W, at cab
GP1: ground stud, on frame
G1.+ > F1.1, 4 mm2, RD, wire 1
G1.+ > F2.1, 4 mm2, RD, wire 2
F1.2 > S1.1, 2.5 mm2, RD, wire 3
S1.2 > X1.1, 2.5 mm2, BU, wire 4
F2.2 > X1.2, 2.5 mm2, GN, wire 5
X1.1 > K1.1, 2.5 mm2, BU, wire 6
X1.2 > K2.1, 2.5 mm2, GN, wire 7
K1.2 > GP1, 2.5 mm2, BN, wire 8
K2.2 > GP1, 2.5 mm2, BN, wire 9
GP1 > G1.-, 16 mm2, BK, wire 10
function left light: needs K1, key on, with S1
function right light: needs K2
"""
ONE = Situation(key="on", on=frozenset({"S1"}))
RUN = replace(ONE, key="run")
FIRST = Reading(p="X1.1b", value=12.5, situation=ONE)
AGAIN = replace(FIRST, situation=RUN)
CUT, LAMP = "wire 4/open", "K1/open"


@pytest.fixture(scope="module")
def job():
    """The left light is dead. At its pin there are volts, so it is the lamp; or its wire is cut, and
    the pin of the right light was read, which is always on."""
    book, problems = read_book(BOOK, "press")
    assert book is not None, problems
    found = start(book).note(
        Works(target="left light", works=False, situation=ONE),
        Works(target="right light", works=True, situation=ONE),
        Failing(answer="yes", situation=ONE),
        FIRST,
    )
    assert not found.problems
    return found


def hypothesis(defects, begins):
    return next(h for h, a in enumerate(defects.atom_of) if defects.atoms[a].id.startswith(begins))


def volts_again(job, told):
    """Chance that the pin has 12 V with the engine running: under the open lamp, under the cut wire.
    `told`: what was read before is known."""
    defects = job.circuit.defects
    rows = np.array([0, hypothesis(defects, LAMP), hypothesis(defects, CUT)])
    first = np.arange(3)
    stories = Stories(
        rows=rows,
        mass=np.array([0.0, 0.5, 0.5, 0.0, 0.0, 0.0, 0.0]),
        group=np.array([2, 0, 1, 2, 0, 1, 2]),
        keys=("lamp", "wire"),
        sometimes=np.zeros(7),
        gone=np.array([0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 0.0]),
        showing=np.concatenate([first, first, [6]]),
    )
    layout = layout_of(job.book, KINDS)
    check = reading(layout, "volts", Probe(kind="volts", p="X1.1b"), RUN)
    near = job.circuit.within(rows)
    shown = Forecast(job.book, near, stories, frozenset(), told).of((check,))[0]
    assert shown is not None
    assert shown.edges is not None
    high = int(np.searchsorted(shown.edges, 12.5)) - 1
    return shown.chance[high, 1:3], rows[1:]


def test_a_wrong_pin_goes_on_being_read(job):
    """On its own pin a cut wire leaves nothing; who read the pin beside reads the same again. How much
    better 12 V then fit the lamp is what the filter makes of that reading (suspects/emission.py)."""
    blind, _ = volts_again(job, None)
    chance, rows = volts_again(job, job.state)
    assert blind == pytest.approx([0.99, 0.01], abs=0.005)
    assert chance[0] == pytest.approx(0.99, abs=0.005)
    before = job.belief.hypothesis[rows]
    after = job.note(AGAIN).belief.hypothesis[rows]
    moved = (after[1] / after[0]) / (before[1] / before[0])
    assert moved > 0.2
    assert chance[1] / chance[0] == pytest.approx(moved, rel=0.1)


def test_a_figure_that_another_reading_made_good_is_believed(job):
    """The pin of the cut wire was dead with the lead on it: that it is the right pin is certain."""
    dead = job.note(replace(FIRST, value=0.0, situation=RUN))
    chance, _ = volts_again(dead, dead.state)
    assert chance[1] < 0.03
