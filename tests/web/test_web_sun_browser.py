"""In the sun, in a real browser: 7:1 for every word on every page, with scripts and without."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from backprobe.findings.model import Act
from backprobe.shop.demo import book_text
from backprobe.shop.workshop import Shop
from web.browser_tools import DESK, PHONE, SMALL, picture, unfold
from web.conftest import ARRIVAL
from web.conftest import SMALL as BOOK
from web.contrast_tools import COLOURS, TYPE, contrast

ENOUGH = 7.0
"""Contrast of every word to what it stands on (WCAG 2.2, 1.4.6, without its relief for large type)."""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = Shop.open(tmp_path_factory.mktemp("sun") / "s.backprobe", clock=lambda: 1000.0)
    opened.add_book(BOOK, book_text(BOOK))
    opened.start_job(BOOK, "oil lamp on", serial="77", hours=12.5, findings=ARRIVAL)
    opened.note("J-0001", Act(act="unplugged", target="oil pressure sender"))
    yield opened
    opened.close()


def pale(page: Page) -> list[str]:
    """Words with less contrast than is enough in the sun."""
    drawn = [pair for pair in page.evaluate(COLOURS) if pair[0].startswith("words")]
    pairs = [*page.evaluate(TYPE), *drawn]
    assert len(pairs) > 5
    assert bool(drawn) == bool(page.locator(".frame svg, svg.plot").count())
    return [
        f"{said}: {contrast(front, back):.1f}"
        for said, front, back in pairs
        if contrast(front, back) < ENOUGH
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_word_stands_out(browser: Browser, shop: Shop, address: str, scheme: str) -> None:
    context = browser.new_context(viewport=PHONE, color_scheme=scheme, bypass_csp=True)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(address)
    with page.expect_response(
        "**/sun"
    ):  # the next page may be asked for before the wish has arrived
        page.get_by_role("button", name="In the sun").click()
    expect(page.locator("html.sun")).to_be_attached()
    found: dict[str, list[str]] = {}
    job = "/job/J-0001"
    for path in (
        "/", f"/start/{BOOK}", f"/book/{BOOK}", f"{job}?since=2&wait=1", f"{job}/circuit?key=on&pin=SPG:1",
        f"/book/{BOOK}/circuit", f"{job}/loom", f"{job}/close", f"{job}/write-up", f"{job}/course", "/nothing",
    ):  # fmt: skip
        page.goto(address + path)
        page.wait_for_selector("main:not(:has(.working))", timeout=60_000)
        unfold(page)
        assert page.evaluate("document.documentElement.classList.contains('sun')"), path
        found[path] = pale(page)
        picture(page, f"sun-{scheme}-{path.strip('/').split('?')[0].replace('/', '-') or 'jobs'}")
    assert {path: bad for path, bad in found.items() if bad} == {}
    context.close()


def test_with_scripts_the_page_stays_as_it_is(browser: Browser, address: str) -> None:
    context = browser.new_context(viewport=SMALL)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{address}/start/{BOOK}")
    page.get_by_label("What the driver says").fill("no power")
    with page.expect_response("**/sun"):
        page.get_by_role("button", name="In the sun").click()
    expect(page.locator("html")).to_have_class("sun")
    expect(page.get_by_role("button", name="In the sun")).to_have_attribute("aria-pressed", "true")
    expect(page.get_by_label("What the driver says")).to_have_value("no power")
    page.goto(address)
    expect(page.locator("html")).to_have_class("sun")
    context.close()


def test_without_scripts_it_is_a_press_and_the_same_page(browser: Browser, address: str) -> None:
    context = browser.new_context(viewport=DESK, java_script_enabled=False)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{address}/job/J-0001/close")
    for on in ("true", "false"):
        page.get_by_role("button", name="In the sun").click()
        switch = page.get_by_role("button", name="In the sun")
        expect(switch).to_have_attribute("aria-pressed", on)
        assert page.url.endswith("/job/J-0001/close")
    context.close()
