"""Fuse boxes: slots where the book says, and what hangs behind a fuse, worked by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.book import read_book
from backprobe.checks.fuse_boxes import MOST_GAPS, fed_by, fuse_boxes
from backprobe.checks.layout import Layout, layout_of
from backprobe.kinds import KINDS
from backprobe.shop.demo import book_text


def layout(text: str) -> Layout:
    book, problems = read_book(f"machine m, 12 V\n{text}")
    assert book is not None, "\n".join(map(str, problems))
    return layout_of(book, KINDS)


@pytest.fixture(scope="module")
def dumper() -> Layout:
    book, _ = read_book(book_text("tracked-dumper"), "tracked-dumper")
    assert book is not None
    return layout_of(book, KINDS)


def boxes(*places: str) -> list[tuple[str, list[tuple[str, list[str]]], tuple[str, ...]]]:
    """(place, rows of fuse names, loose fuses) of F1, F2 ... at some places."""
    text = "".join(
        f"F{k}: fuse 10 A{f', at {place}' if place else ''}\n" for k, place in enumerate(places, 1)
    )
    names = [f"F{k}" for k in range(1, len(places) + 1)]
    return [
        (box.place, [(row, [slot.fuse for slot in slots]) for row, slots in box.rows], box.loose)
        for box in fuse_boxes(layout(text), names)
    ]


def test_fuses_lie_in_their_rows_and_slots_whatever_the_order_of_the_book() -> None:
    assert boxes("fuse box row 2 slot 1", "fuse box Row 1 slot 3", "fuse box row 1 Slot 1") == [
        ("fuse box", [("1", ["F3", "", "F2"]), ("2", ["F1"])], ())
    ]


def test_a_box_of_one_row_needs_no_row_and_rows_may_be_letters() -> None:
    assert boxes("panel slot 2", "panel slot 1") == [("panel", [("", ["F2", "F1"])], ())]
    assert boxes(
        "box row B slot 1", "box row A slot 1", "box row 10 slot 1", "box row 9 slot 1"
    ) == [("box", [("A", ["F2"]), ("B", ["F1"]), ("9", ["F4"]), ("10", ["F3"])], ())]


def test_fuses_without_a_slot_stand_beside_the_box_they_are_at() -> None:
    assert boxes("box", "box slot 1", "main stud", "", "box slot 0") == [
        ("box", [("", ["F2"])], ("F1", "F5")),
        ("main stud", [], ("F3",)),
        ("", [], ("F4",)),
    ]


def test_a_slot_said_twice_holds_the_first() -> None:
    assert boxes("box slot 1", "box slot 1") == [("box", [("", ["F1"])], ("F2",))]


def test_numbers_far_apart_make_no_empty_slots() -> None:
    assert boxes("box slot 1", "box slot 99") == [("box", [("", ["F1", "F2"])], ())]
    assert len(boxes("box slot 1", f"box slot {MOST_GAPS + 2}")[0][1][0][1]) == MOST_GAPS + 2


PLACES = st.sampled_from(["", "box", "row 1 slot 2"]) | st.builds(
    "{} row {} slot {}".format, st.sampled_from(["a", "b"]), st.integers(0, 3), st.integers(0, 99)
)


@given(st.lists(PLACES, min_size=1, max_size=8))
def test_every_fuse_is_in_one_box_once(places: list[str]) -> None:
    found = [
        name
        for _, rows, loose in boxes(*places)
        for name in (*(f for _, row in rows for f in row if f), *loose)
    ]
    assert sorted(found) == sorted(f"F{k}" for k in range(1, len(places) + 1))


BY_HAND = {
    # read off the chains of the demo book
    "FL2": ("F1", "F2", "F3", "F11"),
    "F1": ("key switch", "F5", "F6", "F7", "F8", "F9", "K3"),
    "F2": ("ECU", "F4", "K2", "K4"),
    "F3": ("lift pump",),
    "F5": ("K5", "beacon", "display", "work light left", "work light right"),
    "F6": ("horn",),
    "F8": ("K1",),
    "F11": ("starter",),
    "F20": ("glow plug 1", "glow plug 2", "glow plug 3"),
}


@pytest.mark.parametrize("fuse", BY_HAND)
def test_what_a_fuse_feeds(dumper: Layout, fuse: str) -> None:
    assert sorted(fed_by(dumper, fuse)) == sorted(BY_HAND[fuse])


def test_a_fuse_without_wires_feeds_nothing() -> None:
    assert fed_by(layout("F1: fuse 10 A\n"), "F1") == ()
