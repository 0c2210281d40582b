"""Saying with one press that something of the put-back list is back."""

from __future__ import annotations

from dataclasses import replace

from backprobe.findings.fold import made_by_test
from backprobe.findings.model import Act, AnyFinding, CodesFound, JobState, Mentioned

ABOUT = "put back"


def putting_back(state: JobState, words: str) -> AnyFinding | None:
    """The finding that takes a line off the put-back list; None when it is not on it.

    A plug and a fuse are acts, codes of a test are cleared. A lead that is off again and the
    battery's minus that is on again are said, with the machine as it then stands.
    """
    if words not in state.put_back:
        return None
    now, visit = state.now.bare(), state.visit
    for name in now.unplugged:
        if words == f"{name} unplugged":
            whole = replace(now, unplugged=now.unplugged - {name})
            return Act(visit=visit, situation=whole, act="plugged", target=name)
    for name in now.pulled:
        if words == f"{name} pulled":
            whole = replace(now, pulled=now.pulled - {name})
            return Act(visit=visit, situation=whole, act="fitted", target=name)
    for finding in state.findings:
        if isinstance(finding, CodesFound) and words in {
            made_by_test(finding.unit, code) for code in finding.by_test
        }:
            return Act(visit=visit, situation=now, act="codes cleared", target=finding.unit)
    if now.battery_off and words == "battery minus off":
        return Mentioned(
            visit=visit,
            situation=replace(now, battery_off=False),
            about=ABOUT,
            words="battery minus on",
        )
    for lead in now.fitted:
        if words == f"{lead.kind} fitted from {lead.p} to {lead.n}":
            left = tuple(other for other in now.fitted if other != lead)
            return Mentioned(
                visit=visit,
                situation=replace(now, fitted=left),
                about=ABOUT,
                words=f"{lead.kind} off {lead.p}",
            )
    return None
