"""The start form in a real browser: by touch, narrow, light and dark."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Route, expect

from backprobe.findings.model import Closed, FuseFound, Works
from backprobe.shop.demo import book_text
from backprobe.shop.workshop import Shop
from web.browser_tools import DESK, PHONE, SMALL, faults, picture, unfold

BOOK = "tracked-dumper"
TOO_SMALL = """() => [...document.querySelectorAll('main a, main button, main summary, main label')]
    .filter(e => e.querySelector('input') || !e.matches('label'))
    .filter(e => e.offsetParent && e.getBoundingClientRect().height < 47.5)
    .map(e => e.outerHTML.slice(0, 100))"""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = Shop.open(tmp_path_factory.mktemp("shop") / "s.backprobe", clock=lambda: 1000.0)
    opened.add_book(BOOK, book_text(BOOK))
    job = opened.start_job(BOOK, "no power", serial="4411-0100", hours=1100.0)
    opened.note(job, Closed(cause="wire 41a rubbed through at the hinge pin"))
    yield opened
    opened.close()


@pytest.mark.parametrize(("size", "colours"), [(PHONE, "light"), (DESK, "light"), (SMALL, "dark")])
def test_the_form_is_usable_with_everything_open(
    browser: Browser, address: str, axe_script: str, size: dict[str, int], colours: str
) -> None:
    page = browser.new_page(viewport=size, color_scheme=colours, bypass_csp=True)  # type: ignore[arg-type]
    page.goto(f"{address}/start/{BOOK}")
    unfold(page)
    assert faults(page, axe_script) == []
    assert page.evaluate(TOO_SMALL) == []
    picture(page, f"intake-{size['width']}-{colours}")
    page.close()


def test_no_word_of_a_question_is_broken_on_a_small_phone(browser: Browser, address: str) -> None:
    page = browser.new_page(viewport={"width": 360, "height": 780})
    page.goto(f"{address}/start/{BOOK}")
    asked = page.locator(".rows .asked p")
    expect(asked).to_have_count(12)
    wide = asked.evaluate_all(
        """all => all.filter(p => { p.style.overflowWrap = 'normal'; return p.scrollWidth > p.clientWidth })
                  .map(p => p.textContent)"""
    )
    assert wide == []
    page.close()


def test_a_job_is_taken_in_by_touch(browser: Browser, shop: Shop, address: str) -> None:
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    page = context.new_page()
    page.goto(f"{address}/start/{BOOK}")
    page.locator("#works").get_by_text("6 more").tap()
    page.get_by_role("radiogroup", name="Engine cranks").get_by_role("radio", name="Dead").tap()
    page.get_by_role("radiogroup", name="Work lights").get_by_role("radio", name="Works").tap()
    page.get_by_role("radiogroup", name="Work lights").get_by_role("radio", name="not known").tap()
    page.get_by_text("Fuses (13)").tap()
    fuse = page.get_by_role("radiogroup", name="F5 10 A, row 1 slot 5, feeds ")
    for state in ("good", "blown", "not looked", "good", "blown"):
        fuse.tap()
        expect(fuse.get_by_role("radio", name=state)).to_be_checked()
    # with a keyboard, as any group of buttons
    page.get_by_role("radiogroup", name="F7 10 A").get_by_role("radio", name="not").focus()
    page.keyboard.press("ArrowRight")
    page.get_by_role("button", name="Start the job").tap()
    page.wait_for_url("**/job/*")
    job = page.url.split("/job/")[1][:6]
    context.close()
    found = shop.card(job).job.findings
    assert [type(f) for f in found] == [Works, FuseFound, FuseFound]
    assert [(f.fuse, f.state) for f in found if isinstance(f, FuseFound)] == [
        ("F5", "blown"),
        ("F7", "looks good"),
    ]
    assert isinstance(found[0], Works)
    assert (found[0].target, found[0].works) == ("engine cranks", False)


def test_the_questions_follow_what_is_typed_and_keep_what_is_answered(
    browser: Browser, shop: Shop, address: str
) -> None:
    open_job = shop.start_job(BOOK, "horn silent", serial="77")
    page = browser.new_page(viewport=PHONE)
    page.goto(f"{address}/start/{BOOK}")
    first = page.locator("#works .asked p").first
    expect(first).to_have_text("Engine starts")
    page.get_by_label("What the driver says").press_sequentially("beacons do not flash")
    expect(first).to_have_text("Beacon flashes")
    page.get_by_role("radiogroup", name="Beacon flashes").get_by_role("radio", name="Dead").check()
    page.get_by_label("Active now").first.fill("520331/5")
    expect(page.locator("#works .asked p").nth(1)).to_have_text("Fast travel")
    expect(
        page.get_by_role("radiogroup", name="Beacon flashes").get_by_role("radio", name="Dead")
    ).to_be_checked()
    page.get_by_label("Serial number").fill("77")
    seen = page.get_by_role("link", name="horn silent")
    expect(seen).to_be_visible()
    expect(seen).to_have_attribute("href", f"/job/{open_job}")
    picture(page, "intake-asked-390")
    page.close()


def test_nothing_moves_under_a_finger(browser: Browser, address: str) -> None:
    page = browser.new_page(viewport=PHONE)
    page.goto(f"{address}/start/{BOOK}")
    held: list[Route] = []
    page.route("**/ask", lambda route: held.append(route), times=1)  # noqa: PLW0108
    with page.expect_request("**/ask"):
        page.get_by_label("What the driver says").fill("the horn is dead")
    # tapped before the answer is back: what is there stays, and so does the tick
    dead = page.get_by_role("radiogroup", name="Engine starts").get_by_role("radio", name="Dead")
    dead.check()
    with page.expect_response("**/ask"):
        held[0].continue_()
    page.wait_for_timeout(300)
    expect(page.locator("#works .asked p").first).to_have_text("Engine starts")
    expect(dead).to_be_checked()
    # with the next word typed they follow
    page.get_by_label("What the driver says").fill("the horn is dead today")
    expect(page.locator("#works .asked p").first).to_have_text("Horn sounds")
    expect(dead).to_be_checked()
    page.close()
