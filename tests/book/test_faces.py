"""How the pins of a plug lie. That its mating side and its wire side mirror each other is common
knowledge of the trade; no layout of a real plug is used."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.book import canonical, read_book
from backprobe.book.faces import MOST_IN_A_ROW, MOST_ROWS
from backprobe.book.model import Face
from book.reading import HEAD, slugs, sound

LOOM = "X2: plug 4 ways\nsection hinge: X1 to X2, 1 m\n"
ROWS = st.lists(st.integers(min_value=1, max_value=9), min_size=1, max_size=MOST_ROWS).map(
    lambda sizes: [[sum(sizes[:k]) + i + 1 for i in range(size)] for k, size in enumerate(sizes)]
)


def face(line: str) -> Face:
    book, problems = read_book(f"{HEAD}{line}\n{LOOM}")
    assert book is not None, [str(problem) for problem in problems]
    found = book.parts[line.partition(":")[0]].face
    assert found is not None
    return found


def labels(found: Face) -> list[list[str]]:
    return [[cavity.label for cavity in row] for row in found.rows]


def spelled(rows: list[list[int]]) -> str:
    return " / ".join(" ".join(map(str, row)) for row in rows)


def test_rows_are_counted_up_and_down_with_blanks() -> None:
    found = face("X1: plug 7 ways, mating side 1 to 3 - 4 / 7 to 5 on hinge")
    assert labels(found) == [["1", "2", "3", "", "4"], ["7", "6", "5"]]
    assert found.half == "hinge"


@given(ROWS)
def test_the_wire_side_is_the_mating_side_mirrored(rows: list[list[int]]) -> None:
    seen = face(f"X1: plug, mating side {spelled(rows)}")
    behind = face(f"X1: plug, wire side {spelled([row[::-1] for row in rows])}")
    assert seen.rows == behind.rows
    assert labels(seen) == [[str(n) for n in row] for row in rows]


@given(ROWS)
def test_a_range_reads_as_the_numbers_it_stands_for(rows: list[list[int]]) -> None:
    ranges = " / ".join(f"{row[0]} to {row[-1]}" for row in rows)
    assert face(f"X1: plug, mating side {ranges}") == face(f"X1: plug, mating side {spelled(rows)}")
    text = f"{HEAD}X1: plug, Mating side {ranges.replace(' / ', '/')}, at X2\n"
    assert canonical(canonical(text)) == canonical(text)
    one, other = read_book(text)[0], read_book(canonical(text))[0]
    assert one is not None
    assert other is not None
    assert one.parts["X1"].face == other.parts["X1"].face


def test_printed_names_find_the_pins_of_a_kind() -> None:
    found = face("rail sensor: three-wire sensor, pins A / B / C, wire side C B A")
    assert [[(c.label, c.pin) for c in row] for row in found.rows] == [
        [("A", "1"), ("B", "2"), ("C", "3")]
    ]


@pytest.mark.parametrize(
    ("line", "pins"),
    [
        ("X1: plug, pins 10 / 20 / 30, mating side 30 20 10 40", ["30", "20", "10", ""]),
        ("X1: plug 3 ways, mating side 1 to 4", ["1", "2", "3", ""]),
        ("X1: plug, pins A / B, mating side a B", ["A", "B"]),
        ("K1: relay, wire side 85 86 30 87", ["87", "30", "86", "85"]),
        ("lamp: lamp, pins 7 / 8, mating side 7 8 1", ["1", "2", "1"]),
    ],
)
def test_places_are_told_from_the_names_a_part_has(line: str, pins: list[str]) -> None:
    assert [cavity.pin for cavity in face(line).rows[0]] == pins


def test_places_of_a_unit_that_are_not_wired_make_no_pins() -> None:
    book, _ = read_book(f"{HEAD}ECU: control unit, wire side 1 to 20 / 21 to 40\nECU.31: supply\n")
    assert book is not None
    assert "7" not in book.parts["ECU"].pins
    assert book.parts["ECU"].face is not None


def test_without_the_fact_nothing_is_known() -> None:
    assert sound("X1: plug 2 ways\n").parts["X1"].face is None


@pytest.mark.parametrize(
    ("said", "reason"),
    [
        ("X1: plug, mating side 1 2 / / 3", "a row is empty"),
        ("X1: plug, mating side - -", "a row is empty"),
        ("X1: plug, mating side 1 to", '"to" stands between two numbers'),
        ("X1: plug, mating side 1 to 9999", f"more than {MOST_IN_A_ROW} pins in a row"),
        ("X1: plug, mating side " + " / ".join("abcdefghijklm"), f"more than {MOST_ROWS} rows"),
        ("X1: plug, mating side 1 2, wire side 2 1", "how its pins lie was said before"),
        ("J1: splice, mating side 1 2", "a splice has no plug"),
        ("lamp: lamp, wire side 1 2 on hinge", "only a plug in the loom has two halves"),
    ],
)
def test_error_impossible_rows(said: str, reason: str) -> None:
    _, problems = read_book(f"{HEAD}{said}\n{LOOM}")
    (found,) = [problem.what for problem in problems if problem.slug == "unreadable-face"]
    assert found.endswith(f" cannot be how the pins of a plug lie: {reason}.")


def test_a_side_without_rows_is_a_value_missing() -> None:
    assert slugs("X1: plug 2 ways, wire side\n") == ["missing-value"]


@given(st.text(alphabet="0123456789 /-to", max_size=60))
def test_any_rows_are_read_or_refused(rows: str) -> None:
    book, problems = read_book(f"{HEAD}X1: plug, mating side {rows}\n")
    refused = {problem.slug for problem in problems} & {"unreadable-face", "missing-value"}
    assert (book is None) == bool(refused)
    if book is not None:
        found = book.parts["X1"].face
        assert found is not None
        assert 1 <= len(found.rows) <= MOST_ROWS
        assert all(1 <= len(row) <= MOST_IN_A_ROW for row in found.rows)
