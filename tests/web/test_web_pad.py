"""Number keys for gloves: by touch on a phone; a keyboard and a browser without scripts go on as
before."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from backprobe.findings.model import DisplayRead, Reading
from backprobe.shop.demo import book_text
from backprobe.shop.workshop import Shop
from web.browser_tools import DESK, PHONE, SMALL, faults, picture
from web.conftest import ARRIVAL
from web.conftest import SMALL as BOOK

SIZES = """() => [...document.querySelectorAll('.pad button')].map(k => k.getBoundingClientRect())
    .map(box => Math.min(box.width, box.height))"""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = Shop.open(tmp_path_factory.mktemp("shop") / "s.backprobe", clock=lambda: 1000.0)
    opened.add_book(BOOK, book_text(BOOK))
    yield opened
    opened.close()


@pytest.fixture
def job(shop: Shop) -> str:
    return shop.start_job(BOOK, "oil lamp on", findings=ARRIVAL)


def phone(browser: Browser, size: dict[str, int] = PHONE) -> BrowserContext:
    return browser.new_context(viewport=size, has_touch=True, is_mobile=True, bypass_csp=True)  # type: ignore[arg-type]


def opened(page: Page, address: str, job: str) -> None:
    """The sheet with every check unfolded."""
    page.goto(f"{address}/job/{job}?wait=1")
    expect(page.locator("form.answer").first).to_be_visible(timeout=60_000)
    page.evaluate("document.querySelectorAll('details.check').forEach(d => d.open = true)")


def press(page: Page, *keys: str) -> None:
    for key in keys:
        page.locator(".pad").first.get_by_role("button", name=key, exact=True).tap()


@pytest.mark.parametrize("size", [PHONE, SMALL], ids=["phone", "small"])
def test_the_keys_are_large_enough_and_axe_core_finds_nothing(
    browser: Browser, address: str, job: str, axe_script: str, size: dict[str, int]
) -> None:
    context = phone(browser, size)
    page = context.new_page()
    opened(page, address, job)
    sizes = page.evaluate(SIZES)
    assert len(sizes) >= 15
    assert min(sizes) >= 48.0
    assert faults(page, axe_script) == []
    picture(page, f"number-keys-{size['width']}")
    context.close()


def test_a_reading_is_typed_tried_and_noted_with_the_keys_alone(
    browser: Browser, shop: Shop, address: str, job: str, axe_script: str
) -> None:
    context = phone(browser)
    page = context.new_page()
    opened(page, address, job)
    form = page.locator("form.answer", has=page.locator(".pad")).first
    press(page, "1", "comma", "5", "7", "delete the last figure", "minus")
    expect(form.locator('input[name="value"]')).to_have_value("-1,5")
    press(page, "minus")
    expect(form.locator('input[name="value"]')).to_have_value("1,5")
    form.locator("xpath=..").get_by_text("What it would tell you").tap()
    page.get_by_role("button", name="What if it read what I typed?").tap()
    expect(page.locator("#whatif")).to_be_focused()
    expect(page.locator("#whatif")).to_contain_text("Nothing was noted.")
    assert faults(page, axe_script) == []
    picture(page, "what-if-390")
    assert len(shop.card(job).job.findings) == 2
    page.locator("#whatif").get_by_role("button", name="Note it").tap()
    expect(page.locator("#news")).to_contain_text("Noted: ")
    last = shop.card(job).job.findings[-1]
    assert isinstance(last, DisplayRead | Reading)
    assert last.value == 1.5
    context.close()


def test_jumps_from_and_to_with_the_keys(browser: Browser, address: str, job: str) -> None:
    context = phone(browser)
    page = context.new_page()
    opened(page, address, job)
    form = page.locator("form.answer", has=page.locator(".pad")).first
    press(page, "4", "comma", "9", "jumps to", "0", "comma", "2")
    expect(form.locator('input[name="value"]')).to_have_value("4,9")
    expect(form.locator('input[name="to"]')).to_be_visible()
    expect(form.locator('input[name="to"]')).to_have_value("0,2")
    context.close()


def test_the_phones_own_keys_come_back_when_they_are_asked_for(
    browser: Browser, address: str, job: str
) -> None:
    context = phone(browser)
    page = context.new_page()
    opened(page, address, job)
    field = page.locator('form.answer .pad ~ *, form.answer input[name="value"]').first
    assert field.evaluate("e => e.inputMode") == "none"
    press(page, "abc, phone keys")
    assert field.evaluate("e => e.inputMode") == "decimal"
    expect(field).to_be_focused()
    context.close()


def test_a_desk_has_no_keys_and_types_as_ever(browser: Browser, address: str, job: str) -> None:
    page = browser.new_page(viewport=DESK)  # type: ignore[arg-type]
    opened(page, address, job)
    assert page.locator(".pad").count() == 0
    field = page.locator('form.answer input[name="value"]').first
    field.fill("1,5")
    field.press("Enter")
    expect(page.locator("#news")).to_contain_text("Noted: ")
    page.close()


def test_without_scripts_a_reading_is_tried_and_noted(
    browser: Browser, shop: Shop, address: str, job: str
) -> None:
    context = browser.new_context(viewport=PHONE, java_script_enabled=False)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{address}/job/{job}?wait=1")
    form = page.locator("form.answer", has=page.locator('input[name="value"]')).first
    closed = page.locator("details.check:not([open])", has=form)
    if closed.count():
        closed.locator("summary").first.click()
    form.locator('input[name="value"]').fill("1,5")
    form.locator("xpath=..").get_by_text("What it would tell you").click()
    page.get_by_role("button", name="What if it read what I typed?").click()
    assert "Nothing was noted." in page.locator("#whatif").inner_text()
    page.locator("#whatif").get_by_role("button", name="Note it").click()
    assert "Noted: " in page.locator("#news").inner_text()
    assert len(shop.card(job).job.findings) == 3
    context.close()
