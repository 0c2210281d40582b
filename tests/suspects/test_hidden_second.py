"""Two faults of which the one hid the other until it was mended."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, Failing, Reading, Works
from backprobe.suspects import twofold
from backprobe.suspects.screen import screened
from backprobe.suspects.twofold import one_left
from backprobe.suspects.verdict import judge_with_pairs

ON = Situation(key="on")
TEXT = """
machine press, 12 V
G1: battery
F1: fuse 10 A, at fuse box
GP1: ground stud, on frame
X1: plug 2 ways
X2: plug 2 ways
lamp 1: lamp 21 W, at lamp bar
G1.+ > F1 > X1.1 > X2.1 > lamp 1.1, 1.0 mm2, RD, wire 1a / 1b / 1c / 1d
lamp 1.2 > GP1, 1.0 mm2, BN, wire 2
GP1 > G1.-, 16 mm2, BK, wire 3
section trunk: X1 to X2, 2 m
section lamp lead: X2 to lamp 1, 1 m
"""


def volts(place: str, value: float, visit: int) -> Reading:
    return Reading(id=f"{place}{visit}", p=place, value=value, visit=visit, situation=ON)


def test_a_short_behind_a_break_leads_once_the_break_is_mended() -> None:
    """By hand: the lead is broken before X2, and something behind it is on metal. Nothing tells the
    second before the first is mended; then F1 blows, and 0 V is read where 12 V was."""
    book, problems = read_book(TEXT, "press")
    assert book is not None, problems
    circuit = Circuit.of(book)
    group = next(a.group for a in circuit.defects.atoms if a.id.startswith("wire 1c/open"))
    before = (volts("F1.2", 12.5, 1), volts("X1.1b", 12.5, 1), volts("X2.1a", 0.0, 1))
    after = (
        Act(id="m", visit=2, act="repaired", target=group),
        Failing(id="y", visit=2, answer="yes", situation=ON),
        volts("F1.2", 0.0, 2),
        volts("X1.1b", 0.0, 2),
        volts("F1.1", 12.5, 2),
    )
    found = judge_with_pairs(circuit, fold((*before, *after)))
    left = one_left(found.circuit.defects, found.belief)
    behind = [
        n
        for n, atom in enumerate(found.circuit.defects.atoms)
        if atom.id.startswith(("wire 1c/to ground", "wire 1d/to ground", "lamp 1/shorted"))
    ]
    assert sum(float(left.chance[left.atom == n].sum()) for n in behind) > 0.5


FEED = """
machine press, 12 V
G1: battery
F0: fusible link 40 A, at battery box
F1: fuse 10 A, at fuse box
F2: fuse 10 A, at fuse box
GP1: ground stud, on frame
lamp 1: lamp 21 W, at lamp bar
lamp 2: lamp 21 W, at lamp bar
SP1: splice
G1.+ > F0 > SP1 > F1 > lamp 1.1, 1.0 mm2, RD, wire 1a / 1b / 1c / 1d
SP1 > F2 > lamp 2.1, 1.0 mm2, RD, wire 2a / 2b
lamp 1.2 > GP1, 1.0 mm2, BN, wire 3
lamp 2.2 > GP1, 1.0 mm2, BN, wire 4
GP1 > G1.-, 16 mm2, BK, wire 5
"""


def test_what_is_left_of_two_has_its_turn_among_many(monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: the feed of all was broken and a filament with it. Dozens of things explain a little
    of the dead feed; once it is mended only what darkens one lamp explains that one is dark."""
    monkeypatch.setattr(twofold, "CLASSES", 24)
    book, problems = read_book(FEED, "press")
    assert book is not None, problems
    circuit = Circuit.of(book)
    group = next(a.group for a in circuit.defects.atoms if a.id.startswith("contact F0:2"))
    job = fold(
        [
            *(volts(p, 0.0, 1) for p in ("F1.1", "F2.1", "lamp 1.1", "lamp 2.1")),
            *(volts(p, 12.5, 1) for p in ("F0:1", "F0:2")),
            Act(id="m", visit=2, act="repaired", target=group),
            Failing(id="y", visit=2, answer="yes", situation=ON),
            Works(id="w", visit=2, target="lamp 2", works=False, situation=ON),
            Works(id="v", visit=2, target="lamp 1", works=True, situation=ON),
        ]
    )
    found = judge_with_pairs(circuit, job)
    left = one_left(found.circuit.defects, found.belief)
    dark = [n for n, a in enumerate(circuit.defects.atoms) if a.id.startswith("lamp 2/open")]
    assert sum(float(left.chance[left.atom == n].sum()) for n in dark) > 0.2


def test_all_is_looked_at_again_once_something_was_mended() -> None:
    """A lamp that is dark on a dead feed explains nothing on arrival."""
    book, problems = read_book(FEED, "press")
    assert book is not None, problems
    circuit = Circuit.of(book)
    arrival = (Failing(id="y", answer="yes", situation=ON), volts("F1.1", 0.0, 1))
    mended = Act(id="m", visit=2, act="repaired", target="lugs at F0")
    assert screened(circuit, fold((*arrival, mended))) is circuit


def test_what_was_mended_has_its_turn_beside_one_with_many_explanations() -> None:
    """Of what explains the one fault, a few are looked at; what explains the rest, and what was mended
    and explains nothing by now, are too. By hand: four of ten findings are left open by the first."""
    shift = np.zeros((10, 60))
    shift[:6, :50] = 6.0  # fifty ways to set six codes
    shift[6:, 50:] = 1.0  # ten ways to be dark in four places
    rate = np.linspace(0.0, -1.0, 60)
    turns = twofold._left_open(shift, rate, rate + shift.sum(axis=0))
    assert set(range(50, 60)) <= set(turns[0].tolist())
    assert set(range(20)) <= set(turns[1].tolist())
