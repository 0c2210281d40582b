"""What an answer would do, without noting it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from backprobe.checks.layout import Layout
from backprobe.checks.model import Check
from backprobe.checks.wording import left_words
from backprobe.findings.model import (
    AnyFinding,
    CodesFound,
    DisplayRead,
    FuseFound,
    Looked,
    Provoked,
    Reading,
    Works,
)
from backprobe.shop.outlook import Outlook
from backprobe.web.answers import Typed
from backprobe.web.check_view import title_of as check_title
from backprobe.web.contexts import MovedRow, Said, WhatIfView
from backprobe.web.found import title_of

WEIGHED: Final = (CodesFound, Reading, DisplayRead, Works, FuseFound, Looked, Provoked)
"""What may be doubted. An act was done, and a repair's proof has its own questions."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """An answer that is only tried: the form it came from, what it would leave, and what would be
    thought then."""

    check: Check
    typed: Typed
    found: tuple[AnyFinding, ...]
    outlook: Outlook


def doubted(found: Sequence[AnyFinding]) -> tuple[AnyFinding, ...]:
    """The same findings, kept and not weighed."""
    return tuple(replace(f, trusted=False) if isinstance(f, WEIGHED) else f for f in found)


def what_if_view(layout: Layout, trial: Trial, rows: Sequence[MovedRow]) -> WhatIfView:
    """How the chances would stand, and what would be checked next. `rows`: before and after."""
    best = next(iter(trial.outlook.proposal.next), None)
    moved = [row for row in rows if row.way != "same"]
    typed = trial.typed
    fields = [("check", trial.check.id), ("value", typed.value), ("to", typed.to)]
    fields += [("unit", typed.unit), ("word", typed.word)]
    fields += [("minus", "on")] if typed.minus else []
    fields += [("doubt", "on")] if typed.doubt else []
    return WhatIfView(
        heading="; ".join(title_of(layout, finding) for finding in trial.found),
        summary="; ".join(f"{row.words} {row.before} to {row.after}" for row in moved)
        or "That would change little.",
        rows=tuple(rows) if moved else (),
        next=check_title(best.check) if best else "",
        left=left_words(trial.outlook.proposal.half_s, trial.outlook.proposal.ninety_s),
        fields=tuple(Said(name=name, words=words) for name, words in fields if words),
    )
