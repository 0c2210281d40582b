"""How a job went, as a page: the chances over its steps, minutes spent and left."""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from backprobe.checks.layout import layout_of
from backprobe.findings.fold import fold
from backprobe.findings.model import AnyFinding
from backprobe.kinds import KINDS
from backprobe.shop.course import Step, steps_of
from backprobe.shop.outlook import Outlook
from backprobe.shop.workshop import JobCard
from backprobe.web.check_view import figure
from backprobe.web.contexts import HeadView, Said
from backprobe.web.desk import within
from backprobe.web.plots import LETTERS, Line, line_plot, round_top
from backprobe.web.render import page, swaps
from backprobe.web.sheet import group_words, head_of
from backprobe.web.views import LONG_PATIENCE, Views

FIRST_LOOK: Final = 0.2
"""Seconds the page waits before it is sent with what is known."""
log = logging.getLogger("backprobe.web")


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseRow:
    """One step in the table. `chances` in the order of the letters; "" = not worked out."""

    number: int
    words: str
    spent: str
    left: str
    chances: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CoursePage:
    """The page. `pending`: steps still to be worked out; `failed`: some could not be; `legend`:
    letters with what they stand for; both plots as SVG, "" when there is nothing to draw."""

    head: HeadView
    pending: int
    failed: bool
    chances: Markup
    legend: tuple[Said, ...]
    minutes: Markup
    approved: bool
    rows: tuple[CourseRow, ...]


class CourseViews(Views):
    """The page about the course of a job."""

    async def course(self, request: Request) -> Response:
        """What is known of every step; one more is worked out each time it is asked for."""
        card = await self._card(request)
        steps = steps_of(layout_of(card.job.book, KINDS), card.job.findings)
        missing = [step for step in steps if self._at(card, step) is None]
        failed = False
        if missing:
            # one at a time, the latest first, so that other jobs are not kept waiting
            then = replace(card.job, findings=card.job.findings[: missing[-1].count])
            future = self.desk.ask(then)
            patient = swaps(request) or "wait" in request.query_params
            await within(future, LONG_PATIENCE if patient else FIRST_LOOK)
            failed = future.done() and future.exception() is not None
            if failed:
                log.error("the engine failed on %s", card.row.id, exc_info=future.exception())
        known = {step.count: self._at(card, step) for step in steps}
        pending = 0 if failed else sum(outlook is None for outlook in known.values())
        context = await run_in_threadpool(course_page, card, steps, known, pending, failed)
        return page("course_part.html" if swaps(request) else "course.html", context)

    def _at(self, card: JobCard, step: Step) -> Outlook | None:
        return self.desk.known(replace(card.job, findings=card.job.findings[: step.count]))


def course_page(
    card: JobCard,
    steps: Sequence[Step],
    known: Mapping[int, Outlook | None],
    pending: int,
    failed: bool,
) -> CoursePage:
    """The page of what is known."""
    outlooks = [known.get(step.count) for step in steps]
    groups = _leaders([one for one in outlooks if one is not None])
    names = group_words(card.job)
    chances = [
        {s.group: s.still for s in one.verdict.suspects} if one is not None else None
        for one in outlooks
    ]
    lines = [
        Line(
            name=names.get(group, group),
            values=tuple(None if one is None else 100.0 * one.get(group, 0.0) for one in chances),
        )
        for group in groups
    ]
    left = [None if one is None else one.proposal.half_s / 60.0 for one in outlooks]
    spent = [step.minutes for step in steps]
    approved = [_approved(card.job.findings[: step.count]) for step in steps]
    return CoursePage(
        head=head_of(card),
        pending=pending,
        failed=failed,
        chances=_chances_plot(lines) if lines else Markup(),
        legend=tuple(
            Said(name=letter, words=line.name) for letter, line in zip(LETTERS, lines, strict=False)
        ),
        minutes=_minutes_plot(spent, left, approved) if steps else Markup(),
        approved=any(one is not None for one in approved),
        rows=tuple(
            CourseRow(
                number=number,
                words=step.words,
                spent=f"{step.minutes:.0f}",
                left="" if left[number] is None else f"{left[number]:.0f}",
                chances=tuple(
                    "" if (one := chances[number]) is None else figure(one.get(group, 0.0))
                    for group in groups
                ),
            )
            for number, step in enumerate(steps)
        ),
    )


def _approved(findings: Sequence[AnyFinding]) -> float | None:
    """Minutes that were approved by then."""
    seconds = fold(findings).approved_s
    return None if seconds is None else seconds / 60.0


def _leaders(outlooks: Sequence[Outlook]) -> tuple[str, ...]:
    """The groups that led last, then those that ever led, likeliest ever first; four at most."""
    best: dict[str, float] = {}
    for outlook in outlooks:
        for suspect in outlook.verdict.suspects[:3]:
            best[suspect.group] = max(best.get(suspect.group, 0.0), suspect.still)
    last = [s.group for s in outlooks[-1].verdict.suspects[:2]] if outlooks else []
    others = sorted(best, key=lambda group: -best[group])
    return tuple(dict.fromkeys([*last, *others]))[: len(LETTERS)]


def _chances_plot(lines: Sequence[Line]) -> Markup:
    last = [f"{line.name} {line.values[-1]:.0f} %" for line in lines if line.values[-1] is not None]
    # made here from figures and escaped words alone
    return Markup(  # noqa: S704
        line_plot(
            lines,
            top=100.0,
            ticks=((0.0, "0"), (50.0, "50"), (100.0, "100 %")),
            key="chances",
            title="Chances over the job",
            describe=f"Last: {'; '.join(last)}. The table below has every step.",
        )
    )


def _minutes_plot(
    spent: Sequence[float], left: Sequence[float | None], approved: Sequence[float | None]
) -> Markup:
    known = [one for one in (*spent, *left, *approved) if one is not None]
    most = round_top(max(known, default=0.0))
    lines = (
        Line(name="spent", values=tuple(spent)),
        Line(name="still to go, half of such jobs", values=tuple(left)),
        Line(name="approved", values=tuple(approved)),
    )
    return Markup(  # noqa: S704
        line_plot(
            lines,
            top=most,
            ticks=((0.0, "0"), (most / 2, f"{most / 2:g}"), (most, f"{most:g}")),
            key="minutes",
            title="Minutes spent and still to go",
            describe=f"Spent {spent[-1]:.0f} min. The table below has every step.",
        )
    )
