"""A sheet comes in two halves: what it could be as soon as it is weighed, the next check after it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from threading import Event

import pytest
from playwright.sync_api import Browser, Route, expect
from starlette.testclient import TestClient

from backprobe.shop.job import Job
from backprobe.shop.outlook import Outlook
from backprobe.shop.workshop import Shop
from backprobe.web import desk, views
from web.browser_tools import PHONE, faults, picture, served
from web.sheet_reader import words

IN_THE_PAGE = {"HX-Request": "true"}


@pytest.fixture
def planned(monkeypatch: pytest.MonkeyPatch) -> Iterator[Event]:
    """Plans are made once this is set."""
    may = Event()
    plan = desk._outlook

    def waits(job: Job) -> Outlook:
        may.wait(60.0)
        return plan(job)

    monkeypatch.setattr(desk, "_outlook", waits)
    yield may
    may.set()


def test_what_it_could_be_is_said_before_the_next_check_is_planned(
    client: TestClient, job: str, planned: Event, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(views, "PATIENCE", 0.0)
    half = client.get(f"/job/{job}", headers=IN_THE_PAGE).text
    said = words(half)
    assert "Planning the next check ..." in said
    assert re.search(r"Could be Circuit Loom \d+ %", said)
    assert 'action="/job/' + job + '/answer"' not in half
    rest = re.search(r'class="working" hx-get="([^"]+)"', half)
    assert rest is not None
    assert "first" not in rest[1]
    planned.set()
    whole = client.get(rest[1].replace("&amp;", "&"), headers=IN_THE_PAGE).text
    assert "Planning" not in words(whole)
    assert 'action="/job/' + job + '/answer"' in whole


def test_a_page_asked_for_when_nothing_is_known_fetches_the_first_half_first(
    client: TestClient, job: str, monkeypatch: pytest.MonkeyPatch, planned: Event
) -> None:
    monkeypatch.setattr(views, "PATIENCE", 0.0)
    monkeypatch.setattr(desk.Desk, "weighed", lambda *_: None)
    page = client.get(f"/job/{job}").text
    assert "Working it out ..." in words(page)
    assert re.search(r'class="working" hx-get="[^"]*wait=1&amp;first=1"', page)
    planned.set()


def test_what_an_answer_changed_is_there_while_the_next_check_is_planned(
    browser: Browser, shop: Shop, job: str, axe_script: str, planned: Event
) -> None:
    planned.set()
    with served(shop) as address:
        context = browser.new_context(viewport=PHONE, bypass_csp=True)
        page = context.new_page()
        page.goto(f"{address}/job/{job}?wait=1", timeout=60_000)
        form = page.locator("form.answer").first
        expect(form).to_be_visible()
        planned.clear()
        form.locator('input[name="value"]').fill("4,9")
        form.get_by_role("button", name="Note the reading").click()
        expect(page.locator("#news")).to_contain_text("What that changed")
        expect(page.locator(".working")).to_contain_text("Planning the next check ...")
        expect(page.locator(".suspects > li").first).to_be_visible()
        assert faults(page, axe_script) == []
        picture(page, "state-planning")
        # what is at hand stays where it is when the check comes in above it
        line = page.get_by_label("Anything else, in a line")
        line.fill("looked X1: no")
        before = line.bounding_box()
        planned.set()
        expect(page.locator("form.answer").first).to_be_attached()
        expect(line).to_have_value("looked X1: no")
        expect(line).to_be_focused()
        after = line.bounding_box()
        assert before is not None
        assert after is not None
        assert abs(before["y"] - after["y"]) < 2.0
        context.close()


def test_a_form_sent_meanwhile_is_not_overtaken_by_the_rest_of_the_old_sheet(
    browser: Browser, shop: Shop, job: str, planned: Event
) -> None:
    with served(shop) as address:
        page = browser.new_page(viewport=PHONE)
        held: list[Route] = []

        def hold(route: Route) -> None:
            held.append(route)

        page.route("**/failing", hold)
        page.goto(f"{address}/job/{job}")
        expect(page.locator(".suspects > li").first).to_be_visible()
        with page.expect_request("**/failing"):
            page.get_by_role("button", name="Gone now").click()
        with page.expect_response("**wait=1**") as rest:
            planned.set()
        rest.value.finished()
        expect(page.locator(".working")).to_be_attached()
        held[0].continue_()
        expect(page.locator("#news")).to_contain_text("Not failing right now")
        expect(page.locator("form.answer").first).to_be_attached()
        expect(page.locator("#news")).to_contain_text("Not failing right now")
        page.close()
