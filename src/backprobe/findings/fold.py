"""The fold of a job's findings: what stands, what was lived through, what must be put back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Literal

from backprobe.book.situations import Situation
from backprobe.findings.model import (
    Act,
    AnyFinding,
    Approved,
    CodesFound,
    Condition,
    Failing,
    JobState,
    Looked,
    NotPossible,
    Withdrawn,
)

OPENING = ("unplugged", "pulled")
MENDING = ("repaired", "replaced")
PAUSE_S = 3600.0
"""A longer gap between two notes is no work on this machine. Judgement."""


def fold(
    findings: Sequence[AnyFinding],
    *,
    start: Situation = Situation(key="off"),
    usual_life: Sequence[Situation] = (),
) -> JobState:
    """The state of a job after its findings, in the order they were noted.

    `start` is the machine's situation on arrival, `usual_life` what it went through before.
    Withdrawn findings leave no trace; those not trusted stay in the list and still say what was
    done to the machine, but are not weighed.
    """
    standing = stand(findings)
    visit = max((finding.visit for finding in standing), default=1)
    return JobState(
        findings=standing,
        visit=visit,
        now=_now(standing, start),
        lived=(*(s.bare() for s in usual_life), *lived_in(standing)),
        condition=condition_of(f for f in standing if f.visit == visit),
        failing=_failing(standing),
        put_back=_put_back(standing, start),
        opened=_opened(standing),
        repaired=tuple(f.target for f in standing if isinstance(f, Act) and f.act in MENDING),
        not_possible=frozenset(f.check for f in standing if isinstance(f, NotPossible)),
        worked_s=worked_s(standing),
        approved_s=next((f.seconds for f in reversed(standing) if isinstance(f, Approved)), None),
    )


def stand(findings: Sequence[AnyFinding]) -> tuple[AnyFinding, ...]:
    """The findings that were not taken back, in order. A withdrawal may itself be withdrawn."""
    gone: set[str] = set()
    kept: list[AnyFinding] = []
    for finding in reversed(findings):
        if finding.id and finding.id in gone:
            continue
        if isinstance(finding, Withdrawn):
            gone.add(finding.finding)
        else:
            kept.append(finding)
    return tuple(reversed(kept))


def worked_s(findings: Iterable[AnyFinding]) -> float:
    """Seconds on the job by the times of its notes; pauses over an hour do not count."""
    times = sorted({0.0, *(max(0.0, f.at_s) for f in findings)})
    steps = [later - sooner for sooner, later in pairwise(times)]
    return sum(step for step in steps if step <= PAUSE_S)


def visits(findings: Iterable[AnyFinding]) -> tuple[tuple[AnyFinding, ...], ...]:
    """Findings by visit, visits in rising order, the order within a visit kept."""
    by_visit: dict[int, list[AnyFinding]] = {}
    for finding in findings:
        by_visit.setdefault(finding.visit, []).append(finding)
    return tuple(tuple(by_visit[number]) for number in sorted(by_visit))


def lived_in(findings: Iterable[AnyFinding]) -> tuple[Situation, ...]:
    """The situations of each visit without repeats, in an order that does not depend on the
    order of the findings within the visit."""
    lived: list[Situation] = []
    for visit in visits(findings):
        lived += sorted({f.situation.bare() for f in visit}, key=_order)
    return tuple(lived)


def usual_life(job: JobState) -> tuple[Situation, ...]:
    """What the machine went through before the first visit."""
    return job.lived[: len(job.lived) - len(lived_in(job.findings))]


def condition_of(visit: Iterable[AnyFinding]) -> Condition:
    """What the machine was exposed to in a visit, as said with "failing right now?".

    The order of the answers does not count: one visit is one state of the machine.
    """
    said = {f.condition for f in visit if isinstance(f, Failing) and f.answer != "only when"}
    return max(said, default="")


def _order(situation: Situation) -> tuple[int, str]:
    return (("off", "on", "crank", "run").index(situation.key), situation.words())


def _failing(findings: Sequence[AnyFinding]) -> Literal["unknown", "yes", "gone", "only when"]:
    """The last answer; a repair makes it unknown again."""
    answer: Literal["unknown", "yes", "gone", "only when"] = "unknown"
    for finding in findings:
        if isinstance(finding, Failing):
            answer = finding.answer
        elif isinstance(finding, Act) and finding.act in MENDING:
            answer = "unknown"
    return answer


def _off_by_hand(findings: Iterable[AnyFinding]) -> tuple[dict[str, None], dict[str, None]]:
    """Plugs taken off and fuses pulled by an act and not put back by one."""
    unplugged: dict[str, None] = {}
    pulled: dict[str, None] = {}
    for finding in findings:
        if not isinstance(finding, Act):
            continue
        if finding.act == "unplugged":
            unplugged[finding.target] = None
        elif finding.act == "pulled":
            pulled[finding.target] = None
        else:
            back = finding.act in ("plugged", "fitted", *MENDING)
            for off in (unplugged, pulled) if back else ():
                off.pop(finding.target, None)
    return unplugged, pulled


def _now(findings: Sequence[AnyFinding], start: Situation) -> Situation:
    now = findings[-1].situation if findings else start
    unplugged, pulled = _off_by_hand(findings)
    last = findings[-1] if findings else None
    back = {last.target} if isinstance(last, Act) and last.act in ("plugged", "fitted") else set()
    return replace(
        now,
        unplugged=frozenset(now.unplugged.union(unplugged) - back),
        pulled=frozenset(now.pulled.union(pulled) - back),
    )


def _put_back(findings: Sequence[AnyFinding], start: Situation) -> tuple[str, ...]:
    """What must be undone before the machine leaves, in plain words."""
    now = _now(findings, start)
    words = [f"{name} unplugged" for name in sorted(now.unplugged)]
    words += [f"{name} pulled" for name in sorted(now.pulled)]
    words += [f"{lead.kind} fitted from {lead.p} to {lead.n}" for lead in now.fitted]
    if now.battery_off:
        words.append("battery minus off")
    made: dict[str, str] = {}
    for finding in findings:
        if isinstance(finding, CodesFound):
            made |= {made_by_test(finding.unit, code): finding.unit for code in finding.by_test}
        elif isinstance(finding, Act) and finding.act == "codes cleared":
            kept = {line: unit for line, unit in made.items() if unit != finding.target}
            made = kept if finding.target else {}
    return (*words, *made)


def made_by_test(unit: str, code: str) -> str:
    """The line of the put-back list about a code that a test set."""
    return f"code {unit} {code} made by the test"


def _opened(findings: Sequence[AnyFinding]) -> frozenset[str]:
    """Everything that was opened on this job: its access is free from now on."""
    opened: set[str] = set()
    for finding in findings:
        opened |= finding.situation.unplugged | finding.situation.pulled
        if isinstance(finding, Looked) or (isinstance(finding, Act) and finding.act in OPENING):
            opened.add(finding.target)
    return frozenset(opened)
