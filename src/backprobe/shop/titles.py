"""Findings in words, one line each, for whoever reads a job."""

from __future__ import annotations

from backprobe.book.model import MINUS
from backprobe.checks.layout import Layout
from backprobe.checks.wording import node_words, wire_words
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
from backprobe.suspects.wording import UNIT, shown

ACTS = {
    "unplugged": "{} unplugged",
    "plugged": "{} plugged back",
    "pulled": "{} pulled",
    "fitted": "{} fitted again",
    "replaced": "{} replaced with a new part",
    "repaired": "Mended: {}",
    "codes cleared": "Codes cleared",
}
BROUGHT = {"wet": "wetting", "hot": "warming", "moved": "moving", "": "trying"}


def title_of(layout: Layout, finding: AnyFinding) -> str:
    """What was found, in one line."""
    match finding:
        case CodesFound():
            count = len({*finding.active, *finding.stored})
            return f"{finding.unit}: {count or 'no'} code{'' if count == 1 else 's'}"
        case Reading():
            return _reading(layout, finding)
        case DisplayRead():
            display = layout.book.displays.get((finding.unit, finding.name))
            measure = display.measure if display else ""
            return f"Display: {finding.name} {finding.value:g} {measure}".rstrip()
        case Works():
            return f"{finding.target}: {'works' if finding.works else 'does not work'}"
        case FuseFound():
            return f"Fuse {finding.fuse}: {finding.state}"
        case Looked():
            return f"Looked at {finding.target}: {'damage' if finding.damage else 'nothing to see'}"
        case Act():
            return ACTS[finding.act].format(finding.target)
        case Bet():
            return f"My bet: {finding.target}"
        case Recalled():
            return f"Driver: {finding.what}"
        case Failing():
            return failing_words(finding)
        case Provoked():
            where = f"it shows at {finding.shown_at}" if finding.shown_at else "nothing"
            return f"Tried {BROUGHT[finding.condition]} {', '.join(finding.places)}: {where}"
        case NotPossible() | Mentioned() | Approved() | Photo() | Closed() | Withdrawn():
            return _beside(finding)


def _beside(finding: NotPossible | Mentioned | Approved | Photo | Closed | Withdrawn) -> str:
    """What is kept with a job and is not weighed."""
    match finding:
        case NotPossible():
            return f"Cannot be done here: {finding.words or finding.check}"
        case Approved():
            return f"Approved: {round(finding.seconds / 60.0)} min"
        case Mentioned():
            return f"{finding.about[:1].upper()}{finding.about[1:]}: {finding.words}"
        case Photo():
            return f"Photo: {finding.words}" if finding.words else "Photo"
        case Closed():
            return f"Job closed: {finding.cause or 'no cause named'}"
        case Withdrawn():
            return f"Taken back: {finding.finding}"


def failing_words(finding: Failing) -> str:
    """The answer to "is it failing right now?"."""
    if finding.answer == "only when":
        return f"Fails only when {finding.condition or 'something happens'}"
    said = "Failing right now" if finding.answer == "yes" else "Not failing right now"
    return f"{said} ({finding.condition})" if finding.condition else said


def _reading(layout: Layout, reading: Reading) -> str:
    where, value = reading_words(layout, reading)
    if reading.instrument == "beeper":
        return f"{value[:1].upper()}{value[1:]} from {where}"
    return f"{value} {'in' if reading.instrument == 'clamp' else 'at'} {where}"


def reading_words(layout: Layout, reading: Reading) -> tuple[str, str]:
    """Where a reading was taken, and what it was: ("X10 pin 3", "4.98 V")."""
    black = "" if reading.n == MINUS else f" to {node_words(layout, reading.n)}"
    if reading.instrument == "beeper":
        return f"{node_words(layout, reading.p)}{black}", (
            "beeps" if reading.value == 0.0 else "silent"
        )
    unit = UNIT.get(reading.instrument, "V")
    value = shown(reading.value, unit)
    if reading.to is not None:
        value = f"jumps from {value} to {shown(reading.to, unit)}"
    if reading.instrument == "clamp":
        return wire_words(layout, reading.p) or reading.p, value
    return f"{node_words(layout, reading.p)}{black}", value
