"""Whoever mends a short fits a new fuse where it blew one (common practice, no source)."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, AnyFinding, Failing, FuseFound, Reading, Works
from backprobe.suspects.model import Verdict
from backprobe.suspects.verdict import judge_with_pairs

TEXT = """
machine press, 12 V
G1: battery
F1: fuse 10 A, at fuse box
GP1: ground stud, on frame
X1: plug 2 ways
lamp 1: lamp 21 W, at lamp bar
G1.+ > F1 > X1.1 > lamp 1.1, 1.0 mm2, RD, wire 1a / 1b / 1c
lamp 1.2 > GP1, 1.0 mm2, BN, wire 2
GP1 > G1.-, 16 mm2, BK, wire 3
section trunk: F1 to X1, 4 m
"""
ON = Situation(key="on")
FOUND = (
    Works(id="dark", target="lamp 1", works=False, situation=ON),
    FuseFound(id="blown", fuse="F1", state="blown", situation=ON),
    Reading(
        id="short",
        instrument="ohmmeter",
        p="F1.2",
        n="frame",
        value=0.1,
        situation=Situation(key="off", unplugged=frozenset({"X1"}), pulled=frozenset({"F1"})),
    ),
)


@pytest.fixture(scope="module")
def circuit() -> Circuit:
    book, problems = read_book(TEXT, "press")
    assert book is not None, problems
    return Circuit.of(book)


def after(circuit: Circuit, *found: AnyFinding) -> tuple[str, Verdict]:
    """The short's group, and where the job stands once it is mended and this was found since."""
    group = next(a.group for a in circuit.defects.atoms if a.id.startswith("wire 1b/to ground"))
    act = Act(id="m", visit=2, act="repaired", target=group)
    job = fold((*FOUND, act, *found), usual_life=(ON,))
    return group, judge_with_pairs(circuit, job).verdict


def lit(visit: int) -> tuple[AnyFinding, ...]:
    return (
        Failing(id=f"gone {visit}", visit=visit, answer="gone", situation=ON),
        Works(id=f"lit {visit}", visit=visit, target="lamp 1", works=True, situation=ON),
    )


def test_lit_again_it_was_the_short_without_a_word_about_the_fuse(circuit: Circuit) -> None:
    group, found = after(circuit, *lit(2))
    assert found.proof is not None
    assert (found.proof.group, found.proof.holds) == (group, True)


def test_what_is_mended_blows_no_fuse_in_the_visits_after(circuit: Circuit) -> None:
    fed = Reading(id="fed", visit=3, p="F1.2", value=12.4, situation=ON)
    group, found = after(circuit, *lit(2), *lit(3), fed)
    assert found.proof is not None
    assert (found.proof.group, found.proof.holds) == (group, True)
    assert not found.contradictions
