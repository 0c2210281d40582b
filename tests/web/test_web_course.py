"""How a job went: steps, plots, and the table that says the same."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st
from playwright.sync_api import Browser
from starlette.testclient import TestClient

from backprobe.book import read_book
from backprobe.checks.layout import layout_of
from backprobe.findings.model import Act, Failing, Withdrawn, Works
from backprobe.kinds import KINDS
from backprobe.shop.course import steps_of
from backprobe.shop.demo import book_text
from backprobe.shop.workshop import Shop
from backprobe.web import views
from backprobe.web.app import STATIC, make_app
from backprobe.web.plots import APART, BOTTOM, HEIGHT, TOP, Line, line_plot, round_top
from web.browser_tools import CUT, DESK, PHONE, SMALL, faults, picture, served
from web.conftest import ARRIVAL, HERE
from web.conftest import SMALL as BOOK
from web.sheet_reader import words

SVG = "{http://www.w3.org/2000/svg}"
GONE = Failing(answer="gone", visit=2)


def plot(*lines: Line) -> ET.Element:
    drawn = line_plot(
        lines, top=100.0, ticks=((0.0, "0"), (100.0, "100 %")), key="k", title="t", describe="d"
    )
    return ET.fromstring(drawn)


def points(svg: ET.Element) -> list[list[tuple[float, float]]]:
    return [
        [(float(x), float(y)) for x, y in (p.split(",") for p in line.get("points", "").split())]
        for line in svg.iter("polyline")
    ]


def letters(svg: ET.Element) -> list[tuple[str, float]]:
    return [
        (text.text or "", float(text.get("y", "")))
        for text in svg.iter("text")
        if "letter" in text.get("class", "")
    ]


# ------------------------------------------------------------------ the drawing


def test_a_line_is_drawn_to_scale() -> None:
    ((first, middle, last),) = points(plot(Line(name="a", values=(0.0, 50.0, 100.0))))
    assert first[1] == HEIGHT - BOTTOM
    assert last[1] == TOP
    assert middle[1] == pytest.approx((first[1] + last[1]) / 2, abs=0.1)
    assert middle[0] == pytest.approx((first[0] + last[0]) / 2, abs=0.1)


def test_what_is_not_known_is_left_out_and_a_line_without_any_is_not_drawn() -> None:
    svg = plot(Line(name="a", values=(10.0, None, 30.0)), Line(name="b", values=(None, None, None)))
    assert [len(line) for line in points(svg)] == [2]
    assert [letter for letter, _ in letters(svg)] == ["A"]


@given(
    st.lists(st.floats(0.0, 100.0), min_size=1, max_size=4),
    st.integers(1, 14),
)
def test_letters_keep_apart_and_inside_whatever_the_values(ends: list[float], count: int) -> None:
    svg = plot(
        *(Line(name=str(k), values=(50.0,) * (count - 1) + (v,)) for k, v in enumerate(ends))
    )
    heights = sorted(y for _, y in letters(svg))
    assert len(heights) == len(ends)
    assert all(b - a >= APART - 0.2 for a, b in pairwise(heights))
    assert heights[0] > 0.0
    assert heights[-1] <= HEIGHT - BOTTOM + 6
    assert all(0 <= x <= 300 and 0 <= y <= HEIGHT for line in points(svg) for x, y in line)


def test_the_same_figures_give_the_same_drawing_and_words_are_escaped() -> None:
    line = Line(name="a", values=(1.0, 2.0))
    one, two = (
        line_plot([line], top=3.0, ticks=(), key="k", title="<b>", describe="&") for _ in range(2)
    )
    assert one == two
    assert "<b>" not in one
    assert ET.fromstring(one).findtext("title") == "<b>"


def test_a_scale_ends_at_a_round_figure_above_the_value() -> None:
    assert [round_top(v) for v in (0.0, 10.0, 61.0, 480.0, 481.0, 1300.0)] == [
        10.0, 10.0, 90.0, 480.0, 600.0, 1800.0,
    ]  # fmt: skip


COLOUR = re.compile(r"--([\w-]+): (#[0-9a-f]{6});")


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def test_lines_and_letters_stand_out_light_and_dark() -> None:
    """WCAG 2.2: 1.4.11 asks 3:1 of lines, 1.4.3 4.5:1 of words."""
    css = (STATIC / "sheet.css").read_text(encoding="utf-8")
    light, dark = css.split("prefers-color-scheme: dark", maxsplit=1)
    for text in (light, dark):
        colours = dict(COLOUR.findall(text))
        paper = luminance(colours["card"])
        for name, least in (
            ("ink", 4.5), ("soft", 4.5), ("fill", 4.5), ("wrong", 4.5), ("edge", 3.0),
        ):  # fmt: skip
            light_, dark_ = sorted((paper, luminance(colours[name])), reverse=True)
            assert (light_ + 0.05) / (dark_ + 0.05) >= least, name


# ------------------------------------------------------------------ the steps


def test_what_was_noted_in_one_go_is_one_step() -> None:
    book, _ = read_book(book_text(BOOK), BOOK)
    assert book is not None
    layout = layout_of(book, KINDS)
    works = Works(id="f3", at_s=300.0, target="engine cranks", works=True)
    found = (
        *ARRIVAL,
        works,
        Act(id="f4", at_s=300.5, act="unplugged", target="oil pressure sender"),
        Withdrawn(id="f5", at_s=420.0, finding="f3"),
    )
    steps = steps_of(layout, found)
    assert [(s.count, s.words, s.minutes) for s in steps] == [
        (2, "engine unit: 1 code; Failing right now", 0.0),
        (4, "engine cranks: works; oil pressure sender unplugged", pytest.approx(300.5 / 60)),
        (5, "taken back: engine cranks: works", 7.0),
    ]
    assert steps_of(layout, ()) == ()


def test_of_many_steps_the_arrival_and_the_latest_are_kept() -> None:
    book, _ = read_book(book_text(BOOK), BOOK)
    assert book is not None
    found = [Failing(id=f"f{k}", at_s=60.0 * k, answer="yes") for k in range(30)]
    steps = steps_of(layout_of(book, KINDS), found, most=5)
    assert [s.count for s in steps] == [1, 27, 28, 29, 30]


# ------------------------------------------------------------------ the page


@pytest.fixture
def gone_job(tmp_path: Path) -> Iterator[tuple[Shop, str]]:
    """A job of three steps, some minutes apart."""
    clock = [1000.0]
    shop = Shop.open(tmp_path / "s.backprobe", clock=lambda: clock[0])
    shop.add_book(BOOK, book_text(BOOK))
    job = shop.start_job(BOOK, "oil lamp on", findings=ARRIVAL)
    clock[0] += 360.0
    shop.note(job, Works(target="engine cranks", works=True))
    clock[0] += 240.0
    shop.note(job, GONE)
    yield shop, job
    shop.close()


def test_the_table_says_what_the_engine_said_at_every_step(
    gone_job: tuple[Shop, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    shop, job = gone_job
    monkeypatch.setattr(views, "LONG_PATIENCE", 60.0)
    with TestClient(make_app(shop), base_url=HERE) as client:
        first = client.get(f"/job/{job}/course").text
        for _ in range(3):
            page = client.get(f"/job/{job}/course?wait=1").text
    assert "Working out" in words(first)
    assert "Working out" not in words(page)
    rows = [
        re.findall(r"<t[dh][^>]*>([^<]*)<", row)
        for row in re.findall(r"<tr role=\"row\"><th scope=\"row\".*?</tr>", page)
    ]
    assert [row[0] for row in rows] == [
        "0: engine unit: 1 code; Failing right now",
        "1: engine cranks: works",
        "2: Not failing right now",
    ]
    assert [row[1] for row in rows] == ["0", "6", "10"]
    names = re.findall(r'<abbr title="([^"]*)"', page)
    whole = shop.card(job).job
    for count, row in zip((2, 3, 4), rows, strict=True):
        now = type(whole)(circuit=whole.circuit, findings=whole.findings[:count])
        assert float(row[2]) == round(now.proposal.half_s / 60.0)
        chances = {s.words: s.still for s in now.suspects}
        for name, cell in zip(names, row[3:], strict=True):
            shown = unescape(cell).replace("\xa0", " ")
            chance = chances[unescape(name)]
            assert shown == f"{100 * chance:.0f} %" or (chance < 0.01 and shown == "< 1 %")
    assert len(ET.fromstring(re.findall(r"<svg.*?</svg>", page, re.DOTALL)[0])) > 5


def test_a_job_without_findings_has_no_plot(client: TestClient, shop: Shop) -> None:
    job = shop.start_job(BOOK, "nothing yet")
    page = client.get(f"/job/{job}/course")
    assert "Nothing was noted yet." in words(page.text)
    assert "<svg" not in page.text


@pytest.mark.parametrize("colours", ["light", "dark"])
def test_the_plots_in_a_browser(
    browser: Browser, gone_job: tuple[Shop, str], axe_script: str, colours: str
) -> None:
    shop, job = gone_job
    with served(shop) as address:
        for size in (PHONE, SMALL, DESK):
            page = browser.new_page(viewport=size, color_scheme=colours, bypass_csp=True)  # type: ignore[arg-type]
            page.goto(f"{address}/job/{job}/course")
            page.wait_for_selector("#course:not(:has(.working))", timeout=60_000)
            assert faults(page, axe_script) == []
            assert page.evaluate(CUT) == 0
            assert page.locator(".stacked").get_by_role("row").count() >= 4  # rows for a reader too
            assert page.locator(".plot").count() == 2
            # words of a plot are no smaller than 12 px on the smallest screen
            scale = page.locator(".plot").first.evaluate(
                "e => e.getBoundingClientRect().width / e.viewBox.baseVal.width"
            )
            assert 12.0 * scale >= 11.5
            picture(page, f"course-{size['width']}-{colours}")
            page.close()
