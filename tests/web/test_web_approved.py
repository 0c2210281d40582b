"""What the customer approved: noted on the sheet, and the word to ask before more is spent."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, expect
from starlette.testclient import TestClient

from backprobe.findings.model import Approved
from backprobe.shop.workshop import Shop
from web.browser_tools import SMALL, faults, picture, served
from web.sheet_reader import Form, forms, words

ASK = "Ask the customer before you go on:"


def form_of(page: str) -> Form:
    return next(form for form in forms(page) if form.action.endswith("/approved"))


def test_minutes_are_noted_and_held_against_what_is_to_go(
    client: TestClient, shop: Shop, job: str
) -> None:
    first = client.get(f"/job/{job}").text
    assert "Minutes approved" in words(first)
    form = form_of(first)
    page = client.post(form.action, data={**form.fields, "value": " 999 min "}).text
    assert "Noted: Approved: 999 min Kept with the job; it moves no chance." in words(page)
    assert "999 min approved" in words(page)
    assert ASK not in words(page)
    form = form_of(page)
    said = words(client.post(form.action, data={**form.fields, "value": "1"}).text)
    left = shop.card(job).job.proposal.half_s
    assert f"{ASK} 1 min approved, 0 min spent, about {round(left / 60)} min to go." in said
    assert said.index(ASK) < said.index("Key and load")
    assert [f.seconds for f in shop.card(job).job.findings[2:] if isinstance(f, Approved)] == [
        999 * 60.0,
        60.0,
    ]


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("an hour", "“an hour” is no number of minutes."),
        ("-5", "“-5” is no number of minutes."),
        ("12345", "“12345” is no number of minutes."),
        ("", "The minutes are missing."),
    ],
)
def test_what_is_no_number_of_minutes_is_refused_and_kept(
    client: TestClient, shop: Shop, job: str, typed: str, told: str
) -> None:
    form = form_of(client.get(f"/job/{job}").text)
    page = client.post(form.action, data={**form.fields, "value": typed})
    assert page.status_code == 422
    assert f"{told} Type the minutes for the whole job, for instance 90." in words(page.text)
    assert form_of(page.text).fields["value"] == typed
    assert len(shop.card(job).job.findings) == 2


def test_how_it_went_shows_what_was_approved(client: TestClient, shop: Shop, job: str) -> None:
    before = client.get(f"/job/{job}/course?wait=1").text
    assert "approved" not in words(before)
    shop.note(job, Approved(seconds=90 * 60.0))
    page = client.get(f"/job/{job}/course?wait=1").text
    assert "C approved" in words(page)
    drawn = page.split('id="minutes-t"')[1].split("</svg>", maxsplit=1)[0]
    assert drawn.count('class="letter t2"') == 1
    assert before.count('class="letter t2"') == page.count('class="letter t2"') - 1


def test_it_is_said_before_the_check_and_breaks_no_rule(
    browser: Browser, shop: Shop, job: str, axe_script: str
) -> None:
    with served(shop) as address:
        context = browser.new_context(viewport=SMALL, bypass_csp=True)
        page = context.new_page()
        page.goto(f"{address}/job/{job}?wait=1", timeout=60_000)
        page.get_by_text("Minutes approved").click()
        page.get_by_label("Approved for the whole job").fill("1")
        page.get_by_label("Approved for the whole job").press("Enter")
        expect(page.locator("#next .ask-first")).to_contain_text(ASK, timeout=60_000)
        page.get_by_text("1 min approved", exact=True).click()
        assert faults(page, axe_script) == []
        picture(page, "state-approved")
        context.close()
