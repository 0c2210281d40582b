"""A sheet with a plug on it, as it is served: the picture comes with its style."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, expect

from backprobe.shop.demo import book_text
from backprobe.shop.workshop import Shop
from web.browser_tools import SMALL, picture
from web.conftest import ARRIVAL
from web.conftest import SMALL as BOOK

PLUG = "oil pressure sender: "
DRAWN = """() => [...document.querySelectorAll('.face')].filter(svg => svg.checkVisibility()).map(svg => {
  const body = svg.querySelector('.body'), room = svg.closest('.check').getBoundingClientRect();
  const box = svg.getBoundingClientRect();
  return [getComputedStyle(body).strokeWidth, box.left >= room.left && box.right <= room.right];
})"""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    lines = book_text(BOOK).splitlines()
    (at,) = [k for k, line in enumerate(lines) if line.startswith(PLUG)]
    lines[at] += ", mating side 1 2 3"
    opened = Shop.open(tmp_path_factory.mktemp("shop") / "s.backprobe", clock=lambda: 1000.0)
    opened.add_book(BOOK, "\n".join(lines))
    yield opened
    opened.close()


def test_a_check_shows_its_plug_with_the_pin_marked(
    browser: Browser, shop: Shop, address: str
) -> None:
    job = shop.start_job(BOOK, "oil lamp on", findings=ARRIVAL)
    page = browser.new_page(viewport=SMALL)
    page.goto(f"{address}/job/{job}")
    expect(page.locator("form.answer").first).to_be_visible(timeout=60_000)
    page.evaluate("document.querySelectorAll('details.check').forEach(d => d.open = true)")
    expect(page.locator(".plug-face").first).to_contain_text("Plug of oil pressure sender")
    name = page.get_by_role("img", name="Plug of oil pressure sender").first
    expect(name).to_have_attribute("aria-label", re.compile(r"(wire|mating) side\. R .*pin \d"))
    page.wait_for_function("document.querySelector('.face').getBoundingClientRect().width > 0")
    drawn = page.evaluate(DRAWN)
    assert drawn
    assert all(one == ["2.5px", True] for one in drawn)
    picture(page, "sheet-with-plug")
    page.close()
