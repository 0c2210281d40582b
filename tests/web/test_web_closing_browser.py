"""Closing a job and its write-up in a real browser: by touch, narrow, dark, printed."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, expect

from backprobe.book.situations import Situation
from backprobe.findings.model import Act, Closed, Mentioned, Reading
from backprobe.shop.demo import book_text
from backprobe.shop.history import closed_of
from backprobe.shop.workshop import Shop
from web.browser_tools import CUT, DESK, PHONE, SMALL, faults, picture, unfold
from web.conftest import ARRIVAL
from web.conftest import SMALL as BOOK

OFF = Situation(key="off")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = Shop.open(tmp_path_factory.mktemp("shop") / "s.backprobe", clock=lambda: 1000.0)
    opened.add_book(BOOK, book_text(BOOK))
    yield opened
    opened.close()


@pytest.fixture
def job(shop: Shop) -> str:
    """A job with readings, something open, and much said."""
    job = shop.start_job(BOOK, "oil lamp on", serial="77", hours=900.0, findings=ARRIVAL)
    shop.note(
        job,
        Mentioned(about="before it failed", words="wash", situation=OFF),
        Reading(situation=OFF, p="battery.+", value=9.1),
        Reading(situation=OFF, p="battery.+", value=12.6),
        Act(act="unplugged", target="oil pressure sender"),
    )
    return job


@pytest.mark.parametrize(("size", "colours"), [(PHONE, "light"), (DESK, "light"), (SMALL, "dark")])
def test_form_write_up_and_closed_sheet_have_no_fault(
    browser: Browser,
    shop: Shop,
    address: str,
    job: str,
    axe_script: str,
    size: dict[str, int],
    colours: str,
) -> None:
    closing = Closed(
        cause="plug off " * 12, done="plugged on\ngreased", parts="seal", left="cover: owner"
    )
    shop.note(job, closing)
    page = browser.new_page(viewport=size, color_scheme=colours, bypass_csp=True)  # type: ignore[arg-type]
    for name, path in (("close", "/close"), ("write-up", "/write-up"), ("closed", "?wait=1")):
        page.goto(f"{address}/job/{job}{path}")
        page.wait_for_selector("main:not(:has(.working))")
        unfold(page)
        assert faults(page, axe_script) == [], name
        assert page.evaluate(CUT) == 0, name
        picture(page, f"{name}-{size['width']}-{colours}")
    page.close()


def test_a_job_is_closed_by_touch_once_it_is_said_why_something_stays_open(
    browser: Browser, shop: Shop, address: str, job: str, axe_script: str
) -> None:
    context = browser.new_context(
        viewport=PHONE,
        has_touch=True,
        is_mobile=True,
        bypass_csp=True,  # type: ignore[arg-type]
    )
    page = context.new_page()
    page.goto(f"{address}/job/{job}?wait=1")
    page.get_by_role("link", name="Close the job").last.tap()
    page.get_by_label("Cause").fill("plug off")
    page.get_by_role("button", name="Close and write up").tap()
    expect(page.get_by_role("alert")).to_contain_text("Still on the put-back list")
    assert faults(page, axe_script) == []
    picture(page, "close-refused-390")
    page.get_by_label("Why does it stay like this").fill("waits for a new plug")
    page.get_by_role("button", name="Close and write up").tap()
    page.wait_for_url("**/write-up")
    expect(page.locator(".write-up")).to_contain_text("waits for a new plug")
    context.close()
    assert closed_of(shop.findings(job)) is not None


def test_what_is_printed_is_the_write_up_alone(browser: Browser, address: str, job: str) -> None:
    page = browser.new_page(viewport=DESK)  # type: ignore[arg-type]
    page.goto(f"{address}/job/{job}/write-up")
    page.emulate_media(media="print")
    expect(page.get_by_role("heading", name="Measured")).to_be_visible()
    for gone in ("Somebody will ask", "As plain text", "Close the job", "The sheet"):
        expect(page.get_by_text(gone, exact=True)).to_be_hidden()
    page.close()
