"""The addresses of sharing: the laptop's page of phones, and the page a phone is paired on."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Final

import segno
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from backprobe.web.contexts import Oops
from backprobe.web.door import LAPTOP, who
from backprobe.web.render import page
from backprobe.web.sharing import COOKIE, COOKIE_S, Sharing
from backprobe.web.views import form_of

NO_CODE: Final = Oops(
    what="This code does not count.",
    why="It was mistyped, was used already, or is older than 10 minutes.",
    remedy="Look at the page “Phones” on the laptop; it can show a new one.",
)
NOT_PAIRED: Final = Oops(
    what="This phone is not paired.",
    why="Nothing was kept of what it sent.",
    remedy="Pair it with a code; the page “Phones” on the laptop shows one.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PhoneRow:
    """A paired phone in the list."""

    ident: str
    name: str
    seen: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PhonesPage:
    """The laptop's page of phones. `address` "" when sharing is off; `qr` an SVG, with `pair` as
    what it says, both "" when no code counts."""

    address: str = ""
    pair: str = ""
    code: str = ""
    qr: str = ""
    phones: tuple[PhoneRow, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PairPage:
    """The page a phone is paired on, with what was typed."""

    code: str = ""
    name: str = ""
    oops: Oops | None = None


@dataclass(frozen=True, slots=True)
class Pairing:
    """The views of sharing; `sharing` None: it is off."""

    sharing: Sharing | None

    async def phones(self, request: Request) -> Response:
        """Paired phones, and the code for the next."""
        self._laptop_only(request)
        return page("phones.html", self._page())

    async def renew(self, request: Request) -> Response:
        """A new code."""
        self._on(request).renew()
        return RedirectResponse("/phones", 303)

    async def unpair(self, request: Request) -> Response:
        """Let one phone go."""
        sharing = self._on(request)
        if not sharing.unpair((await form_of(request)).get("phone", "")):
            raise HTTPException(404, "There is no such phone among those that are paired.")
        return RedirectResponse("/phones", 303)

    async def pair(self, request: Request) -> Response:
        """The page a phone is paired on, and what it sends."""
        if self.sharing is None or who(request.scope) == LAPTOP:
            return RedirectResponse("/phones", 303)
        if request.method != "POST":
            return page("pair.html", PairPage(code=request.path_params.get("code", "")[:40]))
        typed = await form_of(request)
        code, name = typed.get("code", "")[:40], typed.get("name", "")[:80]
        secret = self.sharing.pair(code, name)
        if secret is None:
            return page("pair.html", PairPage(code="", name=name, oops=NO_CODE), 403)
        answer = RedirectResponse("/", 303)
        answer.set_cookie(COOKIE, secret, max_age=COOKIE_S, httponly=True, samesite="strict")
        return answer

    def _page(self) -> PhonesPage:
        if self.sharing is None:
            return PhonesPage()
        code = self.sharing.code
        now = self.sharing.now()
        link = pair_address(self.sharing)
        return PhonesPage(
            address=f"http://{self.sharing.address}",
            pair=link,
            code=code.grouped if code else "",
            qr=qr_svg(link) if link else "",
            phones=tuple(
                PhoneRow(ident=one.ident, name=one.name, seen=_ago(now - one.seen_at))
                for one in self.sharing.devices()
            ),
        )

    def _on(self, request: Request) -> Sharing:
        self._laptop_only(request)
        if self.sharing is None:
            raise HTTPException(404, "Sharing is off.")
        return self.sharing

    def _laptop_only(self, request: Request) -> None:
        if who(request.scope) != LAPTOP:
            raise HTTPException(403, "Phones are paired and let go on the laptop only.")


def stranger(look: bool) -> Response:
    """What a phone that is not paired gets. `look`: it only asked for a page."""
    return page("pair.html", PairPage(oops=None if look else NOT_PAIRED), 403)


def pair_address(sharing: Sharing) -> str:
    """The address that a phone opens to be paired; "" when no code counts."""
    code = sharing.code
    return f"http://{sharing.address}/pair/{code.word}" if code else ""


def qr_svg(text: str) -> str:
    """A QR code (ISO/IEC 18004, error correction M) as SVG, with its quiet zone."""
    code = segno.make_qr(text, error="m")
    return code.svg_inline(border=4, light="#ffffff", dark="#000000", omitsize=True)


def qr_lines(text: str) -> str:
    """The same for a terminal."""
    out = io.StringIO()
    segno.make_qr(text, error="m").terminal(out, border=2, compact=True)
    return out.getvalue()


def _ago(seconds: float) -> str:
    minutes = round(seconds / 60.0)
    if minutes < 1:
        return "just now"
    return f"{minutes} min ago" if minutes < 120 else f"{round(minutes / 60.0)} h ago"
