"""Every state a sheet can be in, in a real browser: what is said, where one lands, axe-core."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from backprobe.findings.model import Act, DisplayRead, Failing, Works
from backprobe.shop.demo import book_text
from backprobe.shop.workshop import Shop
from backprobe.web import desk, views
from web.browser_tools import PHONE, SMALL, faults, picture, unfold
from web.conftest import ARRIVAL, UNIT
from web.conftest import SMALL as BOOK

VOLTS = 'input[name="check"][value^="volts "]'
NOTED = "Noted: 3.7 V at oil pressure sender pin 3"
SHAKEN = Failing(answer="only when", condition="moved")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = Shop.open(tmp_path_factory.mktemp("shop") / "s.backprobe", clock=lambda: 1000.0)
    opened.add_book(BOOK, book_text(BOOK))
    yield opened
    opened.close()


@pytest.fixture
def job(shop: Shop) -> str:
    return shop.start_job(BOOK, "oil lamp on, no power " * 8, serial="77", findings=ARRIVAL)


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A phone without the page's own policy, so that axe-core can be put in."""
    context = browser.new_context(viewport=PHONE, bypass_csp=True)
    yield context.new_page()
    context.close()


def opened(page: Page, address: str, job: str) -> None:
    page.goto(f"{address}/job/{job}")
    expect(page.locator("form.answer").first).to_be_visible(timeout=60_000)


def reading(page: Page, text: str) -> None:
    """Type volts into the form that asks for them, and press."""
    form = page.locator("form.answer", has=page.locator(VOLTS)).first
    closed = page.locator("details.check:not([open])", has=form)
    if closed.count():
        closed.locator("summary").first.click()
    form.locator('input[name="value"]').fill(text)
    form.get_by_role("button", name="Note the reading").click()


def after_a_reading(page: Page, shop: Shop, job: str) -> None:
    reading(page, "3,7")
    expect(page.locator("#news")).to_contain_text(NOTED)
    expect(page.locator("#news")).to_be_focused()
    expect(page.locator("#live")).to_contain_text("%")
    expect(page).to_have_url(re.compile("since=2"))


def a_reading_refused(page: Page, shop: Shop, job: str) -> None:
    reading(page, "12x")
    expect(page.get_by_role("alert").first).to_contain_text("“12x” is not a reading.")
    wrong = page.locator('input[name="value"][aria-invalid]')
    expect(wrong).to_be_focused()
    expect(wrong).to_have_value("12x")
    assert page.url.endswith(f"/job/{job}")


def a_line_refused(page: Page, shop: Shop, job: str) -> None:
    page.get_by_label("Anything else, in a line").fill("wurks horn")
    page.get_by_role("button", name="Note it").click()
    expect(page.locator("form.line").get_by_role("alert")).to_contain_text("does not begin")
    expect(page.get_by_label("Anything else, in a line")).to_be_focused()


def something_unplugged(page: Page, shop: Shop, job: str) -> None:
    page.get_by_label("Anything else, in a line").fill("unplugged oil pressure sender")
    page.get_by_role("button", name="Note it").click()
    expect(page.locator(".put-back")).to_contain_text("oil pressure sender unplugged")


def something_taken_back(page: Page, shop: Shop, job: str) -> None:
    page.get_by_role("button", name="Take back: Failing right now").click()
    expect(page.locator("#news")).to_contain_text("Taken back: Failing right now")
    expect(page.locator("#found")).to_contain_text("Taken back (1)")
    expect(page.locator(".failing.ask")).to_be_visible()


def gone_now(page: Page, shop: Shop, job: str) -> None:
    page.get_by_role("button", name="Gone now").click()
    expect(page.locator("#news")).to_contain_text("Not failing right now")
    expect(page.locator("#found")).to_contain_text("Visit 2")


def something_that_does_not_add_up(page: Page, shop: Shop, job: str) -> None:
    shop.note(job, DisplayRead(unit=UNIT, name="ghost", value=1.0))
    page.reload()
    expect(page.locator(".odd").first).to_contain_text("Does not add up", timeout=60_000)


def mended_and_proven(page: Page, shop: Shop, job: str) -> None:
    first = shop.card(job).job.suspects[0]
    shop.note(
        job,
        Act(visit=2, act="repaired", target=first.group),
        Failing(visit=2, answer="gone"),
        Works(visit=2, target="engine cranks", works=True),
        Failing(visit=3, answer="gone"),
    )
    page.reload()
    expect(page.locator(".done")).to_contain_text("Mended and proven:", timeout=60_000)


def a_fault_in_the_engine(page: Page, shop: Shop, job: str) -> None:
    def broken(_: object) -> None:
        raise ArithmeticError("out of numbers")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(desk, "_outlook", broken)
        shop.note(job, Works(target="engine cranks", works=False))
        page.reload()
        # a slow computer asks twice: the second time it is still broken
        expect(page.locator("#next")).to_contain_text("a fault in Backprobe itself")
    page.get_by_role("button", name="Take back: engine cranks").click()
    expect(page.locator("form.answer").first).to_be_visible(timeout=60_000)


def still_at_work(page: Page, shop: Shop, job: str) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(views, "PATIENCE", 0.0)
        page.route("**/*wait=1*", lambda route: route.abort())
        shop.note(job, Failing(answer="only when", condition="hot"))
        page.reload()
    expect(page.locator(".working")).to_contain_text("Working it out ...")
    expect(page.locator("#found")).to_contain_text("Fails only when hot")


def the_circuit_of_the_leader(page: Page, shop: Shop, job: str) -> None:
    page.locator("#around summary").first.click()
    expect(page.locator("#around svg")).to_be_visible(timeout=60_000)
    expect(page.get_by_role("link", name="The whole circuit")).to_be_visible()
    expect(page.locator("form.answer").first).to_be_visible()
    expect(page.locator("#around summary").first).to_be_focused()
    assert page.url.endswith(f"/job/{job}")


def everything_open(page: Page, shop: Shop, job: str) -> None:
    unfold(page)
    assert page.locator(".suspects .reasons").first.is_visible()


STATES: tuple[Callable[[Page, Shop, str], None], ...] = (
    after_a_reading,
    a_reading_refused,
    a_line_refused,
    something_unplugged,
    something_taken_back,
    gone_now,
    something_that_does_not_add_up,
    mended_and_proven,
    a_fault_in_the_engine,
    still_at_work,
    the_circuit_of_the_leader,
    everything_open,
)


@pytest.mark.parametrize("state", STATES, ids=lambda state: state.__name__)
def test_a_state_says_what_it_should_and_breaks_no_rule(
    page: Page,
    shop: Shop,
    address: str,
    job: str,
    axe_script: str,
    state: Callable[[Page, Shop, str], None],
) -> None:
    opened(page, address, job)
    state(page, shop, job)
    picture(page, f"state-{state.__name__}")
    assert faults(page, axe_script) == []
    page.set_viewport_size(SMALL)
    assert faults(page, axe_script) == []


@pytest.mark.parametrize(
    ("path", "status"), [("/job/J-9999", 404), ("/start/none", 404), ("/nothing", 404)]
)
def test_a_refusal_is_a_page_like_any_other(
    page: Page, address: str, axe_script: str, path: str, status: int
) -> None:
    answer = page.goto(address + path)
    assert answer is not None
    assert answer.status == status
    assert faults(page, axe_script) == []
    page.get_by_role("link", name="All jobs").first.click()
    expect(page.get_by_role("heading", name="Jobs")).to_be_visible()


def test_a_start_form_that_is_refused_keeps_everything_and_breaks_no_rule(
    page: Page, address: str, axe_script: str
) -> None:
    page.goto(f"{address}/start/{BOOK}")
    page.get_by_label("What the driver says").fill("no power")
    page.get_by_label("Hours").fill("lots")
    page.get_by_label("Active now").fill("100/4")
    page.get_by_label("Failing now").check()
    page.get_by_role("button", name="Start the job").click()
    expect(page.get_by_role("alert").last).to_contain_text("is no reading of an hour meter")
    expect(page.get_by_label("What the driver says")).to_have_value("no power")
    expect(page.get_by_label("Active now")).to_have_value("100/4")
    expect(page.get_by_label("Failing now")).to_be_checked()
    assert faults(page, axe_script) == []
    picture(page, "state-start-refused")
    page.get_by_label("Hours").fill("1312,5")
    page.get_by_role("button", name="Start the job").click()
    expect(page.locator("#found")).to_contain_text(f"{UNIT}: 1 code", timeout=60_000)


def test_an_answer_that_does_not_get_through_is_kept_and_comes_in_by_itself(
    page: Page, address: str, shop: Shop, job: str
) -> None:
    opened(page, address, job)
    page.route("**/answer", lambda route: route.abort(), times=2)
    reading(page, "3,7")
    expect(page.locator("#kept")).to_contain_text("3,7 V")
    expect(page.locator("#news")).to_contain_text(NOTED, timeout=15_000)
    expect(page.locator("#kept")).to_be_hidden()
    expect(page.locator("#offline")).to_be_hidden()
    assert len(shop.card(job).job.findings) == 3


def test_what_is_typed_while_the_engine_works_stays_when_the_sheet_comes(
    page: Page, address: str, shop: Shop
) -> None:
    job = shop.start_job(BOOK, "slow one", findings=(*ARRIVAL, Failing(answer="gone"), SHAKEN))
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route("**/*wait=1*", hold, times=1)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(views, "PATIENCE", 0.0)
        page.goto(f"{address}/job/{job}")
    page.get_by_label("Anything else, in a line").fill("looked X1: no")
    while not held:
        page.wait_for_timeout(50)
    held[0].continue_()
    expect(page.locator("form.answer").first).to_be_attached(timeout=60_000)
    expect(page.get_by_label("Anything else, in a line")).to_have_value("looked X1: no")


def test_the_keyboard_alone_notes_a_reading(page: Page, address: str, job: str) -> None:
    opened(page, address, job)
    form = page.locator("form.answer", has=page.locator(VOLTS)).first
    field = form.locator('input[name="value"]')
    closed = page.locator("details.check:not([open])", has=field)
    if closed.count():
        closed.locator("summary").first.focus()
        page.keyboard.press("Enter")
    field.focus()
    page.keyboard.type("3,7")
    page.keyboard.press("Enter")
    expect(page.locator("#news")).to_contain_text(NOTED)


def test_without_scripts_a_sheet_that_is_still_at_work_comes_by_itself(
    browser: Browser, shop: Shop, address: str
) -> None:
    job = shop.start_job(BOOK, "slow one", findings=(*ARRIVAL, SHAKEN))
    context = browser.new_context(viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(views, "PATIENCE", 0.0)
        page.goto(f"{address}/job/{job}")
        expect(page.locator("form.answer").first).to_be_visible(timeout=60_000)
    assert page.url.endswith("?wait=1")
    context.close()
