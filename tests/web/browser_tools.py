"""What the tests in a real browser share: sizes, a served shop, pictures, the accessibility check."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import uvicorn
from playwright.sync_api import Page

from backprobe.shop.workshop import Shop
from backprobe.web.app import make_app

PHONE = {"width": 390, "height": 844}
SMALL = {"width": 320, "height": 640}
DESK = {"width": 1280, "height": 900}
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
PICTURES = Path(__file__).parents[2] / "artefacts"


@contextmanager
def served(shop: Shop) -> Iterator[str]:
    """The address of a shop served on a free port of this computer."""
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    listener.listen()  # from here on a client may knock
    server = uvicorn.Server(uvicorn.Config(make_app(shop), log_level="critical"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{listener.getsockname()[1]}"
    server.should_exit = True
    thread.join(timeout=10)


def picture(page: Page, name: str) -> None:
    """The whole page as a picture, to be looked at."""
    PICTURES.mkdir(exist_ok=True)
    page.screenshot(path=PICTURES / f"{name}.png", full_page=True)


STYLED = "[...document.styleSheets].some(s => (s.href || '').endsWith('pictures.css'))"
"""The style of a circuit on a sheet comes with it and is fetched after it."""


def unfold(page: Page) -> None:
    """Open whatever is folded away, and wait for the circuit that a sheet fetches then."""
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    if page.locator("#around").count():
        page.wait_for_selector("#around svg", timeout=60_000)
        page.wait_for_function(STYLED)


CUT = """[...document.querySelectorAll('.wide-table')].filter(e => e.scrollWidth > e.clientWidth + 1).length
    + [...document.querySelectorAll('.stacked :is(th, td)')].filter(e => e.scrollWidth > e.clientWidth + 1).length"""
"""How many tables and cells of the page are wider than their room."""


def faults(page: Page, axe_script: str) -> list[str]:
    """What axe-core finds, and whether the page is wider than the screen."""
    page.evaluate(axe_script)
    found = page.evaluate("axe.run().then(r => r.violations)")
    said = [f"{v['id']}: {v['nodes'][0]['html'][:160]}" for v in found]
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    return [*said, f"{wide} px wider than the screen"] if wide > 0 else said
