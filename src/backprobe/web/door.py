"""The door for those who come in over the network: paired phones pass, others see how to pair."""

from __future__ import annotations

from collections.abc import Callable
from http.cookies import CookieError, SimpleCookie
from typing import Final

from starlette.datastructures import Headers
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from backprobe.web.gate import LOOPBACK, SAFE
from backprobe.web.sharing import COOKIE, Sharing

LAPTOP: Final = "the laptop"
WHO: Final = "backprobe.who"
"""Key of a request's scope: the name of the device that sent it."""
FOR_ALL: Final = ("/static/sheet.css", "/static/sharing.css", "/static/icon.svg")
"""What the pairing page is drawn with; nothing of a shop is in it."""


class Door:
    """Middleware, inside the gate. `stranger` makes the page for a phone that is not paired."""

    def __init__(
        self, app: ASGIApp, sharing: Sharing | None, stranger: Callable[[bool], Response]
    ) -> None:
        self._app = app
        self._sharing = sharing
        self._stranger = stranger

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request, or show how to pair."""
        if scope["type"] == "http":
            answer = self._stopped(scope)
            if answer is not None:
                await answer(scope, receive, send)
                return
        await self._app(scope, receive, send)

    def _stopped(self, scope: Scope) -> Response | None:
        if self._sharing is None or at_laptop(scope):
            scope[WHO] = LAPTOP
            return None
        path = scope["path"]
        device = self._sharing.device(_cookie(Headers(scope=scope)))
        pairing = path == "/pair" or path.startswith("/pair/")
        if device is None:
            scope[WHO] = ""
            return None if pairing or path in FOR_ALL else self._stranger(scope["method"] in SAFE)
        scope[WHO] = device.name
        return RedirectResponse("/", 303) if pairing else None


def at_laptop(scope: Scope) -> bool:
    """Whether a request came in by the socket that only this computer can reach."""
    server = scope.get("server")
    return server is not None and server[0] in LOOPBACK


def who(scope: Scope) -> str:
    """The device a request came from; "" for one that is not paired."""
    name: str = scope.get(WHO, LAPTOP)
    return name


def _cookie(headers: Headers) -> str:
    try:
        found = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return ""
    return found.value if found is not None else ""
