"""The addresses of the two pictures, and of a reading entered at a pin of the circuit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from backprobe.checks.layout import layout_of
from backprobe.kinds import KINDS
from backprobe.shop.answer import Answer, answered
from backprobe.shop.job import Job
from backprobe.shop.outlook import Outlook
from backprobe.shop.workshop import JobCard
from backprobe.web import views
from backprobe.web.answers import Typed, heard
from backprobe.web.book_circuit import book_circuit_page
from backprobe.web.circuit_view import (
    CircuitPage,
    barred,
    circuit_page,
    look_of,
    volts_check,
)
from backprobe.web.contexts import Oops
from backprobe.web.desk import within
from backprobe.web.loom_view import LoomPage, loom_page
from backprobe.web.once import began_of
from backprobe.web.pictures.circuit import around_first
from backprobe.web.render import page, swaps
from backprobe.web.views import Views


@dataclass(frozen=True, slots=True)
class PictureViews(Views):
    """The pictures of the jobs of one shop."""

    async def circuit(self, request: Request) -> Response:
        """The circuit around the suspects."""
        card = await self._card(request)
        outlook = await self._outlook(card, patient=swaps(request))
        if outlook is None:
            return page("circuit.html", _waiting(request, card))
        query = request.query_params
        on = query.getlist("on")
        look = look_of(query, on, card.job, outlook.state, outlook.proposal.next)
        return await self._shown(
            request, lambda: circuit_page(card, outlook, look, once=views.fresh_mark())
        )

    async def around(self, request: Request) -> Response:
        """The circuit around the leading suspect, as a part of the sheet."""
        card = await self._card(request)
        outlook = await self._outlook(card)
        if outlook is None:
            return page("around_part.html", _waiting(request, card))
        look = look_of({}, (), card.job, outlook.state, outlook.proposal.next)
        return await run_in_threadpool(
            lambda: page(
                "around_part.html", circuit_page(card, outlook, look, once="", draw=around_first)
            )
        )

    async def loom(self, request: Request) -> Response:
        """The loom with the chance along it."""
        card = await self._card(request)
        row = card.row
        if await self._outlook(card, patient=False) is None:
            again = _again(request)
            waiting = LoomPage(ident=row.id, machine=row.machine, again=again, working=True)
            return page("loom.html", waiting)
        return await run_in_threadpool(lambda: page("loom.html", loom_page(card)))

    async def book_circuit(self, request: Request) -> Response:
        """Any circuit of a wiring book, healthy."""
        name, query = request.path_params["book"], request.query_params

        def draw() -> Response:
            known = self.shop.books()
            if name not in known:
                raise HTTPException(404, f"There is no wiring book “{name[:60]}” in this shop.")
            job = Job(circuit=self.shop.healthy(known[name]))
            shown = book_circuit_page(name, job, query, query.getlist("on"))
            return page("book_circuit_part.html" if swaps(request) else "book_circuit.html", shown)

        return await run_in_threadpool(draw)

    async def measured(self, request: Request) -> Response:
        """Volts read at a pin of the circuit."""
        card, typed = await self._card(request), await views.form_of(request)
        again = await self._again(request, card, typed)
        if again is not None:
            return again
        on = [str(one) for one in (await views.fields_of(request)).getlist("on")]
        job, state = card.job, card.job.state
        look = look_of(typed, on, job, state)
        layout = layout_of(job.book, KINDS)
        check = volts_check(layout, state, look)
        form = Typed(
            value=typed.get("value", ""),
            to=typed.get("to", ""),
            unit=typed.get("unit", ""),
            minus="minus" in typed,
        )
        no = barred(layout, look, state)
        if check is None:
            oops = Oops(what="There is no such place in this book.", remedy="Press a pin.")
        elif no:
            oops = Oops(what=no, remedy="Choose another key and load, or another pin.")
        else:
            said = heard(check, form, job.book)
            if not isinstance(said, Oops):
                given = Answer(value=said.value, to=said.to)
                return await self._note(request, card, typed, answered(check, given, state))
            oops = said
        outlook = await self._outlook(card)
        if outlook is None or check is None:
            return await self._wrong(request, card, oops=oops)
        return await self._shown(
            request,
            lambda: circuit_page(
                card, outlook, look, once=views.fresh_mark(), typed=form, oops=oops
            ),
            422,
        )

    async def _outlook(self, card: JobCard, *, patient: bool = True) -> Outlook | None:
        """What is thought of a job, once the engine has said it; whoever is not `patient` has a page
        that says so and asks again."""
        future = self.desk.ask(card.job)
        await within(future, views.LONG_PATIENCE if patient else views.PATIENCE)
        return self.desk.known(card.job)

    async def _shown(
        self, request: Request, make: Callable[[], CircuitPage], status: int = 200
    ) -> Response:
        template = "circuit_part.html" if swaps(request) else "circuit.html"
        return await run_in_threadpool(lambda: page(template, make(), status))


def _again(request: Request) -> str:
    """The same page once more, with all that was chosen."""
    query = request.url.query
    return f"{request.url.path}?{query}" if query else request.url.path


def _waiting(request: Request, card: JobCard) -> CircuitPage:
    """The page while the engine is still at its first look."""
    row = card.row
    return CircuitPage(
        ident=row.id,
        began=began_of(row),
        machine=row.machine,
        once="",
        again=_again(request),
        working=True,
    )
