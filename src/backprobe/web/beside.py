"""Beside the machine: what others noted meanwhile, checks that travel with the page, entries that
were kept on a phone and come in later, each once."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf, isinf
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from backprobe.checks.layout import layout_of
from backprobe.checks.model import Check, Outcome, Priced
from backprobe.findings.model import AnyFinding, Withdrawn
from backprobe.kinds import KINDS
from backprobe.shop.answer import Answer, answered
from backprobe.shop.job import Job
from backprobe.shop.outlook import Outlook
from backprobe.shop.workshop import JobCard, StoreError
from backprobe.web import views
from backprobe.web.ahead import Ahead, ahead_of
from backprobe.web.contexts import Oops
from backprobe.web.desk import within
from backprobe.web.door import who
from backprobe.web.found import title_of
from backprobe.web.picture_views import PictureViews
from backprobe.web.views import ONCE, fields_of, form_of, see_other

MOST_NEW: Final = 6
"""Entries of others that are named; more are counted."""
MOST_AHEAD: Final = 18_000
"""Letters of checks that travel with a page, beyond those that follow on the first."""
MOST_AGO: Final = 30 * 24 * 3600.0
OVERLOAD_OHM: Final = 1e7
"""A typical reading above this is shown as OL by a multimeter. Judgement."""
TWICE: Final = Oops(
    what="That form was already sent, with another answer.",
    why="A form counts once, so that a double tap does no harm.",
    remedy="Take the first answer back below, then answer again.",
)


@dataclass(frozen=True, slots=True)
class BesideViews(PictureViews):
    """The views of one shop for phones that come and go. `noted_by`: the device of each finding
    that was noted through the page, by job and number."""

    noted_by: dict[tuple[str, int], str] = field(default_factory=dict)

    # ------------------------------------------------------------ what others noted

    async def since(self, request: Request) -> Response:
        """What was noted after the first `at` findings, by whom, when."""
        card = await self._card(request)
        at, job = _number(request.query_params.get("at", "")), card.job
        if at is None:
            raise HTTPException(400, "It was not said since when.")
        fresh = job.findings[at:]
        new = [
            {
                "words": _title(job, one),
                "who": self.noted_by.get((card.row.id, at + place), ""),
                "when": card.row.started_at + one.at_s,
            }
            for place, one in enumerate(fresh[:MOST_NEW])
        ]
        return JSONResponse({"at": len(job.findings), "new": new, "more": len(fresh) - len(new)})

    # ------------------------------------------------------------ checks that travel

    async def ahead(self, request: Request) -> Response:
        """The checks that would follow on every outcome of the `nth` check of a sheet.

        Nothing, when there is no such check, or when it would make the page too heavy.
        """
        card, query = await self._card(request), request.query_params
        at, nth = _number(query.get("at", "")), _number(query.get("nth", ""))
        outlook = await self._outlook_at(card.job, at)
        if outlook is None or at is None or nth is None or nth >= len(outlook.proposal.next):
            return Response(status_code=204)
        job, lines = _until(card.job, at), dict[str, int]()
        for priced in outlook.proposal.next[:nth]:
            follow = await self._follow(request, job, priced)
            await run_in_threadpool(ahead_of, card.row.id, job, priced, follow, lines)
        priced = outlook.proposal.next[nth]
        follow = await self._follow(request, job, priced)
        found = await run_in_threadpool(ahead_of, card.row.id, job, priced, follow, lines)
        if nth and sum(len(line) for line in lines) > MOST_AHEAD:
            return Response(status_code=204)
        return JSONResponse(_plain(found))

    async def _follow(
        self, request: Request, job: Job, priced: Priced
    ) -> list[tuple[Outcome, Sequence[Priced]]]:
        """Every outcome of a check with the checks that would follow, one at a time, so that
        others need not wait long for the engine; cut short when nobody listens any more."""
        follow: list[tuple[Outcome, Sequence[Priced]]] = []
        for outcome in priced.outcomes:
            if await request.is_disconnected():
                break
            then = supposed(job, priced.check, outcome)
            known = await self._outlook_of(then) if then else None
            follow.append((outcome, known.proposal.next if known else ()))
        return follow

    async def _check(self, job: Job, typed: Mapping[str, str]) -> Check | None:
        """The check a form answers, also one that travelled with the page."""
        first = typed.get("after", "")
        if not first:
            return await views.Views._check(self, job, typed)  # noqa: SLF001
        at, place = _number(typed.get("at", "")), _number(typed.get("outcome", ""))
        outlook = await self._outlook_at(job, at)
        if outlook is None or at is None or place is None:
            return None
        priced = next((p for p in outlook.proposal.next if p.check.id == first), None)
        if priced is None or place >= len(priced.outcomes):
            return None
        then = supposed(_until(job, at), priced.check, priced.outcomes[place])
        known = await self._outlook_of(then) if then else None
        wanted = typed.get("check", "")
        following = known.proposal.next if known else ()
        return next((p.check for p in following if p.check.id == wanted), None)

    async def _outlook_at(self, job: Job, at: int | None) -> Outlook | None:
        if at is None or at > len(job.findings):
            return None
        return await self._outlook_of(_until(job, at))

    async def _outlook_of(self, job: Job) -> Outlook | None:
        await within(self.desk.ask(job), views.LONG_PATIENCE)
        return self.desk.known(job)

    # ------------------------------------------------------------ each entry once

    async def answer(self, request: Request) -> Response:
        """The answer to a proposed check."""
        return await self._again(request) or await PictureViews.answer(self, request)

    async def failing(self, request: Request) -> Response:
        """Is it failing right now?"""
        return await self._again(request) or await PictureViews.failing(self, request)

    async def back(self, request: Request) -> Response:
        """Take findings back, or put them back."""
        return await self._again(request) or await PictureViews.back(self, request)

    async def say(self, request: Request) -> Response:
        """A finding typed in plain words."""
        return await self._again(request) or await PictureViews.say(self, request)

    async def measured(self, request: Request) -> Response:
        """Volts read at a pin of the circuit."""
        return await self._again(request) or await PictureViews.measured(self, request)

    async def _again(self, request: Request) -> Response | None:
        """What a form gets that was sent before; None for a new one.

        A form that is sent again may no longer fit: the plug it opened is open by now. So it is
        known by its mark and its fields, before anyone looks at what it says.
        """
        card, typed = await self._card(request), await form_of(request)
        once = typed.get("once", "")
        if not ONCE.fullmatch(once) or "try" in typed:
            return None
        sent = await run_in_threadpool(self.shop.sent, card.row.id, f"{once}~")
        if sent is None:
            return None
        number, mark = sent
        if mark.startswith(await _mark(request, once)):
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
        once, job = typed.get("once", ""), card.row.id
        mark = await _mark(request, once) if ONCE.fullmatch(once) else None
        ago = typed.get("ago", "")
        ago_s = min(float(ago), MOST_AGO) if re.fullmatch(r"[0-9]{1,7}", ago) else 0.0

        def keep() -> int:
            try:
                ids = self.shop.note(job, *found, client_id=mark, ago_s=ago_s)
            except StoreError as error:
                # the same form came in twice at the same moment
                sent = self.shop.sent(job, mark) if mark else None
                if error.slug != "event-id-reused" or sent is None:
                    raise
                return sent[0] - 1
            numbers = [int(one.removeprefix("f")) for one in ids]
            for number in numbers:
                self.noted_by.setdefault((job, number - 1), who(request.scope))
            return numbers[0] - 1 if numbers else len(card.job.findings)

        return see_other(f"/job/{job}?since={await run_in_threadpool(keep)}")


def supposed(job: Job, check: Check, outcome: Outcome) -> Job | None:
    """The job as it would be after an outcome; None for one that cannot be noted."""
    value = outcome.typical
    if value is not None and check.does == "ohms" and value >= OVERLOAD_OHM:
        value = inf
    try:
        found = answered(check, Answer(value=value, word=outcome.word), job.state)
    except ValueError:
        return None
    then = job.note(*found)
    return None if then.problems else then


def _until(job: Job, at: int) -> Job:
    return replace(job, findings=job.findings[:at])


def _number(text: str) -> int | None:
    return int(text) if re.fullmatch(r"[0-9]{1,6}", text) else None


def _title(job: Job, finding: AnyFinding) -> str:
    layout = layout_of(job.book, KINDS)
    if not isinstance(finding, Withdrawn):
        return title_of(layout, finding)
    target = next((one for one in job.findings if one.id == finding.finding), finding)
    return f"Taken back: {title_of(layout, target)}"


async def _mark(request: Request, once: str) -> str:
    """The mark of a form with what it says: the same form again has the same."""
    fields = sorted(
        (name, str(value))
        for name, value in (await fields_of(request)).multi_items()
        if name not in ("once", "ago")
    )
    return f"{once}~{hashlib.sha256(repr(fields).encode('utf-8', 'replace')).hexdigest()[:16]}"


def _plain(ahead: Ahead) -> dict[str, object]:
    """For JSON, which knows no infinity: an open end is null."""

    def end(value: float | None) -> float | None:
        return None if value is None or isinf(value) else value

    return {
        "check": ahead.check,
        "outcomes": [
            {
                "low": end(one.low),
                "high": end(one.high),
                "word": one.word,
                "said": one.said,
                "leaves": one.leaves,
                "next": one.next,
            }
            for one in ahead.outcomes
        ],
        "bodies": ahead.bodies,
        "first": ahead.first,
        "lines": ahead.lines,
    }
