"""One A4 page of a job, to be taken along: the circuit, what to check next, room for readings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from backprobe.checks.layout import layout_of
from backprobe.kinds import KINDS
from backprobe.shop.outlook import Outlook
from backprobe.shop.workshop import JobCard
from backprobe.web.beside import BesideViews
from backprobe.web.check_view import check_view, per_cent
from backprobe.web.circuit_view import circuit_page, look_of
from backprobe.web.contexts import CheckView, Said, Share
from backprobe.web.paper_room import (
    FOOT,
    LEFT,
    PAGE,
    ROW,
    TABLE,
    cautions_high,
    check_high,
    head_high,
    list_high,
)
from backprobe.web.pictures.circuit import Strips
from backprobe.web.pictures.fold import folded
from backprobe.web.pictures.nearby import Marks, nearby
from backprobe.web.pictures.strip import Strip, phone_strip_of
from backprobe.web.pictures.wiring import Wiring
from backprobe.web.render import page
from backprobe.web.sheet import group_words

SUSPECTS: Final = 5
ROWS: Final = 3
MOST_ROWS: Final = 9
"""Blank rows for other readings: that many are kept free, so many are drawn where there is room."""
WIDE: Final = 455.0
HIGH: Final = 790.0
LEAST_HIGH: Final = 400.0
"""Largest circuit, px: its letters of 13 px come out at 6.5 points or more on the paper. It is lower
where the cautions need the room, but not lower than that."""
SCALE: Final = LEFT / WIDE
OVER_CIRCUIT: Final = 45.0
"""Its heading, in the circuit's own px."""
COMPLAINT: Final = 260
BLANK_LINES: Final = 2
MOST_PARTS: Final = 14
MOST_LINKS: Final = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintPage:
    """The page. `picture` is SVG, "" when the engine has not said yet what it could be; `cautions`
    of all checks, each once."""

    ident: str
    machine: str
    facts: str
    complaint: str
    picture: str = ""
    situation: str = ""
    checks: tuple[CheckView, ...] = ()
    cautions: tuple[Said, ...] = ()
    closing_caution: str = ""
    suspects: tuple[Share, ...] = ()
    put_back: tuple[str, ...] = ()
    found: int = 0
    blank_rows: Sequence[int] = range(ROWS)


@dataclass(frozen=True, slots=True)
class PrintViews(BesideViews):
    """The views of one shop, with the page for paper."""

    async def paper(self, request: Request) -> Response:
        """One A4 page of a job."""
        card = await self._card(request)
        outlook = await self._outlook(card)
        if outlook is None:
            return page("paper.html", _head(card))
        return await run_in_threadpool(lambda: page("paper.html", print_page(card, outlook)))


def print_page(card: JobCard, outlook: Outlook) -> PrintPage:
    """The page for paper: as many of the next checks as there is room for, at least one."""
    job = card.job
    layout = layout_of(job.book, KINDS)
    words = group_words(job)
    views = [
        check_view(
            layout,
            words,
            one,
            likely={},
            seen=(),
            key=f"check{number}",
            findings=outlook.state.findings,
        )
        for number, one in enumerate(outlook.proposal.next)
    ]
    suspects = tuple(
        Share(words=one.words, figure=per_cent(one.chance), width=0)
        for one in outlook.verdict.suspects[:SUSPECTS]
    )
    free = PAGE - head_high(card.row.complaint[:COMPLAINT]) - FOOT
    beside = list_high([f"{one.figure} {one.words}" for one in suspects])
    beside += list_high(outlook.state.put_back, BLANK_LINES)
    checks = _fitting(views, free, free - beside - SCALE * LEAST_HIGH)
    said, closing = _cautions(checks)
    beside += cautions_high(said, closing)
    left = free - TABLE - sum(check_high(check) for check in checks)
    circuit = circuit_page(
        card,
        outlook,
        look_of({}, (), job, outlook.state, outlook.proposal.next),
        once="",
        draw=partial(paper_strips, high=min(HIGH, (free - beside) / SCALE - OVER_CIRCUIT)),
    )
    return replace(
        _head(card),
        picture=circuit.phone,
        situation=f"{circuit.situation}, volts {circuit.told}",
        checks=checks,
        cautions=said,
        closing_caution=closing,
        suspects=suspects,
        put_back=outlook.state.put_back,
        found=len(outlook.state.findings),
        blank_rows=range(max(ROWS, min(MOST_ROWS, int(left / ROW)))),
    )


def paper_strips(
    wiring: Wiring, marks: Marks, probes: Iterable[str], *, high: float = HIGH
) -> Strips:
    """As much of the suspects' neighbourhood as can be read on the paper, `high` px at most."""
    wanted = tuple(probes)

    def strip(most: int) -> Strip:
        links = nearby(wiring, marks, probes=wanted, most_parts=MOST_PARTS, most_links=most)
        return folded(phone_strip_of(wiring, links, marks, WIDE), wide=WIDE, high=high)

    drawn = strip(1)
    for most in range(MOST_LINKS, 1, -1):
        larger = strip(most)
        if larger.width <= WIDE and larger.height <= high:
            drawn = larger
            break
    return Strips(desk=drawn, phone=drawn)


def _head(card: JobCard) -> PrintPage:
    row = card.row
    facts = [f"serial {row.serial}"] if row.serial else []
    if row.hours is not None:
        facts.append(f"{row.hours:g}\u00a0h")
    return PrintPage(
        ident=row.id,
        machine=row.machine,
        facts=", ".join(facts),
        complaint=row.complaint
        if len(row.complaint) <= COMPLAINT
        else f"{row.complaint[:COMPLAINT].rstrip()} ...",
    )


def _fitting(views: Sequence[CheckView], free: float, for_cautions: float) -> tuple[CheckView, ...]:
    """The first check and those after it that still fit, their cautions too."""
    kept: list[CheckView] = []
    used = TABLE + ROWS * ROW
    for view in views:
        used += check_high(view)
        more = cautions_high(*_cautions((*kept, view)))
        if kept and (used > free or more > for_cautions):
            break
        kept.append(view)
    return tuple(kept)


def _cautions(checks: Sequence[CheckView]) -> tuple[tuple[Said, ...], str]:
    """The cautions of all checks, each once, and what ends them."""
    said = dict.fromkeys(caution for check in checks for caution in check.cautions)
    return tuple(said), next((c.closing_caution for c in checks if c.closing_caution), "")
