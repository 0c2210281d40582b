"""What was seen of a thing when it was opened to be mended."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.model import Check
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, Failing, Looked, Reading, Works
from backprobe.shop.answer import Answer, answered
from backprobe.suspects.factor import Factor
from backprobe.suspects.looks import looked_at_both
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
"""
DARK = Works(id="dark", target="lamp 1", works=False, situation=ON)
STILL = Works(id="still", visit=2, target="lamp 1", works=False, situation=ON)
FED = Reading(id="fed", p="X1.1b", value=12.4, situation=ON)
NOT_FED = Reading(id="not fed", p="X2.1a", value=0.0, situation=ON)


@pytest.fixture(scope="module")
def circuit() -> Circuit:
    book, problems = read_book(TEXT, "press")
    assert book is not None, problems
    return Circuit.of(book)


def mend(group: str) -> Check:
    return Check(
        id=f"repair {group}", does="repair", target=group, words="", situation=Situation(key="off")
    )


def after(circuit: Circuit, word: str) -> dict[str, float]:
    """Chance by group that it is still to be mended, once wire 1c was mended and it still fails."""
    group = next(a.group for a in circuit.defects.atoms if a.id.startswith("wire 1c/open"))
    job = fold((DARK, FED, NOT_FED))
    found = answered(mend(group), Answer(word=word), job)
    numbered = [replace(f, id=f"n{k}") for k, f in enumerate(found)]
    judged = judge_with_pairs(circuit, fold((*job.findings, *numbered, STILL)))
    defects = judged.circuit.defects
    belief = one_left(defects, judged.belief)
    assert belief.mended is not None
    left = {"wire 1c": 0.0}
    for atom, chance in zip(belief.atom, belief.chance * (1.0 - belief.mended), strict=True):
        if atom > 0:
            key = defects.atoms[atom].group.partition(" (")[0]
            left[key] = left.get(key, 0.0) + float(chance)
    return left


def test_what_was_bad_is_believed_and_what_looked_sound_is_not(circuit: Circuit) -> None:
    bad, said_nothing, sound = (
        after(circuit, word) for word in ("fails, was bad", "fails", "fails, nothing found")
    )
    assert bad["wire 1c"] > 3.0 * said_nothing["wire 1c"]
    assert sound["wire 1c"] < 0.8 * said_nothing["wire 1c"]
    # What could be behind a wire that was bad gains on what would explain the dark lamp alone.
    assert (
        bad["lamp 1"] / bad["lugs at G1"]
        > 1.2 * said_nothing["lamp 1"] / said_nothing["lugs at G1"]
    )


def test_it_is_seen_before_it_is_mended() -> None:
    job = fold((DARK,))
    seen, act, proof = answered(mend("wire 1c"), Answer(word="fails, was bad"), job)
    assert isinstance(seen, Looked)
    assert isinstance(act, Act)
    assert isinstance(proof, Failing)
    assert (seen.visit, seen.damage, act.visit, proof.answer) == (1, True, 2, "yes")
    assert len(answered(mend("wire 1c"), Answer(word="passes"), job)) == 2


def test_a_look_at_two_faults_finds_either_where_it_sits() -> None:
    """By hand: damage shows at one in 0.5, at the other in 0.2 of all cases, and is seen of neither
    in 0.4; without any it is seen in 0.03."""
    chance = np.array([[0.5], [0.2], [0.6]])
    for damage, look, told in ((True, 0.97 / 0.03, 0.6 + 0.4 * 0.03), (False, -1.0, 0.4 * 0.97)):
        ratio = 1.0 + look * chance
        one, other, _ = (
            Factor(finding="f", present=r[None], gone=r[None], background=0.0, look=look)
            for r in ratio
        )
        both = looked_at_both(one, one, other)
        assert both.present[0, 0] == pytest.approx(told / (0.03 if damage else 0.97))
