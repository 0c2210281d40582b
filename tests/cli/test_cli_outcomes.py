"""How the outcomes of a check that is only listed are told."""

from __future__ import annotations

import pytest

from backprobe.checks.model import Outcome
from backprobe.cli.check_next import _outcome
from backprobe.cli.could_be import _times


@pytest.mark.parametrize(
    ("words", "word", "told"),
    [
        ("does not work: preheat: K5 60 %, F3 20 %", "does not work: preheat",
         ("does not work: preheat", "K5 60 %, F3 20 %")),
        ("damage: wire 31 90 %", "damage", ("damage", "wire 31 90 %")),
        ("about 0.6 V: F12 80 %", "", ("about 0.6 V", "F12 80 %")),
        ("all work", "all work", ("all work", "")),
    ],
)  # fmt: skip
def test_an_outcome_says_of_what_it_is(words: str, word: str, told: tuple[str, str]) -> None:
    assert _outcome(Outcome(words=words, word=word, chance=0.5, leaves=())) == told


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (225.0, "; 225 times better than the rest"),
        (0.2, "; 5.0 times worse than the rest"),
        (1.01, ""),
    ],
)
def test_a_reason_says_what_its_strength_is_measured_against(factor: float, words: str) -> None:
    assert _times(factor) == words
