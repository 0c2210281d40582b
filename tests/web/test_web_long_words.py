"""Words without a blank, as names of a book or typed: no page grows wider than the smallest phone."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from backprobe.findings.model import Act, Closed, CodesFound, Failing, Reading, Works
from backprobe.shop.workshop import Shop
from web.browser_tools import SMALL, unfold

LAMP = "Rundumkennleuchtenbefestigungsschraubenbeleuchtung"
WORD = "Überspannungsschutz" * 10
BOOK = f"""machine digger, 12 V
battery: battery
F'2 & co: fuse 10 A, at fuse box row 2 slot 3
{LAMP}: lamp 21 W
ECU: control unit, on frame
sensor: three-wire sensor
battery.+ > key switch.30, 6 mm2
key switch.15 > F'2 & co > {LAMP} > frame, 1 mm2
battery.- > frame, 25 mm2
ECU.47: 5 V group A
ECU.31: analogue input
ECU.47 > sensor.3, 0.75 mm2
sensor.2 > ECU.31, 0.75 mm2
sensor.1 > ECU.2, 0.75 mm2
ECU.2: ground
code ECU 157/4 "{WORD}": ECU.31 < 0.2 V, key on run
function {LAMP[:40]}: needs {LAMP}, key run
"""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    opened = Shop.open(tmp_path_factory.mktemp("long") / "shop.backprobe")
    opened.add_book("long", BOOK)
    job = opened.start_job("long", WORD, serial=WORD[:80])
    opened.note(
        job,
        CodesFound(unit="ECU", active=("157/4",), stored=(WORD,)),
        Reading(p="ECU.31", value=1.2, note=WORD),
        Works(target=LAMP[:40], works=False),
        Act(act="unplugged", target=LAMP),
        Failing(answer="yes"),
        Closed(cause=WORD, done=WORD, left=WORD, parts=WORD),
    )
    yield opened
    opened.close()


def test_no_page_grows_with_a_long_word(browser: Browser, shop: Shop, address: str) -> None:
    job = f"/job/{shop.jobs()[0].id}"
    page = browser.new_page(viewport=SMALL)
    found = []
    for path in (
        "/", "/machines", "/books", "/book/long", "/start/long", f"{job}?wait=1", f"{job}/circuit",
        f"{job}/loom", f"{job}/course", f"{job}/close", f"{job}/write-up", f"{job}/print",
    ):  # fmt: skip
        page.goto(f"{address}{path}", timeout=120_000)
        unfold(page)
        wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        found += [f"{path}: {wide} px wider than the screen"] if wide > 0 else []
    page.close()
    assert found == []
