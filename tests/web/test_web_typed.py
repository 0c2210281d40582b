"""What was typed and not sent: there again after the page was loaded anew, gone once it was sent."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from backprobe.findings.model import Reading
from backprobe.shop.demo import book_text
from backprobe.shop.workshop import Shop
from web.browser_tools import DESK, PHONE, faults, picture
from web.conftest import ARRIVAL
from web.conftest import SMALL as BOOK
from web.walking import worked_out


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = Shop.open(tmp_path_factory.mktemp("shop") / "s.backprobe")
    opened.add_book(BOOK, book_text(BOOK))
    yield opened
    opened.close()


@pytest.fixture
def job(shop: Shop) -> str:
    return shop.start_job(BOOK, "oil lamp on", serial="77", findings=ARRIVAL)


@pytest.fixture(params=[PHONE, DESK], ids=["phone", "desk"])
def page(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    touch = request.param == PHONE
    context = browser.new_context(viewport=request.param, has_touch=touch, bypass_csp=True)
    yield context.new_page()
    context.close()


def reads(page: Page) -> Locator:
    """The forms of the sheet that ask for a reading."""
    return page.locator("form.answer", has=page.locator('input[name="value"]'))


def check_of(form: Locator) -> str:
    return form.locator('input[name="check"]').input_value()


def value_of(page: Page, check: str) -> Locator:
    form = page.locator("form.answer").filter(
        has=page.locator(f'input[name="check"][value="{check}"]')
    )
    return form.locator('input[name="value"]')


def kept(page: Page) -> str:
    return page.evaluate("localStorage.getItem('backprobe-typed') || '{}'")


def typed(page: Page, form: Locator, text: str) -> None:
    """Into a reading, by the keys under it where there are some."""
    keys = form.get_by_role("group", name="Number keys")
    if not keys.count():
        form.locator('input[name="value"]').fill(text)
        return
    for sign in text:
        keys.get_by_role("button", name="comma" if sign == "," else sign, exact=True).click()


def test_a_half_typed_reading_is_there_again_in_its_own_check_and_nothing_is_noted(
    page: Page, address: str, shop: Shop, job: str, axe_script: str
) -> None:
    worked_out(page, address, job)
    first = reads(page).first
    fold = page.locator("details.check:not([open])", has=first)
    if fold.count():
        fold.locator("summary").first.click()
    check = check_of(first)
    typed(page, first, "4,9")
    page.locator("#say").fill("looked X1:")
    before = len(shop.card(job).job.findings)
    page.reload()
    expect(value_of(page, check)).to_have_value("4,9")
    expect(page.locator("#say")).to_have_value("looked X1:")
    others = [
        form.locator('input[name="value"]').input_value()
        for form in reads(page).all()
        if check_of(form) != check
    ]
    assert set(others) <= {""}
    expect(page.locator(".notice", has_text="not noted yet")).to_have_count(2)
    assert len(shop.card(job).job.findings) == before
    assert faults(page, axe_script) == []
    picture(page, f"typed-before-{page.viewport_size['width']}")


def test_another_job_has_none_of_it(page: Page, address: str, shop: Shop, job: str) -> None:
    other = shop.start_job(BOOK, "oil lamp on", serial="78", findings=ARRIVAL)
    worked_out(page, address, job)
    page.locator("#say").fill("looked X1:")
    worked_out(page, address, other)
    expect(page.locator("#say")).to_have_value("")
    page.goto(f"{address}/job/{job}")
    expect(page.locator("#say")).to_have_value("looked X1:")


def test_what_was_sent_does_not_come_back(page: Page, address: str, shop: Shop, job: str) -> None:
    worked_out(page, address, job)
    page.locator("#say").fill("fuse F1 looks good")
    page.locator("form.line").get_by_role("button", name="Note it").click()
    expect(page.locator("#news")).to_be_visible(timeout=60_000)
    assert kept(page) == "{}"
    page.reload()
    expect(page.locator("#say")).to_have_value("")


def test_what_was_refused_comes_back(page: Page, address: str, job: str) -> None:
    worked_out(page, address, job)
    page.locator("#say").fill("this is no sentence")
    page.locator("form.line").get_by_role("button", name="Note it").click()
    expect(page.locator("form.line .oops").first).to_be_visible(timeout=60_000)
    page.goto(f"{address}/job/{job}")
    expect(page.locator("#say")).to_have_value("this is no sentence")


def test_a_what_if_notes_nothing_and_keeps_what_was_typed(
    page: Page, address: str, shop: Shop, job: str
) -> None:
    worked_out(page, address, job)
    form = reads(page).first
    check = check_of(form)
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    form.locator('input[name="value"]').fill("4,9")
    page.locator(f'button[form="{form.get_attribute("id")}"][value="reading"]').click()
    expect(page.locator("#whatif")).to_be_visible(timeout=60_000)
    page.goto(f"{address}/job/{job}")
    expect(value_of(page, check)).to_have_value("4,9")
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    page.locator(f'button[form="{form.get_attribute("id")}"][value="reading"]').click()
    expect(page.locator("#whatif")).to_be_visible(timeout=60_000)
    page.locator("#whatif").get_by_role("button", name="Note it").click()
    expect(page.locator("#news")).to_be_visible(timeout=60_000)
    assert kept(page) == "{}"


def test_a_job_of_the_same_number_in_another_shop_has_none_of_it(
    page: Page, address: str, job: str
) -> None:
    """A shop begun anew counts its jobs from the first; the job that was typed for began earlier."""
    worked_out(page, address, job)
    page.locator("#say").fill("looked X1:")
    page.evaluate(
        """() => {
            const all = Object.entries(JSON.parse(localStorage.getItem('backprobe-typed')));
            const older = all.map(([key, one]) => [key.replace(/^[0-9]+/, '17'), one]);
            localStorage.setItem('backprobe-typed', JSON.stringify(Object.fromEntries(older)));
        }"""
    )
    page.reload()
    expect(page.locator("#say")).to_have_value("")


def test_what_is_kept_out_of_reach_is_typed_no_more(page: Page, address: str, job: str) -> None:
    worked_out(page, address, job)
    page.locator("#say").fill("looked X1: nothing")
    page.context.set_offline(True)
    expect(page.locator("#offline")).to_contain_text("Out of reach")
    page.locator("form.line").get_by_role("button", name="Note it").click()
    expect(page.locator("#kept")).to_contain_text("looked X1: nothing")
    assert kept(page) == "{}"


def test_what_is_typed_away_again_is_not_kept(page: Page, address: str, job: str) -> None:
    worked_out(page, address, job)
    page.locator("#say").fill("loo")
    assert "loo" in kept(page)
    page.locator("#say").fill("")
    assert kept(page) == "{}"


def test_after_a_day_it_is_another_machine(page: Page, address: str, job: str) -> None:
    worked_out(page, address, job)
    page.locator("#say").fill("looked X1:")
    page.evaluate(
        """() => {
            const all = JSON.parse(localStorage.getItem('backprobe-typed'));
            for (const one of Object.values(all)) one.when -= 25 * 3600 * 1000;
            localStorage.setItem('backprobe-typed', JSON.stringify(all));
        }"""
    )
    page.reload()
    expect(page.locator("#say")).to_have_value("")


def test_a_pin_of_the_circuit_keeps_its_own_and_gives_it_up_when_it_is_noted(
    page: Page, address: str, shop: Shop, job: str
) -> None:
    at = f"{address}/job/{job}/circuit?key=key+on"
    worked_out(page, address, job)
    page.goto(f"{at}&pin=oil pressure sender.1")
    field = page.locator("#pin-value")
    expect(field).to_be_visible(timeout=60_000)
    field.fill("4,9x")
    page.goto(f"{at}&pin=oil pressure sender.2")
    expect(field).to_have_value("")
    page.goto(f"{at}&pin=oil pressure sender.1")
    expect(field).to_have_value("4,9x")
    page.get_by_role("button", name="Note the reading").click()
    expect(page.locator("#pin .oops")).to_be_visible(timeout=60_000)
    page.goto(f"{at}&pin=oil pressure sender.1")
    expect(field).to_have_value("4,9x")
    field.fill("4,9")
    page.get_by_role("button", name="Note the reading").click()
    page.wait_for_url("**since=*")
    assert kept(page) == "{}"
    assert any(isinstance(one, Reading) for one in shop.card(job).job.findings)


def test_the_form_that_closes_keeps_what_was_typed_until_the_job_is_closed(
    page: Page, address: str, shop: Shop, job: str
) -> None:
    page.goto(f"{address}/job/{job}/close")
    page.get_by_label("What was done").fill("cleaned the plug")
    page.get_by_label("Minutes spent").fill("ninety")
    page.reload()
    expect(page.get_by_label("What was done")).to_have_value("cleaned the plug")
    page.get_by_role("button", name="Close and write up").click()
    expect(page.locator(".oops")).to_be_visible(timeout=60_000)
    page.goto(f"{address}/job/{job}/close")
    expect(page.get_by_label("Minutes spent")).to_have_value("ninety")
    page.get_by_label("Minutes spent").fill("90")
    page.get_by_role("button", name="Close and write up").click()
    page.wait_for_url("**/write-up")
    assert kept(page) == "{}"
