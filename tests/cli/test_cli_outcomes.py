"""How the outcomes of a check that is only listed are told."""

from __future__ import annotations

from dataclasses import replace

import pytest

from backprobe.book.situations import Situation
from backprobe.checks.model import Check, Outcome, Priced
from backprobe.cli.answer import _in_which
from backprobe.cli.check_next import _likeliest, _outcome
from backprobe.cli.common import RefusedError
from backprobe.cli.could_be import _alone, _times
from backprobe.suspects.model import Suspect
from backprobe.web.check_view import rest_of


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


@pytest.mark.parametrize(
    ("name", "group", "told"),
    [
        ("ECU.30 CAN pair shorted inside", "ECU", "ECU.30 CAN pair shorted inside"),
        ("ECU dead inside", "ECU", "dead inside"),
        ("plug X1 is off", "plug X1", "is off"),
        ("plug X12 is off", "plug X1", "plug X12 is off"),
        ("joint", "joint", "joint"),
    ],
)
def test_a_fault_is_told_without_the_words_of_its_group(name: str, group: str, told: str) -> None:
    assert _alone(name, group) == rest_of(name, group) == told


def _across_a_fuse(high: float) -> Priced:
    check = Check(
        id="m", does="millivolts", target="F5", words="Millivolts from F5.1 to F5.2",
        situation=Situation(key="on"),
    )  # fmt: skip
    outcome = Outcome(words="about", chance=1.0, leaves=(), low=0.0, high=high)
    return Priced(
        check=check, seconds=60.0, outcomes=(outcome,), healthy=None, tolerance=None,
        healthy_words="", gain_s=0.0, bits=0.0, steps=(), cautions=(), why="",
    )  # fmt: skip


def test_volts_or_millivolts_is_asked_where_a_meter_may_show_either() -> None:
    """By hand: an open fuse has 12.2 V across it, a sound one 5 mV."""
    for said in ("12.2 V", "5 mV", "5.0mV"):
        _in_which(_across_a_fuse(12.4), said)
    _in_which(_across_a_fuse(0.02), "5")
    with pytest.raises(RefusedError) as refused:
        _in_which(_across_a_fuse(12.4), "12.2")
    assert str(refused.value.problems[0].what) == "'12.2' may be volts or millivolts here."
    assert refused.value.problems[0].remedy == "Type 12.2 V or 12.2 mV."


def test_what_is_to_be_mended_is_named_with_what_is_likeliest_wrong_with_it() -> None:
    suspect = Suspect(
        group="plug X20", words="plug X20", chance=0.95, sometimes=0.1, reasons=(), explains=(),
        leaves_open=(), still=0.95, names=(("bad contact at X20 way 3", 0.9), ("plug X20 is off", 0.05)),
    )  # fmt: skip
    offer = _across_a_fuse(0.0)
    repair = replace(offer, check=replace(offer.check, does="repair", target="plug X20"))
    assert _likeliest(repair, (suspect,)) == ["   Likeliest: bad contact at X20 way 3"]
    assert _likeliest(repair, ()) == _likeliest(offer, (suspect,)) == []
