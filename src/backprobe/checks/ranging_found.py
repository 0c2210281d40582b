"""Which of a job's findings range a line: millivolts while a lamp feeds it, and milliohms."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from backprobe.book.model import BODIES, MINUS
from backprobe.book.situations import Situation
from backprobe.checks.ranging import Drop, Ohms
from backprobe.checks.ranging_feed import Feed
from backprobe.checks.wording import listed
from backprobe.circuit.fittings import FITTINGS
from backprobe.findings.model import AnyFinding, Reading
from backprobe.suspects.line import Line

LAMP_SHARE = 0.12
"""A lamp's current that nobody measured: bulb, battery and leads. Judgement."""
CLAMP_SHARE = 0.05
"""A clamp's figure. Handheld meters' data sheets, from memory."""
CHARGED = 1.04
"""A battery at rest over the machine's voltage: 12.5 of 12 V. Common practice, no source."""
LEAST_A = 0.3
"""Less through the lamp and nothing is ranged, A. Judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A finding along a line and the reading it is; `unused`: why it cannot range it, "" when it
    does."""

    finding: Reading
    reading: Drop | Ohms
    unused: str = ""


def ranging_found(
    findings: Iterable[AnyFinding], line: Line, volts: float, feed: Feed
) -> tuple[Found, ...]:
    """The findings that range a line. `volts` of the machine; `feed`: how a lamp feeds the line,
    and what must be off so that the current has no other way.

    The current is a clamp's on one of the line's wires with the same lamp fitted, else the lamp's
    own at a charged battery.
    """
    known = [one for one in findings if isinstance(one, Reading) and one.trusted]
    found: list[Found] = []
    for one in known:
        reading: Drop | Ohms | None = None
        if one.instrument == "milliohm meter":
            reading = _ohms(line, one)
        elif one.instrument == "millivolts":
            reading = _drop(line, one, known, volts, feed)
        if reading is not None:
            found.append(Found(finding=one, reading=reading, unused=_unused(one, feed)))
    return tuple(found)


def _unused(reading: Reading, feed: Feed) -> str:
    if reading.to is not None:
        return "it jumps"
    off = reading.situation.unplugged | reading.situation.pulled
    there = [name for name in (*feed.unplugged, *feed.pulled) if name not in off]
    if there:
        return f"{listed(there)} not off, so the current had another way"
    return ""


def _ohms(line: Line, reading: Reading) -> Ohms | None:
    ends = [name for name in (_place(line, reading.p), _place(line, reading.n)) if name]
    metal = [name for name in (reading.p, reading.n) if name in (*BODIES, MINUS)]
    if len(ends) == 2:
        return Ohms(p=ends[0], n=ends[1], ohm=reading.value)
    return Ohms(p=ends[0], ohm=reading.value) if ends and metal else None


def _drop(
    line: Line, reading: Reading, known: Iterable[Reading], volts: float, feed: Feed
) -> Drop | None:
    fed, lamp = _lamp(line, reading.situation, feed)
    p, n = _place(line, reading.p), _place(line, reading.n)
    if not (fed and p and n):
        return None
    clamped = [
        abs(one.value)
        for one in known
        if one.instrument == "clamp"
        and one.p in line.wires
        and one.situation.fitted == reading.situation.fitted
        and abs(one.value) > LEAST_A
    ]
    return Drop(
        p=p,
        n=n,
        volts=reading.value,
        amps=max(clamped) if clamped else CHARGED * volts / FITTINGS[lamp].ohm,
        fed=fed,
        amps_share=CLAMP_SHARE if clamped else LAMP_SHARE,
    )


def _lamp(line: Line, situation: Situation, feed: Feed) -> tuple[str, str]:
    """Where a lamp feeds the line, and which; "" when none does."""
    for lead in situation.fitted:
        fitting = FITTINGS.get(lead.kind)
        ends = [node for node in (_place(line, lead.p), _place(line, lead.n)) if node]
        if fitting is None or not fitting.watts:
            continue
        if len(ends) == 1:
            return ends[0], lead.kind
        if feed.touches in (lead.p, lead.n) and not ends:
            return feed.fed, lead.kind
    return "", ""


def _place(line: Line, name: str) -> str:
    """A place as the line names it, "" when it is not on it: "X14.3" is the side towards the feed,
    a stud's "G1.1" the metal itself."""
    spellings = (name, f"{name}a", name.replace(".", ":", 1))
    return next((one for one in spellings if one in line.points), "")
