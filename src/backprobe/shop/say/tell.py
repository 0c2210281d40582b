"""A finding as one line of plain words. hear() reads the line back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from backprobe.book.model import MINUS
from backprobe.book.situations import Situation
from backprobe.findings.model import (
    Act,
    AnyFinding,
    Approved,
    Bet,
    Closed,
    CodesFound,
    DisplayRead,
    Failing,
    FuseFound,
    Looked,
    Mentioned,
    NotPossible,
    Photo,
    Provoked,
    Reading,
    Recalled,
    Withdrawn,
    Works,
)
from backprobe.findings.sides import printed, side_of
from backprobe.shop.say import numbers

_PROVOKED = {"moved": "moved", "wet": "wetted", "hot": "warmed", "": "moved"}
_WITH = {
    "min-max": " with min-max",
    "lamp": " with lamp",
    "low-impedance meter": " with low impedance",
    "diode tester": " with diode test",
    "milliohm meter": " with milliohm meter",
}


def told(finding: AnyFinding) -> str:
    """The finding in words: what was found, how the machine stood, `?` when it is not trusted,
    its note after `#`. Visit, id and time are left out."""
    words = _found(finding)
    if not isinstance(
        finding,
        Bet | Recalled | Withdrawn | NotPossible | Mentioned | Approved | Photo | Closed,
    ):
        side = side_of(finding) if isinstance(finding, Reading) else ""
        words = f"{words}{f', {side}' if side else ''}, {situation_told(finding.situation)}"
    doubt = "" if finding.trusted else " ?"
    note = f"  # {' '.join(finding.note.split())}" if finding.note.strip() else ""
    return f"{words}{doubt}{note}"


def situation_told(situation: Situation) -> str:
    """A situation in the words that may follow a comma."""
    return ", ".join((situation.words(), *(f"{fuse} new" for fuse in sorted(situation.renewed))))


def _found(finding: AnyFinding) -> str:
    match finding:
        case CodesFound():
            return _codes(finding)
        case Reading():
            return _reading(finding)
        case DisplayRead():
            value = numbers.told(finding.value, None, 0.0, "")
            return f"display {finding.unit} {finding.name} {value}"
        case Works():
            return f"{'works' if finding.works else 'dead'} {finding.target}"
        case FuseFound():
            return f"fuse {finding.fuse} {finding.state}"
        case Looked():
            return f"looked {finding.target}: {'damage' if finding.damage else 'nothing'}"
        case Act():
            return f"{finding.act} {finding.target}".strip()
        case Recalled():
            return f"driver says {finding.what}"
        case Bet():
            return f"my bet {finding.target}"
        case Failing():
            if finding.answer == "only when":
                return f"failing only when {finding.condition}"
            condition = f", {finding.condition}" if finding.condition else ""
            return f"failing {finding.answer}{condition}"
        case Provoked():
            shows = f"shows at {finding.shown_at}" if finding.shown_at else "nothing"
            places = " and ".join(finding.places)
            return f"{_PROVOKED[finding.condition]} {places}: {shows}"
        case NotPossible() | Mentioned() | Approved() | Photo() | Closed() | Withdrawn():
            return _beside(finding)


def _beside(finding: NotPossible | Mentioned | Approved | Photo | Closed | Withdrawn) -> str:
    """What is kept with a job and is not weighed."""
    match finding:
        case NotPossible():
            return f"cannot be done here: {finding.words or finding.check}"
        case Approved():
            return f"approved {round(finding.seconds / 60.0)} min"
        case Mentioned():
            return f"said, {finding.about}: {finding.words}"
        case Photo():
            of = f" of {finding.of}" if finding.of else ""
            return f"photo{of}{f': {finding.words}' if finding.words else ''}"
        case Closed():
            said = (finding.cause, finding.done, finding.parts, finding.left)
            return f"closed: {'; '.join(one for one in said if one) or 'nothing said'}"
        case Withdrawn():
            return f"undo {finding.finding}"


def _codes(found: CodesFound) -> str:
    often = dict(zip((*found.active, *found.stored), found.counts, strict=False))

    def listed(codes: Sequence[str]) -> str:
        return " ".join(f"{code} x{n}" if (n := often.get(code)) else code for code in codes)

    parts = [listed(found.active)] if found.active else []
    if found.stored:
        parts.append(f"stored {listed(found.stored)}")
    if found.first:
        parts.append(f"first {' '.join(found.first)}")
    if found.by_test:
        parts.append(f"by test {' '.join(found.by_test)}")
    if found.absent:
        parts.append(f"not {' '.join(found.absent)}")
    elif not found.complete:
        parts.append("perhaps more")
    return f"codes {found.unit} {' '.join(parts) or 'none'}"


def _reading(reading: Reading) -> str:
    side = side_of(reading)
    reading = replace(reading, p=printed(reading.p, side), n=printed(reading.n, side))
    if reading.instrument == "clamp":
        value = numbers.told(reading.value, reading.to, reading.cell, "A")
        return f"amps wire {reading.p} {value}"
    if reading.instrument == "beeper":
        return f"{'beeps' if reading.value == 0.0 else 'silent'} {reading.p} to {reading.n}"
    how = _WITH.get(reading.instrument, "")
    if reading.instrument in ("ohmmeter", "milliohm meter"):
        value = numbers.told(reading.value, reading.to, reading.cell, "ohm")
        return f"ohms {reading.p} to {reading.n} {value}{how}"
    if reading.instrument == "millivolts":
        value = numbers.told(reading.value, reading.to, reading.cell, "mV")
        return f"millivolts {reading.p} to {reading.n} {value}"
    places = reading.p if reading.n == MINUS else f"{reading.p} to {reading.n}"
    value = numbers.told(reading.value, reading.to, reading.cell, "V")
    return f"volts {places} {value}{how}"
