"""What swapping a relay tells: the relay from its socket, with a function that needs it."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.generate import from_scene
from backprobe.checks.layout import layout_of
from backprobe.checks.outcomes import Forecast
from backprobe.checks.scene import scene_of
from backprobe.checks.stories import stories_of
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Reading, Works
from backprobe.kinds import KINDS
from backprobe.suspects.weigh import weigh

TEXT = """
machine press, 12 V
G1: battery
F1: fuse 10 A, at fuse box
F2: fuse 10 A, at fuse box
S1: switch, at dash
S2: switch, at dash
K1: relay, at fuse box
SP1: splice
GP1: ground stud, on frame
lamp 1: lamp 21 W, at lamp bar
lamp 2: lamp 21 W, at lamp bar
function work light: needs lamp 1, key on, with S1
function beacon: needs lamp 2, key on, with S2
G1.+ > F1 > K1.30, 1.0 mm2, RD, wire 1a / 1b
K1.87 > lamp 1.1, 1.0 mm2, RD, wire 2
G1.+ > F2 > SP1, 1.0 mm2, RD, wire 3a / 3b
SP1 > S1 > K1.86, 1.0 mm2, RD, wire 4a / 4b
SP1 > S2 > lamp 2.1, 1.0 mm2, RD, wire 9a / 9b
K1.85 > GP1, 1.0 mm2, BN, wire 5
lamp 1.2 > GP1, 1.0 mm2, BN, wire 6
lamp 2.2 > GP1, 1.0 mm2, BN, wire 7
GP1 > G1.-, 16 mm2, BK, wire 8
"""
LIT = Situation(key="on", on=frozenset({"S1"}))
FOUND = (
    Works(id="dark", target="work light", works=False, situation=LIT),
    Reading(id="fed", p="K1.86", value=12.3, situation=LIT),
    Reading(id="out", p="K1.87", value=0.0, situation=LIT),
)


@pytest.fixture(scope="module")
def circuit() -> Circuit:
    book, problems = read_book(TEXT, "press")
    assert book is not None, problems
    return Circuit.of(book)


def test_a_new_relay_in_a_bad_socket_changes_nothing(circuit: Circuit) -> None:
    """By hand: an equal relay ends what is wrong in the relay; bad pins stay in the socket."""
    book, defects, job = circuit.book, circuit.defects, fold(FOUND)
    belief = weigh(book, circuit, job)
    scene = scene_of(layout_of(book, KINDS), job, defects, belief)
    swap = next(check for check in from_scene(scene) if check.does == "swap")
    assert (swap.target, swap.setting, swap.situation.on) == ("K1", "work light", LIT.on)
    stories = stories_of(defects, belief)
    near = circuit.within(stories.rows, rough=True)
    (shown,) = Forecast(book, near, stories, frozenset()).of([swap])
    assert shown is not None
    works = dict.fromkeys(("K1/coil open", "contact K1.86", "contact K1.87"), np.nan)
    for story, row in enumerate(stories.rows):
        name = defects.atoms[defects.atom_of[row]].id
        if name in works and defects.ohm[row] in (0.0, np.inf):
            works[name] = float(shown.chance[0, story])
    assert works["K1/coil open"] > 0.9
    assert max(works["contact K1.86"], works["contact K1.87"]) < 0.1
