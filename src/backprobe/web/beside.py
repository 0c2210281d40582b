"""Beside the machine: what others noted meanwhile, checks that travel with the page."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
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
from backprobe.web import views
from backprobe.web.ahead import OWN, Ahead, ahead_of
from backprobe.web.desk import within
from backprobe.web.found import title_of
from backprobe.web.picture_views import PictureViews

MOST_NEW: Final = 6
"""Entries of others that are named; more are counted."""
MOST_AHEAD: Final = 18_000
"""Bytes that travel with a page for its checks; what follows on the first check always does."""
OVERLOAD_OHM: Final = 1e7
"""A typical reading above this is shown as OL by a multimeter. Judgement."""


@dataclass(frozen=True, slots=True)
class BesideViews(PictureViews):
    """The views of one shop for phones that come and go."""

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
                "who": self.desk.noted_by.get((card.row.id, at + place), ""),
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
        job, pieces = _until(card.job, at), dict[str, int]()
        reply, weight = Response(status_code=204), 0
        for priced in outlook.proposal.next[: nth + 1]:
            follow = await self._follow(request, job, priced)
            found = await run_in_threadpool(ahead_of, card.row.id, job, priced, follow, pieces)
            reply = JSONResponse(_plain(found))
            weight += len(reply.body)
        if nth and weight > MOST_AHEAD:
            return Response(status_code=204)
        return reply

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
        "marks": OWN,
        "bodies": [{"own": one.own, "pieces": one.pieces} for one in ahead.bodies],
        "first": ahead.first,
        "pieces": ahead.pieces,
    }
