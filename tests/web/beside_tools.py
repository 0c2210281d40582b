"""What the tests beside the machine share: a shop served to this computer and to paired phones,
with a network that can be cut."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, expect

from backprobe.shop.workshop import Shop
from backprobe.web.app import make_app
from backprobe.web.sharing import Sharing
from web.browser_tools import PHONE

NEIGHBOUR = "127.0.0.2"
"""A second address of this computer (on Linux), as one in the shop's network would be."""


@dataclass
class Served:
    """A shop that is shared: what the laptop opens, what a phone opens, who is paired."""

    laptop: str
    phone: str
    sharing: Sharing


@contextmanager
def shared(shop: Shop) -> Iterator[Served]:
    """A shop served on a free port of both addresses."""
    first, second = socket.socket(), socket.socket()
    first.bind(("127.0.0.1", 0))
    port = first.getsockname()[1]
    second.bind((NEIGHBOUR, port))
    for one in (first, second):
        one.listen()
    sharing = Sharing(f"{NEIGHBOUR}:{port}")
    server = uvicorn.Server(uvicorn.Config(make_app(shop, sharing=sharing), log_level="critical"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [first, second]}, daemon=True)
    thread.start()
    yield Served(f"http://127.0.0.1:{port}", f"http://{NEIGHBOUR}:{port}", sharing)
    server.should_exit = True
    thread.join(timeout=10)


def paired_phone(browser: Browser, served: Served, name: str) -> tuple[BrowserContext, Page]:
    """A browser of its own on a phone's screen, paired by hand as a person would."""
    context = browser.new_context(viewport=PHONE, bypass_csp=True, has_touch=True)
    page = context.new_page()
    code = served.sharing.code or served.sharing.renew()
    page.goto(f"{served.phone}/pair/{code.word}")
    page.get_by_label("Whose phone is it?").fill(name)
    page.get_by_role("button", name="Pair").click()
    expect(page.get_by_role("heading", name="Jobs", exact=True)).to_be_visible()
    return context, page
