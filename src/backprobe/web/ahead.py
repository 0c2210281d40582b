"""What travels with a page: for every outcome of a check, the checks that would follow, laid out.

They have most of their pieces in common (cautions, steps, the parts of a form), so pieces of HTML are
sent once and a check is a list of their numbers. What is a check's own in them (its title, what it is known
by) stands beside the list, and a mark in its place.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from markupsafe import escape

from backprobe.checks.layout import layout_of
from backprobe.checks.model import Outcome, Priced
from backprobe.kinds import KINDS
from backprobe.shop.job import Job
from backprobe.web.check_view import check_view
from backprobe.web.contexts import CheckView
from backprobe.web.render import templates
from backprobe.web.sheet import group_words

OWN: Final = ("\ue000", "\ue001", "\ue002")
"""Marks in lines, of the private use area, for a check's key, what it is known by, and its title."""
SCRIPTED: Final = re.compile(r' hx-[a-z0-9:-]+="[^"]*"')
NEEDS_LAPTOP: Final = ('name="try"', "Show it in the circuit", "/static/faces.css")
"""Lines that are of use in the laptop's reach only are left out."""
PIECE: Final = re.compile(r"(?:<[^>]*>\s*)+|[^<]+")
"""Tags that follow each other, or words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AheadOutcome:
    """An outcome, in the check's own unit or word; `leaves`: figures and groups; `next`: places
    of the checks that follow in the list of bodies."""

    low: float | None
    high: float | None
    word: str
    said: str
    leaves: tuple[tuple[str, str], ...]
    next: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """A check as runs of numbers of `pieces` ("0-4,7"), and what stands in them for the marks `OWN`, as HTML."""

    own: tuple[str, ...]
    pieces: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """A check's outcomes and the checks that follow. `bodies`: each once; `pieces`: HTML, those before `first` were sent with the checks before."""

    check: str
    outcomes: tuple[AheadOutcome, ...]
    bodies: tuple[Body, ...]
    first: int
    pieces: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AheadHead:
    """The job a travelling form belongs to."""

    ident: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AheadPage:
    """What the template of one check sees. `once` is filled in on the phone."""

    head: AheadHead
    at: int
    once: str
    check: CheckView


def ahead_of(
    ident: str,
    job: Job,
    priced: Priced,
    follow: Sequence[tuple[Outcome, Sequence[Priced]]],
    pieces: dict[str, int],
) -> Ahead:
    """Lay out what follows on every outcome of a check. `job` stands before the check; `pieces`:
    those sent before, with their numbers, is added to."""
    words = group_words(job)
    layout = layout_of(job.book, KINDS)
    now = check_view(layout, words, priced, likely={}, seen=(), key="")
    bodies: dict[Body, int] = {}
    first = len(pieces)

    def body(one: Priced) -> int:
        key = f"a{hashlib.sha256(one.check.id.encode()).hexdigest()[:8]}"
        check = check_view(layout, words, one, likely={}, seen=(), key=key)
        # plugs are told in words, boxes by the place of the fuse: the pictures weigh too much
        check = replace(check, plugs=check.plugs.in_words(), boxes=())
        check = replace(check, why="", outcomes=tuple(replace(o, word="") for o in check.outcomes))
        page = AheadPage(head=AheadHead(ident=ident), at=len(job.findings), once="", check=check)
        html = SCRIPTED.sub("", templates().get_template("ahead.html").render(page=page))
        own = tuple(str(escape(said)) for said in (key, one.check.id, check.title))
        for mark, said in zip(OWN, own, strict=True):
            html = html.replace(said, mark)
        rows = (row for row in html.split("\n") if not any(one in row for one in NEEDS_LAPTOP))
        found = PIECE.findall("".join(row.strip() for row in rows))
        numbers = [pieces.setdefault(piece, len(pieces)) for piece in found]
        return bodies.setdefault(Body(own=own, pieces=_runs(numbers)), len(bodies))

    shown = {one.words: view for one, view in zip(priced.outcomes, now.outcomes, strict=True)}
    outcomes = tuple(
        AheadOutcome(
            low=outcome.low,
            high=outcome.high,
            word=outcome.word,
            said=shown[outcome.words].said,
            leaves=tuple((left.figure, left.words) for left in shown[outcome.words].leaves),
            next=tuple(body(one) for one in following),
        )
        for outcome, following in follow
    )
    return Ahead(
        check=priced.check.id,
        outcomes=outcomes,
        bodies=tuple(bodies),
        first=first,
        pieces=tuple(pieces)[first:],
    )


def _runs(numbers: Sequence[int]) -> str:
    """Numbers as runs: "0-4,7,2-3"."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ",".join(f"{first}-{last}" if last > first else f"{first}" for first, last in runs)
