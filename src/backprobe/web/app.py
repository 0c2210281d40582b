"""The job sheet as a web application: `make_app(shop)`."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator, Awaitable, Callable, Iterable, Mapping
from contextlib import asynccontextmanager
from http import HTTPStatus
from pathlib import Path
from typing import Any, cast

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.routing import Mount, Route

from backprobe.shop.workshop import Shop, StoreError
from backprobe.web.assets import Assets
from backprobe.web.close_views import CloseViews
from backprobe.web.course_views import CourseViews
from backprobe.web.desk import Desk
from backprobe.web.door import Door
from backprobe.web.front_views import FrontViews
from backprobe.web.gate import LOOPBACK, NEW_BOOK, Gate
from backprobe.web.new_book_views import NewBookViews
from backprobe.web.pairing import Pairing, stranger
from backprobe.web.photo_views import PhotoViews
from backprobe.web.printing import PrintViews
from backprobe.web.render import refusal
from backprobe.web.sharing import Sharing
from backprobe.web.start_views import StartViews
from backprobe.web.sun import Sun, sun

STATIC = Path(__file__).parent / "static"
Handler = Callable[[Request, Exception], Awaitable[Response]]
log = logging.getLogger("backprobe.web")


def make_app(
    shop: Shop, *, hosts: Iterable[str] = LOOPBACK, sharing: Sharing | None = None
) -> Starlette:
    """The application of a shop, for any ASGI server.

    `hosts`: the names it may be called by, without port; this computer's own unless told.
    `sharing`: what comes in by another address than the loopback must be paired with it.
    The shop stays the caller's to close.
    """
    desk = Desk()
    pairing = Pairing(sharing)
    names = (*hosts, sharing.host) if sharing else tuple(hosts)
    views = PrintViews(shop, desk)
    front = FrontViews(shop)
    start = StartViews(shop, desk)
    ending = CloseViews(shop, desk)
    photos = PhotoViews(shop, desk)
    course = CourseViews(shop, desk)

    @asynccontextmanager
    async def life(_: Starlette) -> AsyncIterator[None]:
        yield
        desk.close()

    handlers: Mapping[Any, Handler] = {
        HTTPException: _refused,
        StoreError: _store,
        ClientDisconnect: _gone,
        Exception: _bug,
    }
    return Starlette(
        routes=[
            Route("/", front.jobs),
            Route("/machines", front.machines),
            Route("/books", front.books),
            Route(NEW_BOOK, NewBookViews(shop).add, methods=["GET", "POST"]),
            Route("/guide", front.guide),
            Route("/demo/{name}", start.demo, methods=["POST"]),
            Route("/start/{book}", start.start, methods=["GET", "POST"]),
            Route("/start/{book}/ask", start.ask, methods=["POST"]),
            Route("/book/{book}/circuit", views.book_circuit),
            Route("/book/{book}", front.book),
            Route("/job/{job}", views.job),
            Route("/job/{job}/close", ending.close, methods=["GET", "POST"]),
            Route("/job/{job}/put-back", ending.put_back, methods=["POST"]),
            Route("/job/{job}/write-up", ending.write_up),
            Route("/job/{job}/course", course.course),
            Route("/job/{job}/photo", photos.take, methods=["POST"]),
            Route("/job/{job}/photo/{digest}", photos.photo),
            Route("/job/{job}/circuit", views.circuit),
            Route("/job/{job}/around", views.around),
            Route("/job/{job}/loom", views.loom),
            Route("/job/{job}/print", views.paper),
            Route("/job/{job}/since", views.since),
            Route("/job/{job}/ahead", views.ahead),
            Route("/job/{job}/measured", views.measured, methods=["POST"]),
            Route("/job/{job}/answer", views.answer, methods=["POST"]),
            Route("/job/{job}/failing", views.failing, methods=["POST"]),
            Route("/job/{job}/bet", views.bet, methods=["POST"]),
            Route("/job/{job}/approved", views.approve, methods=["POST"]),
            Route("/job/{job}/back", views.back, methods=["POST"]),
            Route("/job/{job}/say", views.say, methods=["POST"]),
            Route("/job/{job}/{form:path}", views.to_job),
            Route("/sun", sun, methods=["POST"]),
            Route("/phones", pairing.phones),
            Route("/phones/code", pairing.renew, methods=["POST"]),
            Route("/phones/unpair", pairing.unpair, methods=["POST"]),
            Route("/pair", pairing.pair, methods=["GET", "POST"]),
            Route("/pair/{code}", pairing.pair),
            Mount("/static", Assets(STATIC), name="static"),
        ],
        middleware=[
            Middleware(Gate, hosts=names, refuse=refusal),
            Middleware(Door, sharing=sharing, stranger=stranger),
            Middleware(Sun),
        ],
        exception_handlers=cast("Mapping[Any, Any]", handlers),
        lifespan=life,
    )


async def _refused(_: Request, error: Exception) -> Response:
    """Not found, too much, not allowed: as a page."""
    status = error.status_code if isinstance(error, HTTPException) else 400
    said = error.detail if isinstance(error, HTTPException) else ""
    standard = HTTPStatus(status).phrase
    what = said if said and said != standard else f"This is not possible ({standard.lower()})."
    return refusal(status, what, "Nothing was changed. Go to the list of jobs and try from there.")


async def _store(_: Request, error: Exception) -> Response:
    """The file of the shop does not play along."""
    told = cast("StoreError", error)
    log.error("%s", told)
    return refusal(503, f"{told.what}: {told.why}.", f"Do this: {told.remedy}.")


async def _gone(_: Request, _error: Exception) -> Response:
    """The phone walked out of reach while it sent something; nobody is there to be told."""
    return Response(status_code=400)


async def _bug(_: Request, error: Exception) -> Response:
    """A defect of Backprobe; the server logs the traceback."""
    return refusal(
        500,
        f"A fault in Backprobe itself: {type(error).__name__}.",
        "What was noted before is safe. The window Backprobe was started in shows where it broke.",
    )
