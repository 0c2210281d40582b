"""In the sun: pages in black and white alone, on the device that asked for it.

The wish is a cookie of the device and holds for every page. It is read once, behind the door, so that
no view has to hand it on to its template.
"""

from __future__ import annotations

import re
from contextvars import ContextVar
from typing import Final
from urllib.parse import quote

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

WISH: Final = "backprobe-sun=1"
A_YEAR: Final = 365 * 24 * 3600
OWN: Final = re.compile(r"/(?![/\\])[!-~]*")
"""An address of this server: a path, and nothing a browser takes for another host."""

_wished: ContextVar[bool] = ContextVar("_wished", default=False)
_here: ContextVar[str] = ContextVar("_here", default="/")


class Sun:
    """Middleware: notes for the templates whether a device stands in the sun, and where it is."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Read the wish of a request and pass it on."""
        if scope["type"] == "http":
            cookies = Headers(scope=scope).get("cookie", "").split(";")
            _wished.set(WISH in map(str.strip, cookies))
            query = scope.get("query_string", b"").decode("latin-1")
            _here.set(quote(scope["path"]) + (f"?{query}" if query else ""))
        await self._app(scope, receive, send)


def in_the_sun() -> bool:
    """Whether the page is for a device in the sun."""
    return _wished.get()


def here() -> str:
    """The address of the page that is being made."""
    return _here.get()


async def sun(request: Request) -> Response:
    """Into the sun or out of it, and back to where one was."""
    form = await request.form(max_files=0, max_fields=4)
    back, wish = str(form.get("here", "")), str(form.get("sun", ""))
    answer = RedirectResponse(back if OWN.fullmatch(back) else "/", 303)
    name, _, value = WISH.partition("=")
    on = wish == "on"
    answer.set_cookie(
        name, value if on else "0", max_age=A_YEAR if on else 0, httponly=True, samesite="strict"
    )
    return answer
