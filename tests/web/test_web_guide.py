"""The guide as the sheet shows it: from the package alone, nothing from elsewhere, no fault."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect
from starlette.testclient import TestClient

from backprobe.shop.say.forms import FORMS
from backprobe.shop.workshop import Shop
from web.browser_tools import DESK, PHONE, SMALL, faults, picture, served
from web.sheet_reader import words

GUIDE = Path(__file__).parents[2] / "docs" / "guide.md"


def test_it_says_what_the_manual_says_and_shows_its_pictures(client: TestClient) -> None:
    page = client.get("/guide").text
    written = GUIDE.read_text(encoding="utf-8")
    said = words(page)
    for heading in re.findall(r"^#+ (.+)$", written, flags=re.MULTILINE):
        assert heading.replace("*", "") in said
    captions = re.findall(r"!\[([^\]]+)\]", written)
    assert len(captions) >= 9
    assert all(" ".join(one.split()) in said for one in captions)
    pictures = re.findall(r'<img src="([^"]+)"', page)
    assert len(pictures) == len(captions)
    for path in pictures:
        got = client.get(path)
        assert got.headers["content-type"] == "image/png"
        assert got.content.startswith(b"\x89PNG")
    assert "](" not in said
    assert ".md" not in said


def test_it_lists_all_that_can_be_typed(client: TestClient) -> None:
    page = client.get("/guide").text
    listed = [unescape(one) for one in re.findall(r"<dt>([^<]+)</dt>", page.split('id="words"')[1])]
    assert listed == [form.whole for form in FORMS]


def test_the_sheet_leads_to_it_and_it_leads_back(client: TestClient, job: str) -> None:
    link = f"/guide?job={job}"
    assert f'href="{link}"' in client.get(f"/job/{job}").text
    assert f'<a class="home" href="/job/{job}">The sheet</a>' in client.get(link).text
    for strange in ("/guide", "/guide?job=//elsewhere", "/guide?job=J-1%22%3E"):
        page = client.get(strange).text
        assert '<a class="home" href="/">All jobs</a>' in page
        assert 'href="//elsewhere' not in page


@pytest.mark.parametrize("sun", [False, True])
def test_it_breaks_no_rule_and_asks_nobody_else(
    browser: Browser, shop: Shop, axe_script: str, sun: bool
) -> None:
    with served(shop) as address:
        context = browser.new_context(viewport=PHONE, bypass_csp=True)
        page = context.new_page()
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto(f"{address}/guide")
        if sun:
            page.get_by_role("button", name="In the sun").click()
        for size in (PHONE, SMALL, DESK):
            page.set_viewport_size(size)
            assert faults(page, axe_script) == []
        for shown in page.locator(".guide img").all():
            shown.scroll_into_view_if_needed()
            expect(shown).to_have_js_property("complete", True)
            assert shown.evaluate("e => e.naturalWidth") > 300
        picture(page, "guide-desk")
        assert asked
        assert all(url.startswith(address) for url in asked)
        context.close()
