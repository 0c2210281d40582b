"""One A4 page of a job, to be taken along: the circuit, what to check next, room for readings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
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
from backprobe.web.pictures.circuit import Strips
from backprobe.web.pictures.nearby import Marks, nearby
from backprobe.web.pictures.strip import Strip, strip_of
from backprobe.web.pictures.wiring import Wiring
from backprobe.web.render import page
from backprobe.web.sheet import group_words

COLUMN: Final = 64
"""Letters in a line of the column of checks."""
ROOM: Final = 58
"""Lines of checks that fit beside the circuit."""
PLUG_LINE: Final = 20.0
"""Of a plug's picture, px, in the height of a line: it is printed at 0.72 of its size."""
SUSPECTS: Final = 5
WIDE: Final = 455.0
HIGH: Final = 790.0
"""Largest circuit, px: its letters of 13 px come out at 6.5 points or more on the paper."""
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
    blank_rows: tuple[int, ...] = field(default=(1, 2, 3))


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
        check_view(layout, words, one, likely={}, seen=(), key=f"check{number}")
        for number, one in enumerate(outlook.proposal.next)
    ]
    checks = _fitting(views)
    said = dict.fromkeys(caution for check in checks for caution in check.cautions)
    circuit = circuit_page(
        card,
        outlook,
        look_of({}, (), job, outlook.state, outlook.proposal.next),
        once="",
        draw=paper_strips,
    )
    return replace(
        _head(card),
        picture=circuit.phone,
        situation=f"{circuit.situation}, volts {circuit.told}",
        checks=checks,
        cautions=tuple(said),
        closing_caution=next((c.closing_caution for c in checks if c.closing_caution), ""),
        suspects=tuple(
            Share(words=one.words, figure=per_cent(one.chance), width=0)
            for one in outlook.verdict.suspects[:SUSPECTS]
        ),
        put_back=outlook.state.put_back,
        found=len(outlook.state.findings),
    )


def paper_strips(wiring: Wiring, marks: Marks, probes: Iterable[str]) -> Strips:
    """As much of the suspects' neighbourhood as can be read on the paper."""
    wanted = tuple(probes)

    def strip(most: int) -> Strip:
        links = nearby(wiring, marks, probes=wanted, most_parts=MOST_PARTS, most_links=most)
        return strip_of(wiring, links, marks, narrow=True)

    drawn = strip(1)
    for most in range(MOST_LINKS, 1, -1):
        larger = strip(most)
        if larger.width <= WIDE and larger.height <= HIGH:
            drawn = larger
            break
    return Strips(desk=drawn, phone=drawn)


def _head(card: JobCard) -> PrintPage:
    row = card.row
    facts = [f"serial {row.serial}"] if row.serial else []
    if row.hours is not None:
        facts.append(f"{row.hours:g} h")
    return PrintPage(
        ident=row.id, machine=row.machine, facts=", ".join(facts), complaint=row.complaint
    )


def _fitting(views: Sequence[CheckView]) -> tuple[CheckView, ...]:
    """The first check and those after it that still fit."""
    kept: list[CheckView] = []
    used = 0
    for view in views:
        used += _lines(view)
        if kept and used > ROOM:
            break
        kept.append(view)
    return tuple(kept)


def _lines(view: CheckView) -> int:
    """About how many lines a check takes."""
    texts = [
        view.title,
        *view.steps,
        *(one.words for one in view.leads),
        *(one.words for one in view.facts),
        *(f"{o.said} {' '.join(left.words for left in o.leaves)}" for o in view.outcomes),
    ]
    plugs = sum(1 + max(3, round(one.high / PLUG_LINE)) for one in view.plugs.plugs)
    return 4 + plugs + sum(1 + len(text) // COLUMN for text in texts)
