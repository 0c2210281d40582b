"""The pictures in a real browser: words that can be read and do not lie on each other, contrast,
accessibility, pressing, without scripts, weight."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from backprobe.shop.demo import JOBS
from backprobe.shop.demo_shop import fill
from backprobe.shop.workshop import Shop
from web.browser_tools import DESK, PHONE, SMALL, faults, picture, unfold
from web.contrast_tools import COLOURS, contrast

WEIGHT = 150_000
ENOUGH = 4.5
"""Contrast of words to what they stand on (WCAG 2.2, 1.4.3)."""
ENOUGH_OF_LINES = 3.0
"""Contrast of what must be seen in a graphic (WCAG 2.2, 1.4.11)."""
WASHED, NO_CRANK, LIGHTS = (job.serial for job in JOBS)

TEXTS = """
() => [...document.querySelectorAll('.frame svg')].filter(s => s.checkVisibility()).map(svg => {
  const inverse = svg.getScreenCTM().inverse();
  return {
    words: [...svg.querySelectorAll('text')].map(t => {
      const b = t.getBBox();
      return {words: t.textContent, lead: t.matches('.on-lead'), box: [b.x, b.y + 1, b.x + b.width, b.y + b.height - 1],
              size: parseFloat(getComputedStyle(t).fontSize)};
    }),
    lines: [...svg.querySelectorAll('path.edge, path.bolt, path.branch')].filter(p => /V/.test(p.getAttribute('d')))
      .map(p => { const b = p.getBBox(); return [b.x - 4, b.y, b.x + 4, b.y + b.height]; }),
    width: svg.viewBox.baseVal.width,
  };
})
"""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = Shop.open(tmp_path_factory.mktemp("pictures") / "demo.backprobe")
    fill(opened)
    yield opened
    opened.close()


def place(shop: Shop, serial: str, which: str, query: str = "") -> str:
    if which.startswith("/"):
        return which + query
    job = next(row.id for row in shop.jobs() if row.serial == serial)
    return f"/job/{job}/{which}{query}"


def opened(page: Page, where: str) -> Page:
    page.goto(where)
    page.wait_for_selector(".frame", state="attached", timeout=120_000)
    return page


STATES = {
    "circuit-washed": (WASHED, "circuit", "?key=on"),
    "circuit-no-crank": (NO_CRANK, "circuit", "?key=crank&as=engine+strap"),
    "circuit-lights": (LIGHTS, "circuit", "?key=on&on=S2&as=F5"),
    "circuit-pin": (WASHED, "circuit", "?key=on&as=rail+sensor&pin=X10.3a"),
    "circuit-barred": (LIGHTS, "circuit", "?key=on&pin=SP3:1"),
    "book": ("", "/book/tracked-dumper/circuit", "?of=beacon&key=run&on=S3&pin=X6.1a"),
    "book-unit": ("", "/book/tracked-dumper/circuit", "?of=ECU&key=on"),
    "loom-washed": (WASHED, "loom", ""),
    "loom-no-crank": (NO_CRANK, "loom", ""),
    "loom-lights": (LIGHTS, "loom", ""),
}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("size", "scheme"),
    [(PHONE, "dark"), (DESK, "light"), (SMALL, "light")],
    ids=lambda one: one if isinstance(one, str) else str(one["width"]),
)
def test_every_picture_can_be_read(
    browser: Browser, shop: Shop, address: str, axe_script: str, size: dict[str, int], scheme: str
) -> None:
    context = browser.new_context(viewport=size, color_scheme=scheme, bypass_csp=True)
    page = context.new_page()
    found: dict[str, list[str]] = {}
    for name, (serial, which, query) in STATES.items():
        opened(page, address + place(shop, serial, which, query))
        bad = [*overlaps(page), *pale(page)]
        picture(page, f"picture-{scheme}-{size['width']}-{name}")
        unfold(page)
        found[name] = [*bad, *faults(page, axe_script)]
    assert {name: bad for name, bad in found.items() if bad} == {}
    context.close()


def overlaps(page: Page) -> list[str]:
    """Words on words, words on lines, small words, by the browser's own measure."""
    found = []
    drawings = page.evaluate(TEXTS)
    assert len(drawings) == 1
    for drawing in drawings:
        words = drawing["words"]
        assert len(words) > 3
        found += [f"{w['words']}: {w['size']} px" for w in words if w["size"] < 12.0]
        for k, one in enumerate(words):
            for other in words[k + 1 :]:
                if _meet(one["box"], other["box"]):
                    found.append(f"{one['words']} on {other['words']}")
            # a meter lead is a filled disc on its line
            lines = [] if one["lead"] else drawing["lines"]
            found += [f"{one['words']} on a line" for line in lines if _meet(one["box"], line)]
            if one["box"][2] > drawing["width"] + 1.0:
                found.append(f"{one['words']} is cut off")
    return found


def _meet(a: list[float], b: list[float]) -> bool:
    return min(a[2], b[2]) - max(a[0], b[0]) > 1.0 and min(a[3], b[3]) - max(a[1], b[1]) > 1.5


def pale(page: Page) -> list[str]:
    """Words and lines without enough contrast."""
    pairs = page.evaluate(COLOURS)
    assert len(pairs) > 5
    return [
        f"{name}: {contrast(front, back):.1f}"
        for name, front, back in pairs
        if contrast(front, back) < (ENOUGH if name.startswith("words") else ENOUGH_OF_LINES)
    ]


def test_the_contrast_formula_gives_the_published_figures() -> None:
    """WCAG 2.2: black on white is 21:1; #767676 on white is the well-known 4.54:1."""
    assert contrast("rgb(0, 0, 0)", "rgb(255, 255, 255)") == pytest.approx(21.0)
    assert contrast("rgb(118, 118, 118)", "rgb(255, 255, 255)") == pytest.approx(4.54, abs=0.01)


@pytest.mark.slow
def test_pressing_a_suspect_a_key_and_a_pin_changes_the_picture_in_place(
    browser: Browser, shop: Shop, address: str
) -> None:
    page = browser.new_page(viewport=PHONE)
    complaints: list[str] = []
    page.on("console", lambda m: complaints.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    opened(page, address + place(shop, WASHED, "circuit", "?key=on"))
    page.evaluate("window.stayed = true")
    pin = page.locator('.narrow svg a[href*="pin=X10.3b"]').first
    expect(pin.locator("text").first).to_have_text("5.0 V")
    page.locator("summary", has_text="Volts of a healthy machine").click()
    page.locator("a.pick", has_text="wire 41a").click()
    expect(page.locator("summary", has_text="as if it were wire 41a")).to_be_visible()
    expect(pin.locator("text.moved")).to_have_text("0.02 V")
    expect(page.get_by_role("button", name="Larger")).to_be_visible()
    page.locator("a.pick", has_text="Key off").click()
    expect(page.locator("a.pick[aria-current]", has_text="Key off")).to_be_visible()
    expect(pin.locator("text").first).to_have_text("0 V")
    page.locator("a.pick", has_text="Key on").click()
    expect(page.locator("a.pick[aria-current]", has_text="Key on")).to_be_visible()
    pin.click()
    expect(page.locator("#pin-title")).to_contain_text("X10 way 3")
    expect(page.locator("#pin")).to_be_focused()
    assert "pin=X10.3b#pin" in page.url
    assert page.evaluate("window.stayed")
    assert complaints == []
    page.close()


@pytest.mark.slow
@pytest.mark.parametrize("which", ["circuit", "loom"])
def test_a_picture_can_be_made_larger_and_smaller(
    browser: Browser, shop: Shop, address: str, which: str
) -> None:
    page = browser.new_page(viewport=PHONE)
    opened(page, address + place(shop, WASHED, which))
    wide = page.locator(".narrow svg").bounding_box()["width"]
    page.get_by_role("button", name="Larger").click()
    assert page.locator(".narrow svg").bounding_box()["width"] == pytest.approx(1.3 * wide, abs=1)
    assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
    for _ in range(9):
        page.get_by_role("button", name="Smaller").click()
    assert page.locator(".narrow svg").bounding_box()["width"] == pytest.approx(0.6 * wide, abs=1)
    page.close()


@pytest.mark.slow
def test_without_scripts_every_press_is_a_page(browser: Browser, shop: Shop, address: str) -> None:
    context = browser.new_context(viewport=PHONE, java_script_enabled=False)
    page = opened(context.new_page(), address + place(shop, NO_CRANK, "circuit", "?key=on"))
    page.locator("a.pick", has_text="Cranking").click()
    page.locator("summary", has_text="Volts of a healthy machine").click()
    page.locator("a.pick", has_text="engine strap").click()
    page.locator('.narrow svg a[href*="pin=engine"]').first.click()
    expect(page.locator("#pin-title")).to_contain_text("bare metal of the engine")
    page.locator("#pin-value").fill("2,1")
    page.get_by_role("button", name="Note the reading").click()
    expect(page.locator("body")).to_contain_text("2.1 V at engine", timeout=60_000)
    context.close()


@pytest.mark.slow
def test_places_to_press_are_as_large_as_a_gloved_finger(
    browser: Browser, shop: Shop, address: str
) -> None:
    page = browser.new_page(viewport=PHONE)
    for serial in (WASHED, NO_CRANK, LIGHTS):
        opened(page, address + place(shop, serial, "circuit", "?key=on"))
        small = page.evaluate(
            """[...document.querySelectorAll('.narrow svg a .hit')].map(e => e.getBoundingClientRect())
               .filter(b => b.height < 47.5 || b.width < 47.5).map(b => [b.width, b.height])"""
        )
        assert small == []
        low = page.evaluate(
            """[...document.querySelectorAll('a.pick, summary')].filter(e => e.checkVisibility())
               .map(e => e.getBoundingClientRect().height).filter(h => h < 47.5)"""
        )
        assert low == []
    page.close()


@pytest.mark.slow
def test_a_picture_that_is_a_little_too_wide_is_fitted_and_can_still_be_made_larger(
    browser: Browser, shop: Shop, address: str
) -> None:
    page = browser.new_page(viewport={"width": 360, "height": 780})
    opened(page, address + place(shop, WASHED, "circuit", "?key=on"))
    over = "[...document.querySelectorAll('.frame.narrow')].map(f => f.scrollWidth - f.clientWidth)"
    natural = page.locator(".frame.narrow svg").evaluate("svg => svg.viewBox.baseVal.width")
    assert natural > 360
    assert max(page.evaluate(over)) <= 0
    page.get_by_role("button", name="Larger").click()
    assert max(page.evaluate(over)) > 0
    page.close()


@pytest.mark.slow
def test_the_keyboard_alone_reaches_a_pin(browser: Browser, shop: Shop, address: str) -> None:
    page = browser.new_page(viewport=DESK)
    opened(page, address + place(shop, WASHED, "circuit", "?key=on"))
    page.locator('.wide svg a[href*="pin=X10.3a"]').first.focus()
    outline = page.evaluate(
        "getComputedStyle(document.activeElement.querySelector('.hit')).strokeWidth"
    )
    assert outline == "3px"
    page.keyboard.press("Enter")
    expect(page.locator("#pin-title")).to_contain_text("X10 way 3")
    page.close()


@pytest.mark.slow
@pytest.mark.parametrize(
    "states",
    [
        ("circuit-washed", "circuit-no-crank", "circuit-lights"),
        ("loom-washed", "loom-no-crank", "loom-lights"),
        ("book", "book-unit"),  # the unit has more wires than anything else
    ],
    ids=["circuit", "loom", "book"],
)
def test_a_picture_weighs_less_than_150_kb_with_everything_it_needs(
    browser: Browser, shop: Shop, address: str, states: tuple[str, ...]
) -> None:
    for state in states:
        serial, which, query = STATES[state]
        page = browser.new_page(viewport=PHONE)
        sizes: list[int] = []
        page.on("response", lambda response, sizes=sizes: sizes.append(len(response.body())))
        opened(page, address + place(shop, serial, which, query))
        page.wait_for_load_state("networkidle")
        assert 0 < sum(sizes) < WEIGHT
        page.close()
