"""What the tests of the page share: a shop with one small book, and a client."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect, sync_playwright
from starlette.testclient import TestClient

from backprobe.findings.model import AnyFinding, CodesFound, Failing
from backprobe.shop.demo import book_text
from backprobe.shop.workshop import Shop
from backprobe.web import views
from backprobe.web.app import make_app
from web.browser_tools import QUIET, served

HERE = "http://127.0.0.1:8787"
SMALL = "unplugged-sensor"
UNIT = "engine unit"
ARRIVAL: tuple[AnyFinding, ...] = (
    CodesFound(unit=UNIT, active=("100/4",)),
    Failing(answer="yes"),
)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """A shop whose clock stands still, so that equal findings give equal, remembered answers."""
    opened = Shop.open(tmp_path / "shop.backprobe", clock=lambda: 1000.0)
    opened.add_book(SMALL, book_text(SMALL))
    yield opened
    opened.close()


@pytest.fixture
def job(shop: Shop) -> str:
    return shop.start_job(SMALL, "oil lamp on", serial="77", hours=12.5, findings=ARRIVAL)


@pytest.fixture
def client(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A client that waits for the engine, as a browser without scripts does in the end."""
    monkeypatch.setattr(views, "PATIENCE", 600.0)
    monkeypatch.setattr(views, "LONG_PATIENCE", 600.0)
    with TestClient(make_app(shop), base_url=HERE) as opened:
        yield opened


@pytest.fixture(scope="module")
def browser(chromium: Path) -> Iterator[Browser]:
    """A real browser that phones nobody. What it shows is waited for as long as a busy computer
    takes."""
    expect.set_options(timeout=60_000)
    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=chromium, args=QUIET)
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def address(shop: Shop) -> Iterator[str]:
    """Where a browser finds the shop; for files whose `shop` lasts as long as they do."""
    with served(shop) as at:
        yield at
