"""The picture of a plug: nothing lies on anything, it fits a phone, and it can be read."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from playwright.sync_api import Browser

from backprobe.book.model import Cavity
from backprobe.checks.faces import Faces, FaceView, PinMark
from backprobe.web import face_view
from backprobe.web.face_view import PlugsView, plugs_view
from backprobe.web.pictures.face import (
    SIZE,
    TAG,
    Drawing,
    Place,
    face_drawing,
    face_svg,
)
from backprobe.web.pictures.text import width
from backprobe.web.render import templates
from web.browser_tools import SMALL, faults, picture
from web.picture_tools import Shape, meet
from web.test_picture_browser import ENOUGH, contrast

INSIDE = 254.0
"""Of 320 px, what margins, edges and padding of a page and a check leave (sheet.css), px."""
STYLES = Path(face_view.__file__).parent / "static"


@st.composite
def views(draw: st.DrawFn, sizes: st.SearchStrategy[list[int]] | None = None) -> FaceView:
    """Any rows a book may give, some pins marked."""
    rows = draw(sizes or st.lists(st.integers(1, 40), min_size=1, max_size=12))
    first = draw(st.sampled_from([1, 90]))
    labels = [[str(first + sum(rows[:k]) + i) for i in range(n)] for k, n in enumerate(rows)]
    pins = [(k, i) for k, row in enumerate(labels) for i in range(len(row))]
    chosen = draw(st.lists(st.sampled_from(pins), min_size=1, max_size=6, unique=True))
    return face(labels, [(draw(st.sampled_from("RBL")), k, i) for k, i in chosen])


def face(labels: list[list[str]], marked: list[tuple[str, int, int]]) -> FaceView:
    return FaceView(
        part="X1",
        of="X1, half on trunk",
        side="wire side",
        rows=tuple(tuple(Cavity(label, label) for label in row) for row in labels),
        marks=tuple(
            PinMark(
                letter=letter, name=labels[k][i], label=labels[k][i], row=k + 1, rows=len(labels),
                place=i + 1, places=len(labels[k]),
            )
            for letter, k, i in marked
        ),
    )  # fmt: skip


def corners(place: Place) -> Shape:
    return (place.x0, place.y0, place.x1, place.y1)


def tags(drawing: Drawing) -> list[Shape]:
    return [(t.x - TAG, t.y - TAG, t.x + TAG, t.y + TAG) for t in drawing.tags]


@given(views())
def test_nothing_lies_on_anything_and_all_is_inside_what_a_small_phone_has(view: FaceView) -> None:
    drawing = face_drawing(view)
    places = [corners(place) for row in drawing.rows for place in row.places]
    shapes = [*places, *tags(drawing)]
    assert [pair for pair in combinations(shapes, 2) if meet(*pair)] == []
    left, right = drawing.body
    assert all(left < s[0] and s[2] < right and s[1] > 0 and s[3] < drawing.height for s in shapes)
    assert 0 < drawing.width <= INSIDE


@given(views())
def test_numbers_fit_between_their_neighbours_or_stand_at_the_ends(view: FaceView) -> None:
    for row, cavities in zip(face_drawing(view).rows, view.rows, strict=True):
        if row.ends:
            assert [words for words, _ in row.ends] == [cavities[0].label, cavities[-1].label]
            assert all(place.words == "" for place in row.places)
            continue
        assert [place.words for place in row.places] == [cavity.label for cavity in cavities]
        for one, other in zip(row.places, row.places[1:], strict=False):
            apart = (other.x0 + other.x1 - one.x0 - one.x1) / 2.0
            assert apart > (width(one.words, SIZE) + width(other.words, SIZE)) / 2.0


@given(views())
def test_a_picture_seen_from_the_other_side_is_mirrored(view: FaceView) -> None:
    other = face(
        [[cavity.label for cavity in row[::-1]] for row in view.rows],
        [(m.letter, m.row - 1, m.places - m.place) for m in view.marks],
    )
    one, two = face_drawing(view), face_drawing(other)
    assert (one.width, one.height) == (two.width, two.height)
    for row, mirrored in zip(one.rows, two.rows, strict=True):
        for place, its in zip(row.places, mirrored.places[::-1], strict=True):
            assert place.x0 == pytest.approx(one.width - its.x1)
            assert (place.y0, place.words) == (its.y0, its.words)


@given(views())
def test_the_same_plug_is_the_same_picture_and_says_which_pins_are_marked(view: FaceView) -> None:
    (plug,) = plugs_view(Faces(shown=(view,))).plugs
    assert plug.svg == face_svg(view, plug.svg.split('aria-label="')[1].split('"')[0])
    for mark in view.marks:
        assert f"pin {mark.label}, " in plug.svg
    assert "wire side" in plug.svg
    assert plug.side == "wire side: from behind, where the wires go in"


def test_a_mark_is_told_in_words() -> None:
    (plug,) = plugs_view(
        Faces(shown=(face([[str(n) for n in range(1, 25)], ["25"]], [("R", 0, 21), ("B", 1, 0)]),))
    ).plugs
    assert [(mark.what, mark.where) for mark in plug.marks] == [
        ("R red lead: pin 22", "row 1 of 2, 22nd of 24 from the left"),
        ("B black lead: pin 25", "row 2 of 2, 1st of 1 from the left"),
    ]


def test_words_of_the_book_cannot_break_the_picture() -> None:
    (plug,) = plugs_view(Faces(shown=(face([["<b>", '"&']], [("R", 0, 1)]),))).plugs
    assert "<b>" not in plug.svg
    assert "&lt;b&gt;" in plug.svg
    assert "&quot;&amp;" in plug.svg


def test_a_book_that_does_not_say_is_told_in_one_line() -> None:
    assert plugs_view(Faces(unsaid=("X1", "ECU"))).unsaid == (
        "The book does not say how the pins of X1 and ECU lie."
    )


def test_in_words_all_but_the_picture_is_kept() -> None:
    shown = plugs_view(Faces(shown=(face([["1", "2"]], [("R", 0, 0)]),), unsaid=("X1",)))
    (plug,), (bare,) = shown.plugs, shown.in_words().plugs
    assert bare.svg == ""
    assert (bare.marks, bare.side, shown.in_words().unsaid) == (plug.marks, plug.side, shown.unsaid)


# ------------------------------------------------------------------ in a browser

NUMBERS = [[str(n) for n in range(k, k + 12)] for k in range(1, 72, 12)]
LONG = [[str(n) for n in range(1, 41)], [str(n) for n in range(101, 141)]]
SHOWN = Faces(
    shown=(
        face(NUMBERS, [("R", 1, 3), ("B", 1, 4), ("B", 5, 11)]),
        face(LONG, [("R", 0, 0), ("B", 0, 1), ("L", 1, 39)]),
        face([["1", "2"]], [("L", 0, 0)]),
    ),
    unsaid=("X9",),
)
WORDS = """() => [...document.querySelectorAll('.face')].map(svg => {
  const inside = e => { const b = e.getBoundingClientRect(); return [b.left, b.top + 1, b.right, b.bottom - 1] };
  const fill = e => getComputedStyle(e).fill, paper = getComputedStyle(document.body).backgroundColor;
  const boxes = [...svg.querySelectorAll('rect, path.hole, circle')];
  return [...svg.querySelectorAll('tspan, text:not(:has(tspan))')].map(t => {
    const b = inside(t), x = (b[0] + b[2]) / 2, y = (b[1] + b[3]) / 2;
    const under = boxes.filter(r => {
      const c = r.getBoundingClientRect();
      const before = r.compareDocumentPosition(t) & Node.DOCUMENT_POSITION_FOLLOWING;
      return before && c.left <= x && x <= c.right && c.top <= y && y <= c.bottom;
    });
    const over = boxes.some(r => {
      const c = r.getBoundingClientRect();
      return r.matches('.marked') && r.compareDocumentPosition(t) & Node.DOCUMENT_POSITION_PRECEDING
        && c.left <= x && x <= c.right && c.top <= y && y <= c.bottom;
    });
    const size = parseFloat(getComputedStyle(t).fontSize);
    return { words: t.textContent, box: b, over, size, scale: svg.getScreenCTM().a,
             colours: [fill(t), under.length ? fill(under[under.length - 1]) : paper] };
  });
})"""


def html(shown: PlugsView) -> str:
    css = "".join(f"<style>{(STYLES / name).read_text()}</style>" for name in ("sheet.css", "faces.css"))  # fmt: skip
    body = templates().from_string('{% from "parts.html" import plugs %}{{ plugs(shown) }}')
    return (
        '<!doctype html><html lang="en"><head><title>Plugs</title><meta name="viewport" '
        f'content="width=device-width">{css}</head><body><main><h1>Plugs</h1>'
        f'<div class="check main">{body.render(shown=shown)}</div></main></body></html>'
    )


@pytest.mark.parametrize("colours", ["light", "dark"])
def test_plugs_can_be_read_on_the_smallest_phone(
    browser: Browser, axe_script: str, colours: str
) -> None:
    page = browser.new_page(viewport=SMALL, color_scheme=colours)  # type: ignore[arg-type]
    page.set_content(html(plugs_view(SHOWN)))
    assert faults(page, axe_script) == []
    wrong = []
    for words in page.evaluate(WORDS):
        shown = [one for one in words if not one["over"]]
        wrong += [
            f"{one['words']} lies on {other['words']}"
            for one, other in combinations(shown, 2)
            if meet(tuple(one["box"]), tuple(other["box"]))
        ]
        wrong += [f"{one['words']}: {one['colours']}" for one in shown if contrast(*one["colours"]) < ENOUGH]  # fmt: skip
        wrong += [f"{one['words']} is small" for one in shown if one["size"] * one["scale"] < SIZE - 0.01]  # fmt: skip
    assert wrong == []
    picture(page, f"plugs-{colours}")
    page.close()
