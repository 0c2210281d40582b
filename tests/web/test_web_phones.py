"""Pairing in a real browser: the laptop's page of phones, the phone's page, axe-core on both."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, expect

from backprobe.shop.workshop import Shop
from web.beside_tools import paired_phone, shared
from web.browser_tools import DESK, PHONE, faults, picture


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_phone_is_paired_and_let_go(
    browser: Browser, shop: Shop, job: str, axe_script: str, scheme: str
) -> None:
    with shared(shop) as served:
        desk = browser.new_context(viewport=DESK, color_scheme=scheme, bypass_csp=True)
        laptop = desk.new_page()
        laptop.goto(f"{served.laptop}/phones")
        expect(laptop.locator(".qr svg")).to_be_visible()
        assert faults(laptop, axe_script) == []
        picture(laptop, f"{scheme}-phones-code")

        stranger = browser.new_context(viewport=PHONE, color_scheme=scheme, bypass_csp=True)
        page = stranger.new_page()
        page.goto(f"{served.phone}/job/{job}")
        assert faults(page, axe_script) == []
        picture(page, f"{scheme}-pair-typed")
        page.get_by_label("Code").fill("nonsense")
        page.get_by_role("button", name="Pair").click()
        expect(page.get_by_role("alert")).to_contain_text("This code does not count.")
        assert faults(page, axe_script) == []
        picture(page, f"{scheme}-pair-refused")
        stranger.close()

        context, phone = paired_phone(browser, served, "Ulla")
        laptop.goto(f"{served.laptop}/phones")
        expect(laptop.get_by_text("Ulla")).to_be_visible()
        assert faults(laptop, axe_script) == []
        picture(laptop, f"{scheme}-phones-paired")
        laptop.get_by_role("button", name="Unpair Ulla").click()
        expect(laptop.get_by_text("None.")).to_be_visible()
        phone.reload()
        expect(phone.get_by_role("heading", name="Pair this phone")).to_be_visible()
        context.close()
        desk.close()
