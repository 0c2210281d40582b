"""Wires run along the tree of loom sections."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from backprobe.book import read_book
from backprobe.book.loom import loom_tree
from backprobe.book.model import Section
from book.reading import HEAD, between, slugs, sound

LOOM = """
section main: fuse box to X14, 1.5 m
section hinge: X14 to X22, 0.9 m
section pump: X22 to lift pump, 0.4 m
section light: X22 to work light, 2 m
spot hinge pin: in hinge at 0.55 m, hinge
F12: fuse 10 A, at fuse box row 2 slot 3
X14: plug 4 ways
X22: plug 4 ways
lift pump: pump
work light: switch
G2: ground stud
"""


def test_a_wire_runs_from_its_parts_place_to_place() -> None:
    book = sound(LOOM + "F12 > X14.1 > X22.1 > lift pump > G2")
    assert between(book, "F12", "X14").route == ("main",)
    assert between(book, "X14", "X22").route == ("hinge",)
    assert between(book, "X14", "X22").length_m == 0.9
    assert between(book, "X14", "X22").assumed == ("size",)
    assert between(book, "lift pump", "G2").route == ()


def test_a_wire_past_several_places_takes_every_section_in_order() -> None:
    book = sound(LOOM + "work light.1 > F12.2\nlift pump.1 > work light.2\nlift pump.2 > G2")
    wire = between(book, "work light", "F12")
    assert wire.route == ("light", "hinge", "main")
    assert wire.length_m == 2 + 0.9 + 1.5
    assert between(book, "lift pump", "work light").route == ("pump", "light")


def test_a_typed_length_wins_over_the_sections() -> None:
    book = sound(LOOM + "F12 > X14.1, 1.8 m")
    assert between(book, "F12", "X14").length_m == 1.8


def test_a_section_said_of_a_chain_is_meant_for_the_wire_that_runs_through_it() -> None:
    book = sound(LOOM + "F12 > X14.1 > X22.1 > lift pump > G2, in hinge")
    assert between(book, "X14", "X22").stated == ("hinge",)
    assert between(book, "F12", "X14").stated == ()
    assert between(book, "F12", "X14").route == ("main",)


def test_the_books_word_wins_where_a_wire_runs_otherwise() -> None:
    book = sound(LOOM + "lamp B: lamp\nF12 > X14.2 > X22.2\nX22.2 > lamp B, in light\nlamp B > G2")
    assert between(book, "X22", "lamp B").route == ("light",)


def test_a_spot_is_kept_with_what_it_suffers() -> None:
    spot = sound(LOOM).spots["hinge pin"]
    assert (spot.section, spot.at_m, spot.exposure) == ("hinge", 0.55, "hinge")


def test_a_ring_is_reported_once_where_it_closes() -> None:
    assert slugs(LOOM + "section back: X22 to fuse box, 3 m").count("loom-ring") == 1


@st.composite
def trees(draw: st.DrawFn) -> list[Section]:
    """A random tree: every new place hangs on an earlier one."""
    count = draw(st.integers(min_value=1, max_value=14))
    out = []
    for k in range(1, count + 1):
        ends = [f"p{draw(st.integers(min_value=0, max_value=k - 1))}", f"p{k}"]
        if draw(st.booleans()):
            ends.reverse()
        out.append(Section(name=f"s{k}", a=ends[0], b=ends[1], length_m=1.0))
    return draw(st.permutations(out))


@given(trees(), st.data())
def test_a_path_walks_the_tree_from_one_place_to_the_other(
    sections: list[Section], data: st.DataObject
) -> None:
    tree, rings = loom_tree(sections)
    assert rings == []
    by_name = {section.name: section for section in sections}
    a, b = (data.draw(st.integers(0, len(sections))) for _ in range(2))
    path = tree.path(f"p{a}", f"p{b}")
    assert path is not None
    assert len(set(path)) == len(path)
    at = f"p{a}"
    for name in path:
        ends = {by_name[name].a, by_name[name].b}
        assert at in ends
        (at,) = ends - {at}
    assert at == f"p{b}"
    assert tree.path(f"p{b}", f"p{a}") == path[::-1]


def test_a_place_that_is_nowhere_has_no_path() -> None:
    tree, _ = loom_tree([Section(name="s", a="a", b="b", length_m=1.0)])
    assert tree.path("a", "elsewhere") is None


def test_sections_and_spots_fill_in_their_minutes() -> None:
    book, _ = read_book(HEAD + "section s: a to b, 1 m, open 6 min\na: plug 2 ways")
    assert book is not None
    assert (book.sections["s"].open_s, book.sections["s"].close_s) == (360.0, 270.0)
