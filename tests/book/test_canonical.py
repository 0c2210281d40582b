"""The tidy spelling: it is stable, means the same, and keeps comments and order."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.book import canonical, read_book
from backprobe.book.canonical import tidy
from book.reading import plain

MANUAL = Path(__file__).parents[2] / "docs" / "wiring-book.md"

TIDIED = {
    "F12 :fuse   10A ,at  fuse box row 2 slot 3": "F12: fuse 10 A, at fuse box row 2 slot 3",
    "X14: PLUG 12 ways, Open 4min, CLOSE 3 minutes": "X14: plug 12 ways, open 4 min, close 3 min",
    "F12>X14.3>lift  pump, 1,0mm², RD, Wire 31A": "F12 > X14.3 > lift pump, 1.0 mm2, RD, wire 31A",
    "A.1 > b.2  +  c.3": "A.1 > b.2 + c.3",
    "ECU . 31: analogue input, Pull Up 4,7kOhm to group 5A":
        "ECU.31: analogue input, pull up 4.7 kohm to group 5A",
    'code ECU 157/4 "Low  #1": ECU.31<0,2V or>4.8V, FOR 2s, hides 94/1':
        'code ECU 157/4 "Low  #1": ECU.31 < 0.2 V or > 4.8 V, for 2 s, hides 94/1',
    "X1: plug 4 ways, MATING  side 1 TO 2/3  4 ON hinge, Open 4min":
        "X1: plug 4 ways, mating side 1 to 2 / 3 4 on hinge, open 4 min",
    "X1 > X2, Wire Side 3": "X1 > X2, wire Side 3",
    "code ECU 157/4: supply<9V, BLINKS  3-2": "code ECU 157/4: supply < 9 V, blinks 3-2",
    "Section hinge:X14 TO X22,  90cm": "section hinge: X14 to X22, 90 cm",
    "spot pin: in hinge at 55cm, hinge": "spot pin: in hinge at 55 cm, hinge",
    "display ECU rail pressure: ECU.31, 0,5V to 4,5V is 0 to 1800 bar":
        "display ECU rail pressure: ECU.31, 0.5 V to 4.5 V is 0 to 1800 bar",
    "F3   FEEDS  a ,b,c": "F3 feeds a, b, c",
    "lamp: lamp 21W , only cab, from page  9 ?": "lamp: lamp 21 W, from page 9, only cab ?",
    "  # a remark  ": "# a remark",
    "F1: fuse 5A          # third from left": "F1: fuse 5 A         # third from left",
    "F1: fuse 5A # third": "F1: fuse 5 A  # third",
    "x-note:  kept   as it is": "x-note:  kept   as it is",
    "what is this  ": "what is this",
    "": "",
}  # fmt: skip


@pytest.mark.parametrize("line", TIDIED)
def test_a_line_in_its_tidy_spelling(line: str) -> None:
    assert canonical(line + "\n") == TIDIED[line] + "\n"


def test_numbers_in_names_are_left_alone() -> None:
    assert tidy("group 5A") == "group 5A"
    assert canonical("F1: fuse 5 A, at row 5A\n") == "F1: fuse 5 A, at row 5A\n"


def test_the_example_of_the_manual_is_already_tidy() -> None:
    manual = MANUAL.read_text("utf-8").splitlines()
    example = "".join(f"{line[4:]}\n" for line in manual if line.startswith("    "))
    assert canonical(example) == example


# ------------------------------------------------------------------ books at random

GAP = st.sampled_from(["", " ", "  ", "\t"])
COMMENT = st.sampled_from(["", "", "  # remark, 5A: > x", "   #\ttab", ' # "quoted'])
TAIL = st.sampled_from(["", "", " ?", ", from diagram  page 9", ", only  cab", ", ONLY canopy ?"])
PARTS = ("F1", "F2", "X1", "X2", "lamp A", "lift  pump", "J5", "G1", "rail sensor", "ECU")
FACES = st.sampled_from(
    ["1 2", "1 to 2/3 TO 4", "4 to 1", "1 - 2 / 3 4 on  hinge", "", "1 to", "1 / 1"]
)
PINS = ("F1", "F2.2", "X1.1", "X1.2", "X2.b", "lamp A", "lift pump.1", "J5", "G1", "frame",
        "rail sensor.3", "ECU.1", "ECU.47", "K9.30", "battery minus", "nobody.7")  # fmt: skip


@st.composite
def cased(draw: st.DrawFn, words: str) -> str:
    """Words of the format in any case."""
    return draw(st.sampled_from([words, words.upper(), words.capitalize()]))


@st.composite
def amount(draw: st.DrawFn, *units: str) -> str:
    """A quantity in any of its spellings."""
    number = draw(st.sampled_from(["1", "10", "0.75", "0,75", "2.50", "4,0"]))
    return number + draw(GAP) + draw(st.sampled_from(units))


@st.composite
def part_line(draw: st.DrawFn) -> str:
    name = draw(st.sampled_from(PARTS))
    kind = draw(
        st.one_of(
            st.tuples(cased("fuse"), amount("A", "mA", "ohm")).map(" ".join),
            st.tuples(cased("plug"), st.sampled_from(["4 ways", "4  WAYS", ""])).map(" ".join),
            st.tuples(cased("lamp"), amount("W", "w")).map(" ".join),
            cased("three-wire sensor"),
            cased("control unit"),
            cased("ground stud"),
            cased("splice"),
            st.just("relay, suppressed diode, coil 90ohm"),
        )
    )
    items = draw(
        st.lists(
            st.one_of(
                st.sampled_from(["at row 5A  slot 3", "on frame", "ON engine", "backprobe no"]),
                st.tuples(cased("mating side"), FACES).map(" ".join),
                st.tuples(cased("wire  side"), FACES).map(" ".join),
                st.tuples(cased("open"), amount("min", "s")).map(" ".join),
                st.tuples(cased("rest"), amount("%")).map(" ".join),
            ),
            max_size=2,
        )
    )
    return f"{name}{draw(GAP)}:{draw(GAP)}{', '.join([kind, *items])}"


@st.composite
def wire_line(draw: st.DrawFn) -> str:
    pins = draw(st.lists(st.sampled_from(PINS), min_size=2, max_size=4))
    chain = f"{draw(GAP)}>{draw(GAP)}".join(pins)
    chain += draw(st.sampled_from(["", " + lamp A.2", "  +  G1 + J5"]))
    items = draw(
        st.lists(
            st.one_of(
                amount("mm2", "mm²", "m", "cm"),
                st.sampled_from(["RD", "BU-WH", "18awg", "wire 5A", "WIRE 31 / 5V", "in hinge"]),
            ),
            max_size=3,
        )
    )
    return ", ".join([chain, *items])


@st.composite
def other_line(draw: st.DrawFn) -> str:
    volts = amount("V", "mV")
    return draw(
        st.one_of(
            st.just("book  format 1"),
            st.tuples(cased("machine"), st.just(" digger, 12V, serial 44 A, variants cab / canopy")).map(
                "".join
            ),
            st.sampled_from(
                [
                    "ECU.1:supply", "ECU.47: 5V group A", "group ECU A: 5V, limit 100mA, latches",
                    "ECU.31: analogue input, pull up 4,7 kohm  to  group A", "x-own:  5A  kept",
                    "section hinge: X1 to X2, 90cm, open 5min", "F2 feeds lamp A, horn, 1mm2",
                    "spot pin: in hinge at 0,5m, hinge", "group ECU A feeds rail sensor",
                    "function travel: needs lamp A, lift  pump, key run, with F1, moves the machine",
                    "display ECU pressure: ECU.31, 0,5V to 4,5V is 0 to 10 bar", "no fact at all",
                ]
            ),
            st.tuples(st.sampled_from(["<", " >  "]), volts).map(
                lambda t: f'code ECU 157/4 "low:  x": ECU.31{t[0]}{t[1]}, key on run, for 2s, then stop, Blinks 3-2'
            ),
            st.just(""),
        )
    )  # fmt: skip


BOOKS = st.lists(
    st.tuples(GAP, st.one_of(part_line(), wire_line(), other_line()), TAIL, COMMENT).map("".join),
    max_size=12,
).map("\n".join)


@given(BOOKS)
def test_the_tidy_spelling_is_stable(text: str) -> None:
    once = canonical(text)
    assert canonical(once) == once


@given(BOOKS)
def test_the_tidy_spelling_reads_as_the_same_book_with_the_same_problems(text: str) -> None:
    book, problems = read_book(text)
    again, same = read_book(canonical(text))
    assert plain(again) == plain(book)
    assert [(p.slug, p.at and p.at.line) for p in same] == [
        (p.slug, p.at and p.at.line) for p in problems
    ]


@given(BOOKS)
def test_every_line_and_every_comment_is_kept(text: str) -> None:
    lines = text.split("\n") if text else []
    tidied = canonical(text).split("\n")[:-1]
    if lines and not lines[-1]:
        lines.pop()
    assert len(tidied) == len(lines)
    for line, tidy_line in zip(lines, tidied, strict=True):
        remark = line.partition("#")[2]
        assert tidy_line.endswith(remark.rstrip())
