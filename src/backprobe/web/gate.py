"""The gate before every page: who may ask, how much may be sent, what a browser may do with it.

Jobs are served to one computer. A page of another site open in the same browser must not be able
to write into them, nor read them by a name it pointed at this computer.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK: Final = ("127.0.0.1", "localhost", "[::1]")
MOST_BYTES: Final = 64 * 1024
"""Largest form that is read. The longest honest one is a few kB."""
MOST_RECORDING: Final = 32 * 1024 * 1024
"""Largest recording of the bus."""
MOST_BOOK: Final = 5 * 1024 * 1024
"""Largest form with a wiring book: a million letters are read, and the form may write a letter as three
bytes or more."""
MOST_PHOTO: Final = 20 * 1024 * 1024
"""Largest form with a photo; a phone's photo is 2 to 12 MB."""
MOST_START: Final = MOST_RECORDING + 2 * MOST_PHOTO
"""Largest form that starts a job: it may carry a recording and a few photos."""
PHOTO: Final = re.compile(r"/job/[^/]+/photo")
START: Final = re.compile(r"/start/[^/]+")
NEW_BOOK: Final = "/books/new"
SAFE: Final = ("GET", "HEAD", "OPTIONS")
HEADERS: Final = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    # "no-referrer" would make browsers send "Origin: null" with every form
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}

Refusal = Callable[[int, str, str], Response]
"""From status, what is wrong and what to do to a page that says so."""


class Gate:
    """Middleware: checks Host, Origin and size, and adds the headers above.

    `hosts`: names this server may be called by, without port. `refuse` makes the page.
    """

    def __init__(self, app: ASGIApp, hosts: Iterable[str], refuse: Refusal) -> None:
        self._app = app
        self._hosts = frozenset(host.casefold() for host in hosts)
        self._refuse = refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                # script and style may be kept, but are asked for again: a newer version shows at once
                kept = scope["path"].startswith("/static/")
                headers.setdefault("cache-control", "no-cache" if kept else "no-store")
            await send(message)

        refused = self._refused(scope)
        if refused is not None:
            await refused(scope, receive, guarded)
            return
        await self._app(scope, _measured(receive, most_of(scope["path"])), guarded)

    def _refused(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if name_of(host) not in self._hosts:
            known = ", ".join(sorted(self._hosts))
            return self._refuse(
                421,
                "This address is not one of Backprobe's.",
                f"Open it by one of these names: {known}.",
            )
        if scope["method"] not in SAFE and not _own(headers, host):
            return self._refuse(
                403,
                "This form came from another site.",
                "Nothing was kept. Open the job in Backprobe itself and enter it there.",
            )
        if not scope.get("query_string", b"").isascii():
            return self._refuse(400, "This address cannot be read.", "Open the job from the list.")
        length = headers.get("content-length", "0")
        most = most_of(scope["path"])
        if length.isdecimal() and int(length) > most:
            return self._refuse(413, too_large(most), SHORTER)
        return None


def most_of(path: str) -> int:
    """Bytes that a form sent to this address may have."""
    if START.fullmatch(path):
        return MOST_START
    if path == NEW_BOOK:
        return MOST_BOOK
    return MOST_PHOTO if PHOTO.fullmatch(path) else MOST_BYTES


def too_large(most: int) -> str:
    """What is wrong with a form that is larger."""
    size = f"{most // 1024} kB" if most < 1024 * 1024 else f"{most // (1024 * 1024)} MB"
    return f"More was sent than a form may hold ({size})."


SHORTER: Final = "Nothing was kept. Go back and send less."


def name_of(host: str) -> str:
    """A Host header without its port: "127.0.0.1:8787" is "127.0.0.1", "[::1]:80" is "[::1]"."""
    name, colon, port = host.rpartition(":")
    return (name if colon and port.isdecimal() else host).casefold()


def _own(headers: Headers, host: str) -> bool:
    """Whether a form came from a page of this server, or from no browser at all."""
    site = headers.get("sec-fetch-site")
    if site is not None and site not in ("same-origin", "none"):
        return False
    origin = headers.get("origin")
    if origin is None:
        return True
    try:
        return urlsplit(origin).netloc.casefold() == host.casefold()
    except ValueError:  # "http://[": no address at all
        return False


def _measured(receive: Receive, most: int) -> Receive:
    """The same stream, cut off at `most`: a chunked request tells no length beforehand."""
    seen = 0

    async def counted() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > most:
            raise HTTPException(413, too_large(most))
        return message

    return counted
