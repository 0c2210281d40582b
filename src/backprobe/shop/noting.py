"""Typed words into a job: heard against its book and state, kept when all of them were clear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from backprobe.base.problems import Problem
from backprobe.findings.model import AnyFinding, Finding
from backprobe.shop.say import hear, told
from backprobe.shop.workshop import JobCard, Shop


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """A finding as it was kept: its id and how it was understood; `remark`: that it cannot tell
    the suspects apart, and what would."""

    finding: str
    words: str
    remark: str = ""


def keep(
    shop: Shop, card: JobCard, findings: Sequence[AnyFinding], *, client_id: str | None = None
) -> tuple[Noted, ...]:
    """Keep findings on a job, and say of each how it was understood."""
    ids = shop.note(card.row.id, *findings, client_id=client_id)
    said = card.job.remarks(*findings)
    return tuple(
        Noted(finding=ident, words=told(replace(f, id=ident)), remark=remark)
        for ident, f, remark in zip(ids, findings, said, strict=True)
    )


def note_words(
    shop: Shop, job: str, text: str, *, client_id: str | None = None
) -> tuple[Noted, ...] | tuple[Problem, ...]:
    """Keep what a text says. One unclear sentence, and nothing is kept.

    StoreError when there is no such job.
    """
    card = shop.card(job)
    heard = hear(text, card.job.book, state=card.job.state)
    findings = [f for f in heard if isinstance(f, Finding)]
    if len(findings) != len(heard):
        return tuple(p for p in heard if isinstance(p, Problem))
    return keep(shop, card, findings, client_id=client_id)
