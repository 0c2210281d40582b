"""Closing a job, and the write-up of what was found, done and proven."""

from __future__ import annotations

from collections.abc import Mapping

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from backprobe.base.problems import Problem
from backprobe.shop.closing import closing, minutes_of, proposed_cause
from backprobe.shop.putting_back import putting_back
from backprobe.shop.workshop import JobCard
from backprobe.shop.write_up import minutes_spent, write_up
from backprobe.shop.write_up_text import as_text, code_words, day_of
from backprobe.web.close_contexts import ClosePage, WriteUpPage
from backprobe.web.codes import oops_of
from backprobe.web.contexts import Oops
from backprobe.web.once import ONCE
from backprobe.web.render import page
from backprobe.web.sheet import head_of
from backprobe.web.views import Views, form_of, fresh_mark, see_other


class CloseViews(Views):
    """The pages at the end of a job."""

    async def close(self, request: Request) -> Response:
        """The form that closes a job, and what it sends."""
        card = await self._card(request)
        if request.method != "POST":
            return await run_in_threadpool(self._close_form, card, None, {})
        typed = await form_of(request)
        minutes = minutes_of(typed.get("minutes", ""))
        ending = closing(
            card.job.state,
            cause=typed.get("cause", ""),
            done=typed.get("done", ""),
            parts=typed.get("parts", ""),
            left=typed.get("left", ""),
            minutes=None if isinstance(minutes, Problem) else minutes,
        )
        wrong = {
            field: oops_of(said)
            for field, said in (("minutes", minutes), ("left", ending))
            if isinstance(said, Problem)
        }
        if wrong or isinstance(ending, Problem):
            return await run_in_threadpool(self._close_form, card, typed, wrong)
        once = typed.get("once", "")
        noted = await self._note(
            request, card, {"once": once if ONCE.fullmatch(once) else ""}, (ending,)
        )
        return noted if noted.status_code != 303 else see_other(f"/job/{card.row.id}/write-up")

    def _close_form(
        self, card: JobCard, typed: Mapping[str, str] | None, wrong: Mapping[str, Oops]
    ) -> Response:
        up = write_up(card.job, card.row.complaint)
        now = typed if typed is not None else {}
        context = ClosePage(
            head=head_of(card),
            at=len(card.job.findings),
            once=fresh_mark(),
            # a cause is asked for right here
            gaps=tuple(gap for gap in up.gaps if gap != "No cause is named."),
            open=up.open,
            cause=now.get("cause", proposed_cause(up)),
            done=now.get("done", up.done),
            parts=now.get("parts", up.parts),
            left=now.get("left", up.left),
            minutes=now.get("minutes", f"{minutes_spent(card.job.findings):.0f}"),
            left_oops=wrong.get("left"),
            minutes_oops=wrong.get("minutes"),
        )
        return page("close.html", context, 422 if wrong else 200)

    async def put_back(self, request: Request) -> Response:
        """One line of the put-back list is done."""
        card, typed = await self._card(request), await form_of(request)
        again = await self._again(request, card, typed)
        if again is not None:
            return again
        state = card.job.state
        found = putting_back(state, typed.get("thing", ""))
        if found is None:
            gone = Oops(
                what="That is not on the put-back list.",
                why="Somebody may have put it back meanwhile.",
                remedy="Look at the list below.",
            )
            return await self._wrong(request, card, oops=gone)
        return await self._note(request, card, typed, (found,))

    async def write_up(self, request: Request) -> Response:
        """The write-up as a page, or as plain text for `?as=text`."""
        card = await self._card(request)
        plain = request.query_params.get("as") == "text"

        def lay_out() -> Response:
            up = write_up(card.job, card.row.complaint)
            date = day_of(card.row)
            text = as_text(card.row, date, up)
            if plain:
                return PlainTextResponse(text)
            context = WriteUpPage(
                head=head_of(card),
                date=date,
                up=up,
                codes=tuple(code_words(code) for code in up.codes),
                text=text,
            )
            return page("write_up.html", context)

        return await run_in_threadpool(lay_out)
