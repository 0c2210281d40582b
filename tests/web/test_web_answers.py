"""What an answer form says: readings as people type them, words, and what is refused."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.model import Check
from backprobe.defects.model import Probe
from backprobe.findings.model import CodesFound, JobState
from backprobe.shop.answer import Answer, answered
from backprobe.shop.demo import book_text
from backprobe.web.answers import Heard, Typed, heard, number_of, words_of
from backprobe.web.contexts import Oops

VOLTS = Check(
    id="v", does="volts", target="F5", words="Volts at F5.2", situation=Situation(),
    probe=Probe(kind="volts", p="F5.2"),
)  # fmt: skip
OHMS = Check(
    id="o", does="ohms", target="X10", words="Ohms", situation=Situation(key="off"),
    probe=Probe(kind="ohms", p="X10.3b", n="frame"),
)  # fmt: skip
FUSE_MV = Check(
    id="m", does="millivolts", target="F5", words="Millivolts", situation=Situation(),
    probe=Probe(kind="volts", p="F5.1", n="F5.2"),
)  # fmt: skip
SHOWN = Check(
    id="d", does="display", target="engine unit oil pressure", words="Display", setting="kPa",
    situation=Situation(), probe=Probe(kind="inner", p="engine unit:7", n="engine unit:ground"),
)  # fmt: skip
LOOK = Check(
    id="l", does="look", target="hinge, engine trunk", words="Look", situation=Situation(key="off")
)
STOP = Check(id="stop", does="stop", target="job", words="Stop", situation=Situation(key="off"))
CODE = Check(
    id="c", does="codes", target="engine unit 100/4", words="Is it active?", situation=Situation()
)
BOOK = read_book(book_text("unplugged-sensor"), "unplugged-sensor")[0]
LIKE = "Type what the meter shows, for instance 4,98 or 12.3."


@pytest.mark.parametrize(
    ("check", "typed", "value"),
    [
        (VOLTS, Typed(value="12,4"), 12.4),
        (VOLTS, Typed(value=" 12.4 V "), 12.4),
        (VOLTS, Typed(value="480", unit="mV"), 0.48),
        (VOLTS, Typed(value="480 mV", unit="V"), 0.48),
        (VOLTS, Typed(value="-0.3"), -0.3),
        (VOLTS, Typed(value="\u22120,3"), -0.3),
        (VOLTS, Typed(value="0,3", minus=True), -0.3),
        (VOLTS, Typed(value="5", unit="furlong"), 5.0),
        (FUSE_MV, Typed(value="28,4"), 0.0284),
        (FUSE_MV, Typed(value="0.0284", unit="V"), 0.0284),
        (OHMS, Typed(value="4,7", unit="kohm"), 4700.0),
        (OHMS, Typed(value="4.7 kohm", unit="ohm"), 4700.0),
        (OHMS, Typed(value="1.2", unit="Mohm"), 1.2e6),
        (OHMS, Typed(value="OL"), inf),
        (OHMS, Typed(value="0L"), inf),
        (OHMS, Typed(word="OL"), inf),
        (SHOWN, Typed(value="312"), 312.0),
        (SHOWN, Typed(value="312 kPa"), 312.0),
        (SHOWN, Typed(value="-120,5 kpa"), -120.5),
    ],
)  # fmt: skip
def test_a_reading_is_understood_as_it_is_typed(check: Check, typed: Typed, value: float) -> None:
    said = heard(check, typed, BOOK)
    assert isinstance(said, Heard)
    assert said.value == pytest.approx(value, rel=1e-12)
    assert said.to is None


def test_a_reading_that_jumps_has_two_ends() -> None:
    said = heard(VOLTS, Typed(value="4,9", to="200 mV"), BOOK)
    assert isinstance(said, Heard)
    assert (said.value, said.to) == (4.9, pytest.approx(0.2))


@pytest.mark.parametrize(
    ("check", "typed", "what", "remedy"),
    [
        (VOLTS, Typed(), "The reading is missing.", LIKE),
        (VOLTS, Typed(value="twelve"), "“twelve” is not a reading.", LIKE),
        (VOLTS, Typed(value="nan"), "“nan” is not a reading.", LIKE),
        (VOLTS, Typed(value="inf"), "“inf” is not a reading.", LIKE),
        (VOLTS, Typed(value="1e9"), "“1e9” is not a reading.", LIKE),
        (VOLTS, Typed(value="99999999999"), "“99999999999” is not a reading.", LIKE),
        (VOLTS, Typed(word="OL"), "The reading is missing.", LIKE),
        (VOLTS, Typed(value="5", to="low"), "“low” is not a reading.", LIKE),
        (
            VOLTS,
            Typed(value="12 ohm"),
            "“12 ohm” is in ohm, and this check reads V.",
            "Is the meter in the right position? Read again, or type the number alone.",
        ),
        (
            SHOWN,
            Typed(value="3 bar"),
            "“3 bar” is not in kPa.",
            "Type the number as the display shows it, in kPa.",
        ),
        (LOOK, Typed(value="12"), "No answer was chosen.", "Press one of the buttons."),
        (LOOK, Typed(word="damage at moon"), "No answer was chosen.", "Press one of the buttons."),
        (
            STOP,
            Typed(value="12"),
            "This step asks for no reading.",
            "Enter what you found in the line under “Found so far”.",
        ),
    ],
)
def test_what_is_no_answer_is_refused(check: Check, typed: Typed, what: str, remedy: str) -> None:
    assert heard(check, typed, BOOK) == Oops(what=what, remedy=remedy)


@pytest.mark.parametrize(
    ("check", "typed", "what", "remedy"),
    [
        (VOLTS, "OL", "OL on a range of volts", "Turn the meter to the next larger range"),
        (FUSE_MV, "o.l", "OL on a range of millivolts", "Turn the meter to the next larger range"),
        (OHMS, "-5", "-5 ohm is less than nothing", "Is the key off"),
    ],
)
def test_what_no_meter_shows_is_refused_with_what_to_do(
    check: Check, typed: str, what: str, remedy: str
) -> None:
    said = heard(check, Typed(value=typed), BOOK)
    assert isinstance(said, Oops)
    assert what in said.what
    assert remedy in said.remedy


@pytest.mark.parametrize(
    ("ticked", "typed", "codes"),
    [
        (("100/4", "94/4"), "", ("100/4", "94/4")),
        (("94/4",), "102/4, SPN 100 FMI 4", ("94/4", "102/4", "100/4")),
        ((), "none", ()),
        ((), "", ()),
        (("100/4",), "100/4", ("100/4",)),
    ],
)
def test_a_whole_code_list_answers_for_one_code(
    ticked: tuple[str, ...], typed: str, codes: tuple[str, ...]
) -> None:
    said = heard(CODE, Typed(word="list", ticked=ticked, codes=typed), BOOK)
    assert said == Heard(word="active" if "100/4" in codes else "not active", codes=codes)
    (found,) = answered(CODE, Answer(word=said.word, codes=said.codes), JobState())
    assert isinstance(found, CodesFound)
    assert (found.unit, found.active, found.complete) == ("engine unit", codes, True)


def test_a_code_list_that_cannot_be_read_is_refused() -> None:
    said = heard(CODE, Typed(word="list", codes="9999/9"), BOOK)
    assert isinstance(said, Oops)
    assert said.what == "The book has no code '9999/9' of engine unit."
    refused = heard(VOLTS, Typed(word="list"), BOOK)
    assert refused == Oops(what="The reading is missing.", remedy=LIKE)


def test_a_repair_is_proven_on_the_whole_machine() -> None:
    """What was unplugged for the last check is put back by the repair's own steps."""
    off = Situation(key="on", unplugged=frozenset({"X10"}))
    mend = Check(id="r", does="repair", target="X10", words="Mend", situation=Situation(key="off"))
    act, proof = answered(mend, Answer(word="passes"), JobState(visit=2, now=off))
    assert (act.act, act.visit) == ("repaired", 3)
    assert (proof.answer, proof.visit, proof.situation) == ("gone", 3, Situation(key="on"))


def test_a_walk_offers_a_button_for_every_place_and_one_for_nothing() -> None:
    assert [(c.value, c.words) for c in words_of(LOOK)] == [
        ("damage at hinge", "Damage at hinge"),
        ("damage at engine trunk", "Damage at engine trunk"),
        ("nothing to see", "Nothing to see"),
    ]


def test_every_button_is_an_answer_the_shop_takes() -> None:
    for does in ("works", "codes", "unplug", "fuse", "swap", "look", "provoke", "repair"):
        check = Check(
            id=does, does=does, target="ECU 157/4" if does == "codes" else "K5", words=does,
            situation=Situation(), setting="ECU 157/4", condition="wet",
        )  # fmt: skip
        choices = words_of(check)
        assert len(choices) >= 2
        for choice in choices:
            said = heard(check, Typed(word=choice.value), BOOK)
            assert said == Heard(word=choice.value)
            assert answered(check, Answer(word=choice.value), JobState())


def test_the_field_keeps_what_was_typed_and_the_range_that_was_chosen() -> None:
    asked = number_of(OHMS, BOOK, Typed(value="4,x", to="9", unit="kohm", minus=True))
    assert asked is not None
    assert (asked.typed, asked.typed_to, asked.minus, asked.overload) == ("4,x", "9", True, True)
    assert [unit.value for unit in asked.units if unit.chosen] == ["kohm"]
    shown = number_of(SHOWN, BOOK)
    assert shown is not None
    assert (shown.label, [u.words for u in shown.units]) == ("Oil pressure on the display", ["kPa"])


@given(st.builds(Typed, value=st.text(max_size=20), to=st.text(max_size=9), unit=st.text(max_size=5),
                 word=st.text(max_size=9), minus=st.booleans()))  # fmt: skip
def test_no_text_at_all_breaks_the_reader(typed: Typed) -> None:
    for check in (VOLTS, OHMS, FUSE_MV, SHOWN, LOOK, STOP):
        said = heard(check, typed, BOOK)
        if isinstance(said, Heard) and said.value is not None:
            assert said.value == said.value  # never "not a number"
            assert abs(said.value) <= 1e15 or (check is OHMS and said.value == inf)


@pytest.mark.parametrize("value", ["987654", "-400"])
def test_a_value_no_display_shows_is_refused(value: str) -> None:
    said = heard(SHOWN, Typed(value=value), BOOK)
    assert said == Oops(
        what=f"{float(value):g} kPa is no value of oil pressure on the display of engine unit: "
        "it can show 0 to 1000 kPa.",
        why="A mistyped value would accuse the wrong part.",
        remedy="Read the display again and type the number as it stands there.",
    )


@pytest.mark.parametrize("typed", [Typed(value="120"), Typed(value="4,9", to="49")])
def test_volts_that_nothing_on_the_machine_holds_are_refused(typed: Typed) -> None:
    said = heard(VOLTS, typed, BOOK)
    assert isinstance(said, Oops)
    assert "V cannot be read on a 12 V machine: nothing on it holds more than 36 V." in said.what
    assert "decimal point" in said.remedy
    assert heard(VOLTS, Typed(value="120", unit="mV"), BOOK) == Heard(value=0.12)
