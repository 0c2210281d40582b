"""Out of the laptop's reach and back, and two phones on one job, in real browsers."""

from __future__ import annotations

import re
from collections.abc import Iterator
from time import monotonic

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from backprobe.findings.model import Act, Failing, Reading
from backprobe.shop.demo import JOBS, book_text
from backprobe.shop.workshop import Shop
from web.beside_tools import Served, paired_phone, shared
from web.browser_tools import faults, picture
from web.conftest import ARRIVAL
from web.conftest import SMALL as BOOK

WEIGHT = 140_000
"""Bytes as a browser reads them, before any packing on the way. Ours; 150 kB is what was asked for."""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = Shop.open(tmp_path_factory.mktemp("shop") / "s.backprobe")
    opened.add_book(BOOK, book_text(BOOK))
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def served(shop: Shop) -> Iterator[Served]:
    with shared(shop) as at:
        yield at


@pytest.fixture
def job(shop: Shop) -> str:
    return shop.start_job(BOOK, "oil lamp on", serial="77", findings=ARRIVAL)


@pytest.fixture
def phone(browser: Browser, served: Served) -> Iterator[tuple[BrowserContext, Page]]:
    context, page = paired_phone(browser, served, "Ulla")
    yield context, page
    context.close()


def opened(page: Page, served: Served, job: str) -> None:
    """The sheet with the checks that travel with it."""
    page.goto(f"{served.phone}/job/{job}")
    expect(page.locator("form.answer").first).to_be_visible(timeout=60_000)
    page.wait_for_function(
        "document.getElementById('sheet').dataset.ahead === 'all'", timeout=60_000
    )


def lost(context: BrowserContext, page: Page) -> None:
    """Walk out of reach and wait until the page says so."""
    context.set_offline(True)
    expect(page.locator("#offline")).to_contain_text("Out of reach: what you enter is kept")


def read(page: Page, text: str) -> None:
    form = page.locator("form.answer", has=page.locator('input[name="value"]')).first
    closed = page.locator("details.check:not([open])", has=form)
    if closed.count():
        closed.locator("summary").first.click()
    form.locator('input[name="value"]').fill(text)
    form.get_by_role("button", name="Note the reading").click()


def noted(shop: Shop, job: str) -> int:
    return len(shop.card(job).job.findings)


def test_work_goes_on_out_of_reach_and_comes_in_once(
    phone: tuple[BrowserContext, Page], served: Served, shop: Shop, job: str, axe_script: str
) -> None:
    context, page = phone
    opened(page, served, job)
    lost(context, page)
    read(page, "4,9")
    kept = page.locator("#kept")
    expect(kept).to_contain_text("Kept here, not sent yet 1")
    expect(kept).to_contain_text(re.compile(r"at oil pressure sender pin \d: 4,9 V"))
    (where,) = re.findall(r"oil pressure sender pin \d", kept.locator("li").inner_text())[:1]
    following = page.locator("#next .check")
    expect(following.nth(1)).to_be_attached()
    assert following.count() in (2, 3)
    expect(following.first.locator(".steps li").first).to_be_attached()
    page.get_by_role("link", name="Answer").click()
    expect(following.first.locator("form.answer").first).to_be_in_viewport()
    assert faults(page, axe_script) == []
    picture(page, "phone-out-of-reach")
    # the first that follows is done as well, out of reach
    form = following.first.locator("form.answer").first
    if form.locator('input[name="value"]').count():
        form.locator('input[name="value"]').fill("4,9")
        form.get_by_role("button", name="Note the reading").click()
    else:
        form.locator('button[name="word"]').first.click()
    expect(kept).to_contain_text("Kept here, not sent yet 2")
    picture(page, "phone-out-of-reach-2")
    page.locator("#say").fill("looked X1: nothing")
    assert noted(shop, job) == 2
    context.set_offline(False)
    expect(kept).to_be_hidden(timeout=60_000)
    expect(page.locator("#news")).to_contain_text(where, timeout=60_000)
    expect(page.locator("#offline")).to_be_hidden()
    findings = shop.card(job).job.findings
    assert any(isinstance(one, Reading) and one.value == 4.9 for one in findings[2:])
    count = len(findings)
    assert count >= 4
    page.wait_for_timeout(3000)
    assert noted(shop, job) == count
    picture(page, "phone-back-in-reach")


def test_an_answer_that_arrived_but_whose_reply_was_lost_counts_once(
    phone: tuple[BrowserContext, Page], served: Served, shop: Shop, job: str
) -> None:
    _, page = phone
    opened(page, served, job)
    sent: list[str] = []

    def swallow(route: Route) -> None:
        """Let the form through to the laptop, and lose what it says."""
        sent.append(route.request.post_data or "")
        route.fetch(max_redirects=0)
        route.abort("connectionreset")

    page.route("**/failing", swallow, times=1)
    page.get_by_role("button", name="Gone now").click()
    expect(page.locator("#kept")).to_be_hidden(timeout=30_000)
    expect(page.locator("#news")).to_be_visible(timeout=30_000)
    page.wait_for_timeout(2500)
    assert len(sent) == 1
    told = [f for f in shop.card(job).job.findings if isinstance(f, Failing)]
    assert [one.answer for one in told] == ["yes", "gone"]


def test_a_form_whose_way_hangs_is_kept_and_let_go(
    phone: tuple[BrowserContext, Page], served: Served, shop: Shop, job: str
) -> None:
    context, page = phone
    opened(page, served, job)
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route("**/failing", hold, times=1)
    page.get_by_role("button", name="Gone now").click()
    lost(context, page)
    expect(page.locator("#kept")).to_contain_text("Gone now")
    page.unroute("**/failing")
    context.set_offline(False)
    expect(page.locator("#kept")).to_be_hidden(timeout=30_000)
    assert noted(shop, job) == 3


def test_what_is_kept_survives_a_new_page_and_can_be_dropped(
    phone: tuple[BrowserContext, Page], served: Served, shop: Shop, job: str
) -> None:
    context, page = phone
    opened(page, served, job)
    lost(context, page)
    first = page.locator("#next .check").first.inner_text()
    page.locator("#say").fill("this is no sentence")
    page.get_by_role("button", name="Note it").click()
    read(page, "-12")
    expect(page.locator("#kept li")).to_have_count(2)
    page.get_by_role("button", name="Drop it: ").last.click()
    expect(page.locator("#kept li")).to_have_count(1)
    expect(page.locator("#next .check").first).to_have_text(first, use_inner_text=True)
    context.set_offline(False)
    page.goto(f"{served.phone}/")
    page.goto(f"{served.phone}/job/{job}")
    refused = page.locator("#kept li")
    expect(refused).to_contain_text("this is no sentence")
    expect(refused).to_contain_text("Not taken: ", timeout=30_000)
    picture(page, "phone-not-taken")
    assert noted(shop, job) == 2
    page.get_by_role("button", name="Drop it: ").click()
    expect(page.locator("#kept")).to_be_hidden()


def test_putting_back_is_kept_out_of_reach_too(
    phone: tuple[BrowserContext, Page], served: Served, shop: Shop
) -> None:
    context, page = phone
    job = shop.start_job(
        BOOK, "x", findings=(*ARRIVAL, Act(act="unplugged", target="oil pressure sender"))
    )
    page.goto(f"{served.phone}/job/{job}")
    expect(page.locator(".put-back li")).to_have_count(1, timeout=60_000)
    lost(context, page)
    page.locator(".put-back button").click()
    expect(page.locator("#kept")).to_contain_text("oil pressure sender")
    context.set_offline(False)
    expect(page.locator("#kept")).to_be_hidden(timeout=30_000)
    expect(page.locator(".put-back")).to_have_count(0, timeout=60_000)
    assert noted(shop, job) == 4


def test_approved_minutes_are_kept_out_of_reach_too(
    phone: tuple[BrowserContext, Page], served: Served, shop: Shop, job: str
) -> None:
    context, page = phone
    opened(page, served, job)
    lost(context, page)
    page.get_by_text("Minutes approved").click()
    page.get_by_label("Approved for the whole job").fill("90")
    page.get_by_label("Approved for the whole job").press("Enter")
    expect(page.locator("#kept")).to_contain_text("approved: 90 min")
    context.set_offline(False)
    expect(page.locator("#kept")).to_be_hidden(timeout=30_000)
    expect(page.locator("#next")).to_contain_text("90 min approved", timeout=60_000)
    assert shop.card(job).job.state.approved_s == 90 * 60.0


def test_what_is_no_reading_is_said_at_once_out_of_reach(
    phone: tuple[BrowserContext, Page], served: Served, job: str
) -> None:
    context, page = phone
    opened(page, served, job)
    lost(context, page)
    read(page, "12x")
    expect(page.locator("#next .oops").first).to_have_text(
        "“12x” is not a reading. Type what the meter shows, for instance 4,98 or 12.3."
    )
    expect(page.locator("#kept")).to_be_hidden()
    context.set_offline(False)


def test_volts_that_nothing_on_the_machine_holds_are_refused_at_once_out_of_reach(
    phone: tuple[BrowserContext, Page], served: Served, job: str, axe_script: str
) -> None:
    """They were kept and refused when the laptop was back, far from the meter. 36 V: shop.meters."""
    context, page = phone
    opened(page, served, job)
    lost(context, page)
    read(page, "120")
    said = (
        "“120” cannot be: on this machine the meter shows at most 36 V. "
        "Is the decimal point in its place, and the unit right?"
    )
    expect(page.locator("#next .oops").first).to_have_text(said)
    expect(page.locator("#kept")).to_be_hidden()
    assert faults(page, axe_script) == []
    picture(page, "phone-no-such-volts")
    read(page, "12,0")
    expect(page.locator("#kept")).to_contain_text("12,0 V")
    context.set_offline(False)
    expect(page.locator("#kept")).to_be_hidden(timeout=60_000)


def test_a_phone_let_go_keeps_what_it_has(
    phone: tuple[BrowserContext, Page], served: Served, shop: Shop, job: str
) -> None:
    context, page = phone
    opened(page, served, job)
    lost(context, page)
    page.get_by_role("button", name="Gone now").click()
    served.sharing.unpair(served.sharing.devices()[0].ident)
    context.set_offline(False)
    expect(page.locator("#offline")).to_contain_text(
        "This phone is not paired any more. What is kept here stays"
    )
    expect(page.locator("#kept li")).to_have_count(1)
    assert noted(shop, job) == 2
    code = served.sharing.renew()
    page.goto(f"{served.phone}/pair/{code.word}")
    page.get_by_role("button", name="Pair").click()
    page.goto(f"{served.phone}/job/{job}")
    expect(page.locator("#kept")).to_be_hidden(timeout=30_000)
    assert noted(shop, job) == 3


def test_two_phones_see_each_others_entries_within_three_seconds(
    browser: Browser,
    phone: tuple[BrowserContext, Page],
    served: Served,
    shop: Shop,
    job: str,
    axe_script: str,
) -> None:
    _, page = phone
    other_context, other = paired_phone(browser, served, "Piet")
    opened(page, served, job)
    opened(other, served, job)
    reading = page.locator('input[name="value"]:visible').first
    if reading.count():
        reading.fill("12,")  # half typed: what others note must not take it away
    took: list[float] = []
    for press, said in (
        ("Gone now", "Not failing right now"),
        ("Failing now", "Failing right now"),
        ("Gone now", "Not failing right now"),
    ):
        before = page.locator("#others li").count()
        other.get_by_role("button", name=press).click()
        start = monotonic()
        expect(page.locator("#others li")).to_have_count(before + 1)
        took.append(monotonic() - start)
        expect(other.locator("#news")).to_contain_text(said, timeout=60_000)
    print("seen after", [f"{one:.2f} s" for one in took])
    assert sorted(took)[1] < 3.0  # a busy computer may be late once
    expect(page.locator("#others")).to_contain_text("Piet")
    if reading.count():
        expect(reading).to_have_value("12,")
    expect(other.locator("#others")).to_be_hidden()  # nobody is told of his own entries
    assert faults(page, axe_script) == []
    picture(page, "phone-noted-meanwhile")
    page.get_by_role("button", name="Show the new sheet").click()
    expect(page.locator("#others")).to_be_hidden(timeout=30_000)
    expect(page.locator("#news")).to_be_visible(timeout=30_000)
    other_context.close()


@pytest.mark.parametrize("number", [0, 2])
def test_the_page_with_all_that_travels_weighs_less_than_140_kb(
    phone: tuple[BrowserContext, Page], served: Served, shop: Shop, number: int
) -> None:
    """Of the demo jobs, the two that weigh most, one with a fuse box and a plug."""
    context, page = phone
    demo = JOBS[number]
    shop.add_book(demo.book, book_text(demo.book))
    heavy = shop.start_job(
        demo.book, demo.complaint, serial=demo.serial, hours=demo.hours,
        findings=(*demo.arrival, Failing(visit=1, answer="yes")) if number else demo.arrival,
    )  # fmt: skip
    context.new_cdp_session(page).send("Network.setCacheDisabled", {"cacheDisabled": True})
    sizes: dict[str, int] = {}
    page.on("response", lambda r: sizes.update({r.url: len(r.body())}) if r.status == 200 else None)
    opened(page, served, heavy)
    print(sum(sizes.values()), "bytes", sizes)
    assert any("/ahead" in url for url in sizes)
    assert any("htmx" in url for url in sizes)
    assert any("faces.css" in url for url in sizes) == (number == 2)
    assert sum(sizes.values()) < WEIGHT
