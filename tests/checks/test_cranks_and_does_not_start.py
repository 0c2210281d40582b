"""An engine that cranks and does not start is not asked to run; common practice, no source."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.hands import _behind, _served, by_hand
from backprobe.checks.layout import layout_of
from backprobe.checks.scene import scene_of
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import FuseFound, Works
from backprobe.kinds import KINDS
from backprobe.suspects.weigh import weigh

TEXT = """
machine press, 12 V
battery: battery
F1: fuse 10 A, at fuse box
F2: fuse 10 A, at fuse box
K1: relay, at fuse box
K2: relay, at fuse box
S1: switch, at dash
S2: switch, at dash
SP: splice
GP: ground stud, on frame
starter: starter, on engine
pump: pump 4.5 A, at tank
beacon: lamp 21 W, at pole
alternator: alternator, on engine
function engine cranks: needs starter, key crank
function engine starts: needs starter, pump, key crank
function charging: needs alternator, key run
function pump runs: needs pump, key on, with S1
function beacon: needs beacon, key on, with S2
battery.+ > starter.30, 35 mm2
battery.+ > SP, 6 mm2
starter.30 > alternator.B+, 16 mm2
SP > F1 > K1.30, 1 mm2
SP > F2 > K2.30, 1 mm2
SP > S1 > K1.86, 1 mm2
SP > S2 > K2.86, 1 mm2
K1.85 > GP, 1 mm2
K2.85 > GP, 1 mm2
K1.87 > pump > GP, 1 mm2
K2.87 > beacon > GP, 1 mm2
GP > battery.-, 16 mm2
"""


@pytest.fixture(scope="module")
def circuit() -> Circuit:
    book, problems = read_book(TEXT, "press")
    assert book is not None, problems
    return Circuit.of(book)


def found(*said: tuple[str, bool, str]) -> tuple[Works, ...]:
    return tuple(
        Works(id=f"f{n}", target=target, works=works, situation=Situation(key=key))
        for n, (target, works, key) in enumerate(said, 1)
    )


def scene(circuit, *said):
    job = fold(found(*said))
    belief = weigh(circuit.book, circuit, job)
    return scene_of(layout_of(circuit.book, KINDS), job, circuit.defects, belief)


STARTS, CRANKS = "engine starts", "engine cranks"


@pytest.mark.parametrize(
    ("said", "stands"),
    [
        (((STARTS, False, "crank"),), True),
        (((STARTS, False, "crank"), (CRANKS, True, "crank")), True),
        (((CRANKS, True, "crank"), (STARTS, False, "crank")), True),
        (((CRANKS, False, "crank"), (STARTS, True, "crank")), False),
        (((STARTS, False, "crank"), (STARTS, True, "crank")), False),
        (((STARTS, False, "crank"), ("charging", True, "run")), False),
    ],
)
def test_cranking_is_no_start(circuit, said, stands) -> None:
    of = scene(circuit, *said)
    assert of.stands is stands
    if stands:
        assert all(situation.key != "run" for situation in of.live)


def test_what_hangs_behind_a_contact_or_a_fuse(circuit) -> None:
    """By hand: the pump hangs on K1 and F1, the beacon on K2 and F2; they share feed and ground."""
    of = scene(circuit, ("pump runs", False, "on"))
    functions = circuit.book.functions
    assert [f.name for f in _served(of, "K1")] == ["pump runs", STARTS]
    assert [f.name for f in _served(of, "K2")] == ["beacon"]
    assert {n for n in functions if _behind(of, "F2", functions[n])} == {"beacon"}


def test_a_blown_fuse_is_tried_with_what_hangs_behind_it_unplugged(circuit) -> None:
    """Common practice, no source: where the new fuse holds with a plug off, what blew it is behind that."""
    blown = FuseFound(id="f2", fuse="F1", state="blown", situation=Situation(key="on"))
    job = fold((*found(("pump runs", False, "on")), blown))
    belief = weigh(circuit.book, circuit, job)
    of = scene_of(layout_of(circuit.book, KINDS), job, circuit.defects, belief)
    tried = [c for c in by_hand(of) if c.does == "new fuse" and c.situation.unplugged]
    assert {name for c in tried for name in c.situation.unplugged} == {"K1", "pump"}
    assert all(c.situation.renewed == frozenset({"F1"}) for c in tried)
