"""What every address does. Views fetch, ask and hand over; pages are laid out elsewhere."""

from __future__ import annotations

import logging
import re
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal, cast, get_args
from urllib.parse import quote, urlencode

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from backprobe.base.problems import Problem
from backprobe.checks.model import Check
from backprobe.findings.model import AnyFinding, Approved, Bet, Condition, Failing, Withdrawn
from backprobe.shop.answer import Answer, answered
from backprobe.shop.job import Job
from backprobe.shop.say import hear
from backprobe.shop.workshop import JobCard, Shop, StoreError
from backprobe.suspects.model import Verdict
from backprobe.web import sheet
from backprobe.web.answers import Typed, heard
from backprobe.web.codes import oops_of
from backprobe.web.contexts import ApprovedView, Oops
from backprobe.web.desk import Desk, within
from backprobe.web.door import who
from backprobe.web.once import ANOTHER, TWICE, ago_of, began_of, beginning, mark_of, once_of
from backprobe.web.render import page, swaps
from backprobe.web.what_if import Trial, doubted

PATIENCE: Final = 0.5
"""Seconds a page waits for the engine before it is sent without its answer."""
LONG_PATIENCE: Final = 25.0
"""Seconds a page waits that was asked for in the background."""
MOST_FIELDS: Final = 60
MOST_LATER: Final = 8
"""Checks that may be put behind the others at once."""
MINUTES: Final = re.compile(r"(\d{1,4})(?:\s*min(?:utes)?)?", re.IGNORECASE)
Said = Literal["yes", "gone", "only when"]
log = logging.getLogger("backprobe.web")


@dataclass(frozen=True, slots=True)
class Views:
    """The views of one shop."""

    shop: Shop
    desk: Desk

    # -------------------------------------------------------------- the sheet of a job

    async def job(self, request: Request) -> Response:
        """A job's sheet, or a page that says the engine is at work and fetches it."""
        card = await self._card(request)
        asked = request.query_params
        # in the page the suspects come first, the plan when it is there
        first = swaps(request) and ("wait" not in asked or "first" in asked)
        if first:
            await within(self.desk.weigh(card.job), LONG_PATIENCE)
        patient = not first and (swaps(request) or "wait" in asked)
        return await self._sheet(request, card, LONG_PATIENCE if patient else PATIENCE)

    async def to_job(self, request: Request) -> Response:
        """An address that takes forms, asked for without one: to the sheet."""
        return see_other(f"/job/{quote(request.path_params['job'])}")

    async def answer(self, request: Request) -> Response:
        """The answer to a proposed check."""
        card, typed = await self._card(request), await form_of(request)
        again = await self._again(request, card, typed)
        if again is not None:
            return again
        check = await self._check(card.job, typed)
        if check is None:
            return await self._wrong(
                request,
                card,
                oops=Oops(
                    what="That check is not on this sheet any more.",
                    why="The findings changed since the page was made.",
                    remedy="Look at the new proposal, or enter the finding in the line below.",
                ),
            )
        form = Typed(
            value=typed.get("value", ""),
            to=typed.get("to", ""),
            unit=typed.get("unit", ""),
            word=typed.get("word", "") or typed.get("try", ""),
            minus="minus" in typed,
            doubt="doubt" in typed,
            ticked=tuple(str(one) for one in (await fields_of(request)).getlist("code")),
            codes=typed.get("codes", ""),
        )
        said = heard(check, form, card.job.book)
        if isinstance(said, Oops):
            return await self._wrong(request, card, check=check.id, typed=form, oops=said)
        given = Answer(value=said.value, to=said.to, word=said.word, codes=said.codes)
        try:
            found = answered(check, given, card.job.state)
        except ValueError as error:
            unfit = Oops(what=f"{error}.", remedy="Press one of the buttons.")
            return await self._wrong(request, card, check=check.id, typed=form, oops=unfit)
        if form.doubt:
            found = doubted(found)
        if "try" in typed:
            return await self._tried(request, card, check, form, found)
        return await self._note(request, card, typed, found)

    async def _tried(
        self,
        request: Request,
        card: JobCard,
        check: Check,
        form: Typed,
        found: tuple[AnyFinding, ...],
    ) -> Response:
        """The sheet with what an answer would change; nothing is noted."""
        then = card.job.note(*found)
        future = self.desk.ask(then)
        await within(future, LONG_PATIENCE)
        outlook = self.desk.known(then)
        if outlook is None or then.problems:
            busy = Oops(
                what="What it would change could not be worked out yet.",
                why="Nothing was noted.",
                remedy="Press again in a moment, or note the answer.",
            )
            return await self._wrong(request, card, check=check.id, typed=form, oops=busy)
        trial = Trial(check=check, typed=form, found=found, outlook=outlook)
        return await self._sheet(request, card, LONG_PATIENCE, trial=trial)

    async def failing(self, request: Request) -> Response:
        """Is it failing right now? A change opens a visit of its own."""
        card, typed = await self._card(request), await form_of(request)
        again = await self._again(request, card, typed)
        if again is not None:
            return again
        state = card.job.state
        answer, condition = typed.get("answer", ""), typed.get("condition", "")
        known = [choice.value for choice in sheet.CONDITIONS]
        if answer not in get_args(Said) or condition not in ("", *known):
            nothing = Oops(what="No answer was chosen.", remedy="Press one of the buttons.")
            return await self._wrong(request, card, oops=nothing)
        changed = {answer, state.failing} == {"yes", "gone"}
        found = Failing(
            visit=state.visit + 1 if changed else state.visit,
            situation=state.now.bare(),
            answer=cast("Said", answer),
            condition=cast("Condition", condition),
        )
        return await self._note(request, card, typed, (found,))

    async def bet(self, request: Request) -> Response:
        """The technician's own bet on a suspect."""
        card, typed = await self._card(request), await form_of(request)
        again = await self._again(request, card, typed)
        if again is not None:
            return again
        group = typed.get("group", "")
        if group not in sheet.group_words(card.job):
            none = Oops(what="There is no such suspect in this book.", remedy="Press one below.")
            return await self._wrong(request, card, oops=none)
        state = card.job.state
        found = Bet(visit=state.visit, situation=state.now.bare(), target=group)
        return await self._note(request, card, typed, (found,))

    async def approve(self, request: Request) -> Response:
        """What the customer approved, in minutes for the whole job."""
        card, typed = await self._card(request), await form_of(request)
        again = await self._again(request, card, typed)
        if again is not None:
            return again
        said = typed.get("value", "")
        minutes = MINUTES.fullmatch(said.strip())
        if minutes is None:
            unfit = Oops(
                what=f"“{said[:40]}” is no number of minutes."
                if said.strip()
                else "The minutes are missing.",
                remedy="Type the minutes for the whole job, for instance 90.",
            )
            view = ApprovedView(typed=said, oops=unfit)
            return await self._wrong(request, card, approved=view)
        state = card.job.state
        found = Approved(
            visit=state.visit, situation=state.now.bare(), seconds=60.0 * float(minutes[1])
        )
        return await self._note(request, card, typed, (found,))

    async def back(self, request: Request) -> Response:
        """Take findings back, or put them back by withdrawing their withdrawal."""
        card, typed = await self._card(request), await form_of(request)
        again = await self._again(request, card, typed)
        if again is not None:
            return again
        targets = (await fields_of(request)).getlist("finding")
        known = {finding.id for finding in card.job.findings}
        if not targets or not known.issuperset(targets):
            none = Oops(what="There is no such finding on this job.", remedy="Look below.")
            return await self._wrong(request, card, oops=none)
        state = card.job.state
        found = tuple(
            Withdrawn(visit=state.visit, situation=state.now.bare(), finding=str(target))
            for target in dict.fromkeys(targets)
        )
        return await self._note(request, card, typed, found)

    async def say(self, request: Request) -> Response:
        """A finding typed in plain words."""
        card, typed = await self._card(request), await form_of(request)
        again = await self._again(request, card, typed)
        if again is not None:
            return again
        text = typed.get("text", "")
        found = hear(text, card.job.book, state=card.job.state)
        problems = tuple(oops_of(one) for one in found if isinstance(one, Problem))
        if problems:
            return await self._wrong(request, card, line=text, line_oops=problems)
        fresh = tuple(one for one in found if not isinstance(one, Problem))
        return await self._note(request, card, typed, fresh)

    # -------------------------------------------------------------- helpers

    async def _card(self, request: Request) -> JobCard:
        ident = request.path_params["job"]

        try:
            card = await run_in_threadpool(self.shop.card, ident)
        except StoreError as error:
            if error.slug != "job-unknown":
                raise
            card = None
        if card is None or card.row.id != ident:
            raise HTTPException(404, f"There is no job “{ident[:40]}” in this shop.")
        return card

    async def _check(self, job: Job, typed: Mapping[str, str]) -> Check | None:
        """The check a form answers: from the sheet the form was printed on."""
        at = typed.get("at", "")
        if not re.fullmatch(r"\d{1,6}", at) or int(at) > len(job.findings):
            return None
        then = replace(job, findings=job.findings[: int(at)])
        future = self.desk.ask(then)
        await within(future, LONG_PATIENCE)
        outlook = self.desk.known(then)
        if outlook is None:
            return None
        wanted = typed.get("check", "")
        return next((p.check for p in outlook.proposal.next if p.check.id == wanted), None)

    async def _again(
        self, request: Request, card: JobCard, typed: Mapping[str, str]
    ) -> Response | None:
        """What a form gets that was sent before; None for a new one.

        A form that is sent again may no longer fit: the plug it opened is open by now. So it is
        known by its mark and its fields, before anyone looks at what it says.
        """
        if typed.get("began", "") not in ("", began_of(card.row)):
            return await self._wrong(request, card, oops=ANOTHER)
        once = once_of(typed)
        if not once or "try" in typed:
            return None
        sent = await run_in_threadpool(self.shop.sent, card.row.id, beginning(once))
        if sent is None:
            return None
        number, mark = sent
        if mark.startswith(mark_of(once, await fields_of(request))):
            return see_other(f"/job/{card.row.id}?since={number - 1}")
        return await self._wrong(request, card, oops=TWICE)

    async def _note(
        self,
        request: Request,
        card: JobCard,
        typed: Mapping[str, str],
        found: Sequence[AnyFinding],
    ) -> Response:
        """Keep findings and show what they changed. A form sent twice counts once."""
        again = await self._again(request, card, typed)
        if again is not None:
            return again
        once, job = once_of(typed), card.row.id
        mark = mark_of(once, await fields_of(request)) if once else None

        def keep() -> int | None:
            with self.desk.noting:
                sent = self.shop.sent(job, beginning(once)) if mark else None
                if mark and sent is not None:
                    return sent[0] - 1 if sent[1].startswith(mark) else None
                ids = self.shop.note(job, *found, client_id=mark, ago_s=ago_of(typed))
            numbers = [int(one.removeprefix("f")) for one in ids]
            for number in numbers:
                self.desk.noted_by.setdefault((job, number - 1), who(request.scope))
            return numbers[0] - 1 if numbers else len(card.job.findings)

        since = await run_in_threadpool(keep)
        if since is None:
            return await self._wrong(request, card, oops=TWICE)
        return see_other(f"/job/{job}?since={since}")

    async def _wrong(
        self,
        request: Request,
        card: JobCard,
        *,
        check: str = "",
        typed: Typed | None = None,
        oops: Oops | None = None,
        line: str = "",
        line_oops: tuple[Oops, ...] = (),
        photo: Oops | None = None,
        approved: ApprovedView | None = None,
    ) -> Response:
        """The sheet again, with what was typed and what is wrong with it."""
        wrong = sheet.Wrong(
            check=check,
            typed=typed,
            oops=oops,
            line=line,
            line_oops=line_oops,
            photo=photo,
            approved=approved,
        )
        return await self._sheet(request, card, LONG_PATIENCE, wrong)

    async def _sheet(
        self,
        request: Request,
        card: JobCard,
        patience: float,
        wrong: sheet.Wrong | None = None,
        trial: Trial | None = None,
    ) -> Response:
        future = self.desk.ask(card.job)
        await within(future, patience)
        outlook = self.desk.known(card.job)
        failed = ""
        if outlook is None and future.done() and future.exception() is not None:
            error = future.exception()
            log.error("the engine failed on %s", card.row.id, exc_info=error)
            failed = f"{type(error).__name__}: {error}"[:300]
        since = request.query_params.get("since", "")
        later = [one[:200] for one in request.query_params.getlist("later")][-MOST_LATER:]
        query = [("since", since), ("wait", "1"), *(("later", one) for one in later)]

        def lay_out() -> Response:
            serial = card.row.serial.strip().casefold()
            before = sum(
                row.serial.strip().casefold() == serial and row.id != card.row.id
                for row in (self.shop.jobs() if serial else ())
            )
            context = sheet.job_page(
                card,
                outlook,
                outlook.verdict if outlook else self.desk.weighed(card.job),
                once=fresh_mark(),
                again=_address(card.row.id, query),
                failed=failed,
                earlier=self._earlier(card.job, since),
                wrong=wrong,
                trial=trial,
                later=later,
                before=before,
            )
            status = 500 if failed else 422 if wrong else 200
            answer = page("sheet.html" if swaps(request) else "job.html", context, status)
            if status != 200 or trial:
                # the address stays that of the sheet, so that a reload does not send again
                answer.headers["hx-replace-url"] = "false"
            return answer

        return await run_in_threadpool(lay_out)

    def _earlier(self, job: Job, since: str) -> tuple[int, Verdict] | None:
        """What was thought before the last answer, when that is still known."""
        if not re.fullmatch(r"\d{1,6}", since) or int(since) >= len(job.findings):
            return None
        verdict = self.desk.weighed(replace(job, findings=job.findings[: int(since)]))
        return (int(since), verdict) if verdict else None


async def form_of(request: Request) -> dict[str, str]:
    """The fields of a form, the last of each name; files are not read."""
    return texts_of(await fields_of(request))


def texts_of(form: FormData) -> dict[str, str]:
    """The typed fields of a form, the last of each name."""
    return {
        name: value.replace("\x00", "") for name, value in form.items() if isinstance(value, str)
    }


async def fields_of(request: Request) -> FormData:
    """All fields of a form; files are not read."""
    return await request.form(max_files=0, max_fields=MOST_FIELDS)


def _address(job: str, query: Sequence[tuple[str, str]]) -> str:
    return f"/job/{quote(job)}?{urlencode([(k, v) for k, v in query if v])}"


def fresh_mark() -> str:
    """A mark for the forms of a page, so that one sent twice counts once."""
    return secrets.token_urlsafe(9)


def see_other(address: str) -> Response:
    """To another page, asked for afresh."""
    return RedirectResponse(address, 303)
