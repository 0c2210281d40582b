"""The fuse box drawn: at intake as a form, at a check with the fuse marked."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser
from starlette.testclient import TestClient

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.layout import Layout, layout_of
from backprobe.checks.model import Check
from backprobe.defects.model import Probe
from backprobe.findings.model import FuseFound
from backprobe.kinds import KINDS
from backprobe.shop.arrival import fuses_of
from backprobe.shop.demo import book_text
from backprobe.shop.workshop import Shop
from backprobe.web import fuse_view
from backprobe.web.contexts import BoxView, SlotView
from backprobe.web.fuse_view import asked_boxes, checked_boxes
from backprobe.web.render import templates
from web.browser_tools import SMALL, faults, picture
from web.sheet_reader import forms, words

DUMPER = "tracked-dumper"
STYLES = Path(fuse_view.__file__).parent / "static"


@pytest.fixture(scope="module")
def layout() -> Layout:
    book, _ = read_book(book_text(DUMPER), DUMPER)
    assert book is not None
    return layout_of(book, KINDS)


def slots(boxes: tuple[BoxView, ...]) -> Iterator[SlotView]:
    return (slot for box in boxes for row in box.rows for slot in row.slots)


def slot_of(boxes: tuple[BoxView, ...], fuse: str) -> SlotView:
    return next(slot for slot in slots(boxes) if slot.fuse == fuse)


def at(target: str = "", p: str = "", n: str = "battery minus", **now: object) -> Check:
    probe = Probe(kind="volts", p=p, n=n) if p else None
    situation = Situation(key="off", **now)  # type: ignore[arg-type]
    return Check(id="c", does="fuse", target=target, words="", situation=situation, probe=probe)


def test_the_form_shows_every_fuse_where_the_book_has_it(layout: Layout) -> None:
    boxes = asked_boxes(layout, fuses_of(layout.book), {"f-F5": "blown", "f-F6": "charred"})
    assert [box.place for box in boxes] == ["Main stud", "Fuse box"]
    assert [[s.fuse for s in row.slots] for row in boxes[1].rows] == [
        ["F1", "F2", "F3", "F4", "F5"],
        ["F6", "F7", "F8", "F9", "F11"],
    ]
    assert {s.fuse for s in slots(boxes)} == set(fuses_of(layout.book))
    five = slot_of(boxes, "F5")
    assert five.name == (
        "F5 10 A, row 1 slot 5, feeds display, work light left, work light right, K5 and beacon"
    )
    assert [(c.words, c.chosen) for c in five.choices] == [
        ("not looked", False),
        ("good", False),
        ("blown", True),
    ]
    # what is no state is not looked at
    assert slot_of(boxes, "F6").state == "not looked"
    assert slot_of(boxes, "F1").feeds == "key switch, F5, F6, F7, F8 and 2 more"


def test_a_check_at_a_fuse_shows_its_box_and_what_was_found(layout: Layout) -> None:
    found = [
        FuseFound(fuse="F1", state="looks good"),
        FuseFound(fuse="F5", state="looks good"),
        FuseFound(fuse="F5", state="blew"),
    ]
    boxes = checked_boxes(layout, at("F5"), found)
    assert [box.place for box in boxes] == ["Fuse box"]
    assert [s.fuse for s in slots(boxes) if s.here] == ["F5"]
    states = {s.fuse: s.state for s in slots(boxes)}
    assert (states["F1"], states["F5"], states["F6"]) == ("good", "blown", "not looked")
    assert all(s.choices == () for s in slots(boxes))


@pytest.mark.parametrize(
    ("check", "marked"),
    [
        (at("X10"), []),
        (at("", "ECU.21"), []),
        (at("", "F7.2"), ["F7"]),
        (at("", "FL2:1", "F3.1"), ["FL2", "F3"]),
        (at("", "X10.1a", pulled=frozenset({"F4"})), ["F4"]),
    ],
)
def test_the_fuses_a_check_touches_or_pulls_are_marked(
    layout: Layout, check: Check, marked: list[str]
) -> None:
    assert [s.fuse for s in slots(checked_boxes(layout, check, ())) if s.here] == marked


def test_what_was_said_of_a_fuse_stays_when_something_else_was_wrong(
    client: TestClient, shop: Shop
) -> None:
    shop.add_book(DUMPER, book_text(DUMPER))
    typed = {"f-F5": "blown", "f-F20": "good", "battery": "low"}
    page = client.post(f"/start/{DUMPER}", data=typed)
    assert page.status_code == 422
    kept = forms(page.text)[0].fields
    assert {name: kept[name] for name in ("f-F5", "f-F20", "f-F1")} == {
        "f-F5": "blown",
        "f-F20": "good",
        "f-F1": "",
    }
    assert "Fuses (13)" in words(page.text)


# ------------------------------------------------------------------ in a browser

LONG = "machine m, 12 V\n" + "".join(
    f"F{k}: fuse 10 A, at fuse panel row 1 slot {k}\n" for k in range(1, 13) if k != 6
)
CUT = """() => [...document.querySelectorAll('.slot')].filter(
  s => s.scrollWidth > s.clientWidth + 1 || s.scrollHeight > s.clientHeight + 1).map(s => s.textContent)"""
SMALL_SLOTS = """() => [...document.querySelectorAll('.slot:has(input)')].map(s => s.getBoundingClientRect())
  .filter(b => b.width < 48 || b.height < 48).length"""
HIDDEN = """() => [...document.querySelectorAll('.slot.here')].filter(s => {
  const b = s.getBoundingClientRect(); return b.left < 0 || b.right > innerWidth }).length"""


def html(checked: tuple[BoxView, ...], asked: tuple[BoxView, ...]) -> str:
    """Boxes as they stand in a check and in the form that starts a job."""
    css = "".join(
        f"<style>{(STYLES / one).read_text()}</style>"
        for one in ("sheet.css", "forms.css", "faces.css", "taps.css")
    )
    box = templates().from_string(
        '{% from "fuses.html" import fuse_box %}'
        "{% for box in boxes %}{{ fuse_box(box, key ~ loop.index) }}{% endfor %}"
    )
    return (
        '<!doctype html><html lang="en"><head><title>Fuses</title><meta name="viewport" '
        f'content="width=device-width">{css}</head><body><main><h1>Fuses</h1>'
        f'<div class="check main">{box.render(boxes=checked, key="c")}</div>'
        f'<form class="start"><div class="boxed">{box.render(boxes=asked, key="f")}</div></form>'
        "</main></body></html>"
    )


@pytest.mark.parametrize("colours", ["light", "dark"])
def test_boxes_can_be_read_and_pressed_on_the_smallest_phone(
    browser: Browser, axe_script: str, layout: Layout, colours: str
) -> None:
    found = [FuseFound(fuse="F5", state="blown"), FuseFound(fuse="F2", state="looks good")]
    long, _ = read_book(LONG)
    assert long is not None
    wide = layout_of(long, KINDS)
    checked = (*checked_boxes(layout, at("F5"), found), *checked_boxes(wide, at("F12"), found))
    asked = asked_boxes(layout, fuses_of(layout.book), {"f-F5": "blown", "f-F2": "good"})
    page = browser.new_page(viewport=SMALL, color_scheme=colours)  # type: ignore[arg-type]
    page.set_content(html(checked, asked))
    assert faults(page, axe_script) == []
    assert page.evaluate(SMALL_SLOTS) == 0
    assert page.evaluate(CUT) == []
    assert page.evaluate(HIDDEN) == 0
    picture(page, f"fuses-{colours}")
    page.close()
