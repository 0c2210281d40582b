"""The page for paper: one A4 page of each demo job, by a real browser's own print."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from starlette.testclient import TestClient

from backprobe.findings.model import Failing
from backprobe.shop.demo import JOBS
from backprobe.shop.demo_shop import fill
from backprobe.shop.workshop import Shop
from backprobe.web import paper_room, views
from backprobe.web.app import make_app
from backprobe.web.printing import print_page
from web.browser_tools import DESK, PHONE, PICTURES, faults, picture

A4_MM = (210.0, 297.0)
"""ISO 216."""
POINT_MM = 25.4 / 72.0
PAPER = {"width": 726, "height": 1054}
"""A4 less its margins, at 96 dots an inch."""
NARROW = {"width": 320, "height": 640}
"""The narrowest screen, WCAG 2.2, 1.4.10."""
LEAST_POINTS = 7.0
"""Smallest print that is read at arm's length in a workshop. Judgement."""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = Shop.open(tmp_path_factory.mktemp("shop") / "demo.backprobe")
    fill(opened)
    yield opened
    opened.close()


def boxes(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height in mm of every page of a PDF (ISO 32000-1, 7.7.3.3)."""
    pages = re.findall(rb"/Type\s*/Page\b[^s].*?(?=endobj)", pdf, flags=re.DOTALL)
    found = [re.search(rb"/MediaBox\s*\[([^\]]+)\]", page) for page in pages]
    sizes = [tuple(map(float, one[1].split())) for one in found if one]
    return [(s[2] * POINT_MM, s[3] * POINT_MM) for s in sizes]


@pytest.mark.parametrize("number", range(len(JOBS)))
def test_a_job_fits_one_a4_page(
    browser: Browser, shop: Shop, address: str, axe_script: str, number: int
) -> None:
    job = next(row.id for row in shop.jobs() if row.serial == JOBS[number].serial)
    context = browser.new_context(viewport=DESK, bypass_csp=True)
    page = context.new_page()
    page.set_default_timeout(60_000)
    page.goto(f"{address}/job/{job}/print", timeout=60_000)
    expect(page.locator(".picture svg")).to_be_visible(timeout=120_000)
    assert faults(page, axe_script) == []
    first = shop.card(job).job.next_checks[0]
    expect(page.locator(".check").first.locator("ol li")).to_have_count(len(first.steps))
    for caution, _ in first.cautions:
        if caution:
            expect(page.locator(".caution")).to_contain_text(caution)
    picture(page, f"paper-{number}-screen")
    PICTURES.mkdir(exist_ok=True)
    path = PICTURES / f"paper-{number}.pdf"
    page.pdf(path=path, prefer_css_page_size=True)
    sizes = boxes(Path(path).read_bytes())
    assert len(sizes) == 1
    assert sizes[0] == pytest.approx(A4_MM, abs=0.5)
    page.emulate_media(media="print")
    page.set_viewport_size(PAPER)
    small = page.evaluate(
        """[...document.querySelectorAll('main *')].filter(e => e.checkVisibility() && !e.closest('svg')
             && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))
           .map(e => [parseFloat(getComputedStyle(e).fontSize) * 0.75, e.textContent.slice(0, 40)])
           .filter(([size]) => size < %f)"""
        % (LEAST_POINTS - 0.3)
    )
    assert small == []
    letters = page.evaluate(
        """() => { const s = document.querySelector('.picture svg'), drawn = s.getBoundingClientRect();
                   const room = s.viewBox.baseVal;
                   return 13 * 0.75 * Math.min(drawn.width / room.width, drawn.height / room.height); }"""
    )
    assert letters > LEAST_POINTS - 0.8
    expect(page.locator(".screen")).to_be_hidden()
    context.close()


@pytest.mark.parametrize("said", ["yes", "gone", "unknown"])
@pytest.mark.parametrize("number", range(len(JOBS)))
def test_it_stays_one_page_whatever_was_said_and_nothing_of_it_is_cut(
    browser: Browser, shop: Shop, address: str, number: int, said: str
) -> None:
    row = next(row for row in shop.jobs() if row.serial == JOBS[number].serial)
    job = shop.start_job(
        JOBS[number].book,
        row.complaint * 3,
        serial=row.serial,
        findings=(*JOBS[number].arrival, Failing(visit=1, answer=said)),
    )
    page = browser.new_page(viewport=PAPER)
    page.emulate_media(media="print")
    page.goto(f"{address}/job/{job}/print?wait=1", timeout=60_000)
    expect(page.locator(".picture svg")).to_be_visible(timeout=60_000)
    assert len(boxes(page.pdf(prefer_css_page_size=True))) == 1
    assert whole(page) == []
    card = shop.card(job)
    kept = print_page(card, card.job.outlook).checks
    drawn = page.locator(".check").evaluate_all("all => all.map(e => e.offsetHeight)")
    for high, view in zip(drawn, kept, strict=True):
        reckoned = paper_room.check_high(view) - paper_room.GAP
        assert 0.85 * reckoned - 10.0 < high < reckoned + 12.0, view.title
    page.close()


def whole(page: Page) -> list[str]:
    """What of a page is cut off: words below their column, shapes outside their picture."""
    found: list[str] = page.evaluate(
        """() => {
          const foot = document.querySelector('footer').getBoundingClientRect().top + 1;
          const low = [...document.querySelectorAll('.left > *, .right > *:not(.other)')]
            .filter(e => e.getBoundingClientRect().bottom > foot || e.scrollHeight > e.clientHeight + 2);
          const room = document.querySelector('.picture svg').getBoundingClientRect();
          const out = [...document.querySelectorAll('.picture svg :is(rect, text, circle)')]
            .filter(e => { const at = e.getBoundingClientRect();
                           return at.right > room.right + 2 || at.bottom > room.bottom + 2; });
          return [...low, ...out].map(e => e.outerHTML.slice(0, 120));
        }"""
    )
    return found


def test_the_page_for_paper_can_be_read_on_a_phone_too(
    browser: Browser, shop: Shop, address: str, axe_script: str
) -> None:
    job = shop.jobs()[0].id
    context = browser.new_context(viewport=PHONE, bypass_csp=True)
    page = context.new_page()
    page.goto(f"{address}/job/{job}/print", timeout=60_000)
    expect(page.locator(".picture svg")).to_be_visible(timeout=120_000)
    assert faults(page, axe_script) == []
    page.set_viewport_size(NARROW)
    assert faults(page, axe_script) == []
    page.set_viewport_size(PHONE)
    expect(page.get_by_role("button", name="Print")).to_be_visible()
    picture(page, "paper-phone")
    context.close()


def test_before_the_engine_has_spoken_the_page_comes_back_by_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(views, "LONG_PATIENCE", 0.0)
    shop = Shop.open(tmp_path / "s.backprobe")
    job = fill(shop)[0]
    with TestClient(make_app(shop), base_url="http://127.0.0.1") as client:
        page = client.get(f"/job/{job}/print")
        assert page.status_code == 200
        assert "Working it out ..." in page.text
        assert '<meta http-equiv="refresh" content="2">' in page.text
    shop.close()
