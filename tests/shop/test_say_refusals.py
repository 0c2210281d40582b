"""Every refusal of a typed finding, by its full text: what, where, why, what to type instead."""

from __future__ import annotations

import pytest

from backprobe.base.problems import Problem
from backprobe.book import read_book
from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.findings.fold import fold
from backprobe.findings.model import JobState, Reading, Works
from backprobe.shop.say import asked, hear
from backprobe.shop.say.ask import Asked
from backprobe.shop.say.trouble import WORDING

BEGUN = fold([Works(id="f1", target="horn sounds", works=True)])

REFUSALS: dict[str, tuple[str, str]] = {
    "an empty line": (
        "",
        """
typed:1:1: error: Nothing was said. [say-nothing]
  why: There is no finding in an empty line.
  do:  Type what was found, for instance: volts X14.3 12.3, key on
""",
    ),
    "# only a note": (
        "# only a note",
        """
typed:1:1: error: Nothing was said. [say-nothing]
  why: There is no finding in an empty line.
  do:  Type what was found, for instance: volts X14.3 12.3, key on
""",
    ),
    "volt X10.3 5": (
        "volt X10.3 5",
        """
typed:1:1: error: 'volt' does not begin a finding. [say-unknown-beginning]
    volt X10.3 5
    ^^^^
  why: The first word says what sort of finding it is.
  do:  Begin with one of: codes cleared, codes, volts, ohms, beeps, silent, amps, millivolts, display, works, dead, fuse, looked, unplugged, plugged, pulled, fitted, replaced, repaired, my bet, driver says, approved, failing, moved, wetted, warmed, undo, new visit. Did you mean volts?
""",
    ),
    "ohms X10.3 5": (
        "ohms X10.3 5",
        """
typed:1:6: error: 'ohms' needs more: the second place is missing. [say-incomplete]
    ohms X10.3 5
         ^^^^^
  why: Only a sentence that can be read in one way is taken down.
  do:  Type: ohms PLACE to PLACE VALUE [with milliohm meter] [, part side | , loom side]
""",
    ),
    "volts 5": (
        "volts 5",
        """
typed:1:1: error: 'volts' needs more: the place is missing. [say-incomplete]
    volts 5
    ^^^^^^^
  why: Only a sentence that can be read in one way is taken down.
  do:  Type: volts PLACE [to PLACE] VALUE [with min-max | with lamp | with low impedance | with diode test]
""",
    ),
    "codes ECU": (
        "codes ECU",
        """
typed:1:1: error: 'codes ECU' needs more: the list of codes, or none, is missing. [say-incomplete]
    codes ECU
    ^^^^^^^^^
  why: Only a sentence that can be read in one way is taken down.
  do:  Type: codes UNIT CODES [stored CODES] [first CODES] [by test CODES] [not CODES] [perhaps more]
""",
    ),
    "works": (
        "works",
        """
typed:1:1: error: 'works' needs more: the function or part is missing. [say-incomplete]
    works
    ^^^^^
  why: Only a sentence that can be read in one way is taken down.
  do:  Type: works FUNCTION or PART
""",
    ),
    "undo f1, key on": (
        "undo f1, key on",
        """
typed:1:10: error: 'key on' does not belong here. [say-left-over]
    undo f1, key on
             ^^^^^^
  why: Only a sentence that can be read in one way is taken down.
  do:  Type: undo FINDING
""",
    ),
    "volts X14.3 5": (
        "volts X14.3 5",
        """
typed:1:7: error: The book has no place 'X14.3'. [say-unknown-name]
    volts X14.3 5
          ^^^^^
  why: A finding on the wrong place would clear or accuse the wrong thing.
  do:  Type the name as the book prints it. Did you mean X4.3, X4.3b, X4.3a?
""",
    ),
    "looked hnge: damage": (
        "looked hnge: damage",
        """
typed:1:8: error: The book has no place 'hnge'. [say-unknown-name]
    looked hnge: damage
           ^^^^
  why: A finding on the wrong place would clear or accuse the wrong thing.
  do:  Type the name as the book prints it. Did you mean hinge, hinge pin?
""",
    ),
    "codes EDU 157/4": (
        "codes EDU 157/4",
        """
typed:1:7: error: The book has no unit 'EDU'. [say-unknown-name]
    codes EDU 157/4
          ^^^
  why: A finding on the wrong place would clear or accuse the wrong thing.
  do:  Type the name as the book prints it. Did you mean ECU?
""",
    ),
    "volts X10.3 5, S22 on": (
        "volts X10.3 5, S22 on",
        """
typed:1:16: error: The book has no switch 'S22'. [say-unknown-name]
    volts X10.3 5, S22 on
                   ^^^
  why: A finding on the wrong place would clear or accuse the wrong thing.
  do:  Type the name as the book prints it. Did you mean S2?
""",
    ),
    "volts X10.3 5, X99 unplugged": (
        "volts X10.3 5, X99 unplugged",
        """
typed:1:16: error: The book has no plug, fuse or relay 'X99'. [say-unknown-name]
    volts X10.3 5, X99 unplugged
                   ^^^
  why: A finding on the wrong place would clear or accuse the wrong thing.
  do:  Type the name as the book prints it.
""",
    ),
    "volts rail sensor.4 5": (
        "volts rail sensor.4 5",
        """
typed:1:7: error: rail sensor has no wired pin '4' in the book. [say-unknown-pin]
    volts rail sensor.4 5
          ^^^^^^^^^^^^^
  why: A finding on the wrong place would clear or accuse the wrong thing.
  do:  Its pins are: rail sensor.1, rail sensor.2, rail sensor.3.
""",
    ),
    "volts rail sensor 5": (
        "volts rail sensor 5",
        """
typed:1:7: error: rail sensor has several pins, and the place does not say which. [say-which-pin]
    volts rail sensor 5
          ^^^^^^^^^^^
  why: A finding on the wrong place would clear or accuse the wrong thing.
  do:  Type the pin too: rail sensor.1, rail sensor.2, rail sensor.3.
""",
    ),
    "codes ECU 157/5": (
        "codes ECU 157/5",
        """
typed:1:11: error: The book has no code '157/5' of ECU. [say-unknown-code]
    codes ECU 157/5
              ^^^^^
  why: A mistyped code would point at the wrong circuit.
  do:  If the display really shows it, put it in quotes: "157/5". Did you mean 157/4, 157/3, 1347/5?
""",
    ),
    "codes ECU blinks 9-9": (
        "codes ECU blinks 9-9",
        """
typed:1:18: error: The book has no code of ECU that blinks 9-9. [say-unknown-blinks]
    codes ECU blinks 9-9
                     ^^^
  why: A group miscounted would point at the wrong circuit.
  do:  Count once more. The book has 1-1 (110/4), 1-2 (110/3), 1-3 (100/4), 1-4 (100/3), 2-1 (157/4), 2-2 (157/3), 2-3 (102/4), 2-4 (102/3), 2-5 (94/4), 2-6 (94/3), 3-1 (3509/4), 3-2 (3509/3), 3-3 (3510/4), 3-4 (3510/3), 4-1 (636/8), 4-2 (723/8), 4-3 (1347/5), 4-4 (1347/6), 5-1 (168/4), 5-2 (168/3). If the lamp really blinks so, put it in quotes: "blinks 9-9".
""",
    ),
    "codes display blinks 3": (
        "codes display blinks 3",
        """
typed:1:22: error: The book has no code of display that blinks 3. [say-unknown-blinks]
    codes display blinks 3
                         ^
  why: A group miscounted would point at the wrong circuit.
  do:  Count once more. The book has no blink codes of display. If the lamp really blinks so, put it in quotes: "blinks 3".
""",
    ),
    "volts X10.3": (
        "volts X10.3",
        """
typed:1:7: error: There is no reading at the end of 'X10.3'. [say-no-value]
    volts X10.3
          ^^^^^
  why: The reading is the finding.
  do:  Type: volts PLACE [to PLACE] VALUE [with min-max | with lamp | with low impedance | with diode test]
""",
    ),
    "display rail pressure": (
        "display rail pressure",
        """
typed:1:9: error: There is no reading at the end of 'rail pressure'. [say-no-value]
    display rail pressure
            ^^^^^^^^^^^^^
  why: The reading is the finding.
  do:  Type: display [UNIT] NAME VALUE
""",
    ),
    "volts X10.3 5.0 bar": (
        "volts X10.3 5.0 bar",
        """
typed:1:17: error: 'bar' is not a measure of volts. [say-unit]
    volts X10.3 5.0 bar
                    ^^^
  why: A wrong measure is a wrong reading.
  do:  Leave it out or type one of: V, mV.
""",
    ),
    "display rail pressure 20 psi": (
        "display rail pressure 20 psi",
        """
typed:1:26: error: 'psi' is not a measure of display rail pressure. [say-unit]
    display rail pressure 20 psi
                             ^^^
  why: A wrong measure is a wrong reading.
  do:  Leave it out or type one of: bar.
""",
    ),
    "display oil pressure 987654": (
        "display oil pressure 987654",
        """
typed:1:22: error: 987654 bar is no value of oil pressure on the display of ECU: it can show 0 to 10 bar. [say-beyond-display]
    display oil pressure 987654
                         ^^^^^^
  why: A mistyped value would accuse the wrong part.
  do:  Read the display again and type the number as it stands there.
""",
    ),
    "volts X10.3 120, key on": (
        "volts X10.3 120, key on",
        """
typed:1:13: error: 120 V cannot be read on a 12 V machine: nothing on it holds more than 36 V. [say-beyond-volts]
    volts X10.3 120, key on
                ^^^
  why: A mistyped value would accuse the wrong part.
  do:  Is the decimal point in its place, or were millivolts meant? Type the number as the meter shows it.
""",
    ),
    "ohms ECU.45 to ECU.47 3, part side, ECU unplugged": (
        "ohms ECU.45 to ECU.47 3, part side, ECU unplugged",
        """
typed:1:1: error: There is no part side at ECU.45 and ECU.47. [say-no-part-side]
    ohms ECU.45 to ECU.47 3, part side, ECU unplugged
    ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
  why: Only what can be unplugged or pulled is measured by itself, and no ohmmeter is held to a control unit.
  do:  Leave out: part side
""",
    ),
    "volts X10.3 OL, key on": (
        "volts X10.3 OL, key on",
        """
typed:1:13: error: OL on a range of volts: there is more than the range can show. [say-out-of-range]
    volts X10.3 OL, key on
                ^^
  why: It says nothing of how much there is.
  do:  Turn the meter to the next larger range and read again.
""",
    ),
    "ohms X10.3a to ECU.44 -5, X10 and ECU unplugged": (
        "ohms X10.3a to ECU.44 -5, X10 and ECU unplugged",
        """
typed:1:23: error: -5 ohm is less than nothing. [say-below-nothing]
    ohms X10.3a to ECU.44 -5, X10 and ECU unplugged
                          ^^
  why: An ohmmeter shows that when something drives current through it, or when its leads were set to zero badly.
  do:  Is the key off and the battery minus lifted? Touch the leads together, set them to zero and read again.
""",
    ),
    "amps wire 31a 99999, key on": (
        "amps wire 31a 99999, key on",
        """
typed:1:15: error: 99999 A cannot be read with a clamp: the largest show 2000 A. [say-beyond-amps]
    amps wire 31a 99999, key on
                  ^^^^^
  why: A mistyped value would accuse the wrong part.
  do:  Is the decimal point in its place, or were milliamperes meant? Type the number as the clamp shows it.
""",
    ),
    "fuse K3 blown": (
        "fuse K3 blown",
        """
typed:1:6: error: K3 is no fuse: it is a relay. [say-not-a-fuse]
    fuse K3 blown
         ^^^^^^^^
  why: Only a fuse, fusible link or circuit breaker blows.
  do:  For anything else type works, dead or looked.
""",
    ),
    "unplugged G2": (
        "unplugged G2",
        """
typed:1:11: error: G2 cannot be unplugged: it is a ground stud. [say-not-here]
    unplugged G2
              ^^
  why: The put-back list must hold only what a hand can put back.
  do:  For a stud, splice or cable type looked, repaired or replaced.
""",
    ),
    "fuse F5 bown": (
        "fuse F5 bown",
        """
typed:1:6: error: 'F5 bown' is no answer to: how was the fuse found? [say-unknown-answer]
    fuse F5 bown
         ^^^^^^^
  why: Only a sentence that can be read in one way is taken down.
  do:  Type one of: looks good, ohms good, hot both sides, hot one side, blown, blew, held. Did you mean blown?
""",
    ),
    "failing mostly": (
        "failing mostly",
        """
typed:1:9: error: 'mostly' is no answer to: is it failing right now? [say-unknown-answer]
    failing mostly
            ^^^^^^
  why: Only a sentence that can be read in one way is taken down.
  do:  Type one of: yes, gone, only when wet, only when hot, only when moved.
""",
    ),
    "looked hinge": (
        "looked hinge",
        """
typed:1:8: error: 'hinge' is no answer to: what was to be seen? [say-unknown-answer]
    looked hinge
           ^^^^^
  why: Only a sentence that can be read in one way is taken down.
  do:  Type one of: PLACE: damage, PLACE: nothing. Did you mean nothing?
""",
    ),
    "moved hinge: maybe": (
        "moved hinge: maybe",
        """
typed:1:7: error: 'hinge: maybe' is no answer to: what happened? [say-unknown-answer]
    moved hinge: maybe
          ^^^^^^^^^^^^
  why: Only a sentence that can be read in one way is taken down.
  do:  Type one of: PLACE: nothing, PLACE: shows at PLACE.
""",
    ),
    "volts X10.3 5 with clamp": (
        "volts X10.3 5 with clamp",
        """
typed:1:20: error: 'clamp' is no answer to: how was it read? [say-unknown-answer]
    volts X10.3 5 with clamp
                       ^^^^^
  why: Only a sentence that can be read in one way is taken down.
  do:  Type one of: with min-max, with lamp, with low impedance, with diode test. Did you mean lamp?
""",
    ),
    "volts X10.3 5, keyon": (
        "volts X10.3 5, keyon",
        """
typed:1:16: error: 'keyon' does not say how the machine stood. [say-unknown-situation]
    volts X10.3 5, keyon
                   ^^^^^
  why: Key, loads and open plugs decide what a reading means.
  do:  After the comma type for instance: key on, S2 on, X10 unplugged, battery off. Did you mean key on, key run, key off?
""",
    ),
    "volts X10.3 5, X10": (
        "volts X10.3 5, X10",
        """
typed:1:16: error: 'X10' stands alone: is it on, off, unplugged or pulled? [say-unfinished-list]
    volts X10.3 5, X10
                   ^^^
  why: Key, loads and open plugs decide what a reading means.
  do:  Type for instance: X10 unplugged
""",
    ),
    "ohms X10.3 to frame 5, key on": (
        "ohms X10.3 to frame 5, key on",
        """
typed:1:1: error: An ohm reading was taken with key on. [say-ohms-live]
    ohms X10.3 to frame 5, key on
    ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
  why: On a live circuit an ohmmeter shows a wrong figure and may be damaged.
  do:  Key off, battery minus lifted, plugs of the piece open; measure again.
""",
    ),
    "undo f9": (
        "undo f9",
        """
typed:1:6: error: There is no finding 'f9' to take back on this job. [say-unknown-finding]
    undo f9
         ^^
  why: Only what still stands can be taken back.
  do:  Findings that stand: f1.
""",
    ),
    "new visit": (
        "new visit",
        """
typed:1:1: error: A new visit holds at least one finding. [say-empty-visit]
    new visit
    ^^^^^^^^^
  why: A visit is what was found in one go.
  do:  Go on on the same line: new visit; failing gone
""",
    ),
}
"""Case: what was typed, and the whole answer."""


def refusal(text: str, book: Book, state: JobState = BEGUN) -> str:
    """The text of the one problem with a typed text."""
    (problem,) = hear(text, book, state=state)
    assert isinstance(problem, Problem)
    assert problem.weight == "error"
    return str(problem)


@pytest.mark.parametrize("name", REFUSALS)
def test_error_is_told_in_full(name: str, dumper: Book) -> None:
    typed, told = REFUSALS[name]
    assert refusal(typed, dumper) == told.strip("\n")


def test_error_too_long_names_both_lengths(dumper: Book) -> None:
    (problem,) = hear("volts " + "x" * 1500, dumper, state=BEGUN)
    assert isinstance(problem, Problem)
    assert problem.what == "This line has 1506 characters; a line may have 1000."
    assert problem.why == "A finding fits in one line; something else was pasted."
    assert problem.remedy == "Type one finding per line."


def test_error_key_unknown_on_a_new_job_asks_for_it(dumper: Book) -> None:
    assert refusal("volts X10.3 5.0", dumper, JobState()) == (
        "typed:1:1: error: Nothing was said about the key yet on this job. [say-which-key]\n"
        "    volts X10.3 5.0\n"
        "    ^^^^^^^^^^^^^^^\n"
        "  why: With key off, on, cranking or running the same place reads quite differently.\n"
        "  do:  Add it after a comma: key off, key on, cranking or running."
    )


def test_error_battery_still_off_asks_how_it_stood(dumper: Book) -> None:
    dead = Situation(key="off", battery_off=True)
    state = fold([Reading(id="f1", instrument="ohmmeter", p="X10.3b", n="frame", situation=dead)])
    assert refusal("volts X10.3a 5.0", dumper, state) == (
        "typed:1:1: error: The battery minus is still off from the finding before. "
        "[say-battery-is-off]\n"
        "    volts X10.3a 5.0\n"
        "    ^^^^^^^^^^^^^^^^\n"
        "  why: Without it nothing reads volts or amps, nothing works and no unit reports.\n"
        "  do:  Say how it stood now: add for instance: battery on, key on"
    )


TWO_ALIKE = """
machine press, 12 V
battery: battery 12 V
B1: splice
B2: splice
battery.+ > B1, 2.5 mm2, RD, wire 6
B1 > B2, 2.5 mm2, RD, wire 7
B2 > battery.-, 2.5 mm2, RD, wire 7
left: control unit
right: control unit
B2 > left.1 + right.1, 2.5 mm2, wire 8 / 9
left.1: analogue input
right.1: analogue input
display left oil: left.1, 0.5 V to 4.5 V is 0 to 10 bar
display right oil: right.1, 0.5 V to 4.5 V is 0 to 10 bar
"""


@pytest.fixture(scope="module")
def press() -> Book:
    book, problems = read_book(TWO_ALIKE, "press")
    assert book is not None, "\n".join(map(str, problems))
    return book


def test_error_wire_printed_twice_lists_both(press: Book) -> None:
    assert refusal("amps wire 7 2.4, key on", press) == (
        "typed:1:6: error: Several wires are printed '7'. [say-which-wire]\n"
        "    amps wire 7 2.4, key on\n"
        "         ^^^^^^\n"
        "  why: A finding on the wrong place would clear or accuse the wrong thing.\n"
        "  do:  Type the one that was meant by its own name: 7 B1-B2, 7 B2-battery.-."
    )


def test_error_value_shown_by_two_units_asks_for_the_unit(press: Book) -> None:
    assert refusal("display oil 3", press) == (
        "typed:1:9: error: Several units show 'oil'. [say-which-display]\n"
        "    display oil 3\n"
        "            ^^^\n"
        "  why: A finding on the wrong place would clear or accuse the wrong thing.\n"
        "  do:  Say the unit first: left oil, right oil."
    )


SHUT = """
machine press, 12 V
battery: battery 12 V
F1: fuse 10 A
X5: plug 2 ways, backprobe no
battery.+ > F1 > X5.1 > lamp.1, 1.0 mm2, RD, wire 5a / 5b / 5c
lamp: lamp 21 W
lamp.2 > battery.-, 1.0 mm2, BN, wire 6
"""


@pytest.fixture(scope="module")
def shut() -> Book:
    book, problems = read_book(SHUT, "press")
    assert book is not None, "\n".join(map(str, problems))
    return book


def test_error_reading_in_a_plug_that_is_on_and_lets_no_probe_in_asks_how_it_stood(
    shut: Book,
) -> None:
    assert refusal("volts X5.1 12,1, key on", shut) == (
        "typed:1:7: error: No probe gets to X5.1 while X5 is on: the book says that none can be slid "
        "in from behind. [say-shut]\n"
        "    volts X5.1 12,1, key on\n"
        "          ^^^^\n"
        "  why: With the plug off the same place reads quite differently.\n"
        "  do:  If it was off, add: X5 unplugged. If it was read with the plug on all the same, add: "
        "X5 plugged"
    )


@pytest.mark.parametrize(
    "said",
    ["volts X5.1a 12,1, key on, X5 unplugged", "volts X5.1 12,1, key on, X5 plugged",
     "volts F1.2 12,1, key on", "ohms X5.1b to battery.- 8, X5 unplugged"],
)  # fmt: skip
def test_how_it_stood_or_another_place_is_taken(shut: Book, said: str) -> None:
    (found,) = hear(said, shut, state=BEGUN)
    assert isinstance(found, Reading), found


def test_what_a_shut_place_should_read_may_be_asked(shut: Book) -> None:
    assert isinstance(asked("volts X5.1, key on", shut), Asked)


def test_error_what_is_asked_for_must_be_a_reading(dumper: Book) -> None:
    (problem,) = asked("fuse F5 blown", dumper)  # type: ignore[misc]
    assert isinstance(problem, Problem)
    assert problem.slug == "say-unknown-answer"
    (problem,) = asked("display rail pressure, key on", dumper)  # type: ignore[misc]
    assert str(problem) == (
        "error: 'display rail pressure, key on' asks for no reading. [say-not-a-reading]\n"
        "  why: A healthy figure exists only for what an instrument shows.\n"
        "  do:  Begin with volts, ohms, amps or millivolts: volts X14.3, key on"
    )


def test_every_sentence_is_looked_at_and_nothing_is_kept_by_halves(dumper: Book) -> None:
    heard = hear("works horn sounds; volts X14.3 5\nfuse K3 blown", dumper, state=BEGUN)
    assert [(p.slug, p.at.line) for p in heard if isinstance(p, Problem) and p.at] == [
        ("say-unknown-name", 1),
        ("say-not-a-fuse", 2),
    ]
    assert len(heard) == 2


def test_every_refusal_in_the_table_is_tested_here() -> None:
    said = " ".join(told for _, told in REFUSALS.values())
    elsewhere = {
        "say-too-long", "say-which-key", "say-battery-is-off", "say-which-wire",
        "say-which-display", "say-shut",
    }  # fmt: skip
    assert {slug for slug in WORDING if f"[{slug}]" not in said} == elsewhere


def test_what_says_nothing_is_told_so_whoever_asks(dumper: Book) -> None:
    for found in (hear("?", dumper, state=JobState()), asked("", dumper)):
        assert [getattr(one, "slug", "") for one in found] == ["say-nothing"]
