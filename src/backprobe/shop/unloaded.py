"""A volt reading that cannot tell the suspects apart, said to whoever took it, with the loaded
reading that can."""

from __future__ import annotations

from collections.abc import Sequence

from backprobe.checks.guard import cannot_tell
from backprobe.checks.layout import Layout, layout_of
from backprobe.checks.model import Check
from backprobe.defects.model import Probe
from backprobe.findings.model import AnyFinding, Reading
from backprobe.kinds import KINDS
from backprobe.shop.outlook import Standing, engine, planned_on

UNLOADED = ("meter", "min-max")


def remarks(before: Standing, fresh: Sequence[AnyFinding]) -> tuple[str, ...]:
    """One remark per finding, "" where there is nothing to say. `before`: where the job stood when
    they were taken."""
    return tuple(_remark(before, finding) for finding in fresh)


def may_be_remarked(finding: AnyFinding) -> bool:
    """Whether a finding is of the sort that remarks are made about: they need the engine."""
    return (
        isinstance(finding, Reading) and finding.instrument in UNLOADED and finding.to is None
    ) and finding.trusted


def _remark(before: Standing, finding: AnyFinding) -> str:
    if not isinstance(finding, Reading) or not may_be_remarked(finding):
        return ""
    layout = layout_of(before.circuit.book, KINDS)
    p, n = (
        name if name in layout.touch else _side(layout, name) for name in (finding.p, finding.n)
    )
    check = Check(
        id="noted",
        does="volts",
        target=p,
        words="",
        situation=finding.situation,
        probe=Probe(kind="volts", p=p, n=n),
    )
    with engine():
        near, belief = planned_on(before)
        return cannot_tell(near.book, near, before.state, belief, check, value=finding.value)


def _side(layout: Layout, name: str) -> str:
    """At an inline plug, the side towards the feed unless said; other places as they are."""
    return f"{name}a" if f"{name}a" in layout.touch else name
