"""How a job went: what was noted when, in steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from backprobe.checks.layout import Layout
from backprobe.findings.model import AnyFinding, Withdrawn
from backprobe.shop.titles import title_of
from backprobe.shop.write_up import minutes_spent

TOGETHER_S: Final = 2.0
"""Notes this close were one press. Judgement."""
MOST: Final = 14
"""Steps that a phone's width shows apart; earlier ones are left out, the arrival stays."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What was noted in one go. `count`: findings up to it, itself included; `minutes` spent by
    then."""

    count: int
    words: str
    minutes: float


def steps_of(layout: Layout, findings: Sequence[AnyFinding], most: int = MOST) -> tuple[Step, ...]:
    """The steps of a job, the arrival first, the latest last."""
    ends = [
        number + 1
        for number, finding in enumerate(findings)
        if number + 1 == len(findings) or findings[number + 1].at_s - finding.at_s > TOGETHER_S
    ]
    steps = [
        Step(
            count=end,
            words=_words(layout, findings, findings[start:end]),
            minutes=minutes_spent(findings[:end]),
        )
        for start, end in zip([0, *ends], ends, strict=False)
    ]
    return tuple(steps if len(steps) <= most else [steps[0], *steps[1 - most :]])


def _words(layout: Layout, findings: Sequence[AnyFinding], fresh: Sequence[AnyFinding]) -> str:
    by_id = {finding.id: finding for finding in findings}
    named = [
        f"taken back: {title_of(layout, by_id[f.finding])}"
        if isinstance(f, Withdrawn) and f.finding in by_id
        else title_of(layout, f)
        for f in fresh
    ]
    more = f" and {len(named) - 2} more" if len(named) > 2 else ""
    return f"{'; '.join(named[:2])}{more}"
