"""Findings in words for the sheet."""

from __future__ import annotations

from backprobe.book.model import MINUS, Book
from backprobe.checks.layout import Layout
from backprobe.checks.wording import node_words, wire_words
from backprobe.findings.model import (
    Act,
    AnyFinding,
    Closed,
    CodesFound,
    DisplayRead,
    Failing,
    FuseFound,
    Looked,
    Mentioned,
    NotPossible,
    Provoked,
    Reading,
    Withdrawn,
    Works,
)
from backprobe.suspects.wording import UNIT, shown
from backprobe.web.contexts import CodesView

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
        case Failing():
            return failing_words(finding)
        case Provoked():
            where = f"it shows at {finding.shown_at}" if finding.shown_at else "nothing"
            return f"Tried {BROUGHT[finding.condition]} {', '.join(finding.places)}: {where}"
        case NotPossible():
            return f"Cannot be done here: {finding.words or finding.check}"
        case Mentioned():
            return f"{finding.about[:1].upper()}{finding.about[1:]}: {finding.words}"
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


def codes_of(book: Book, finding: AnyFinding) -> tuple[CodesView, ...]:
    """The codes of a list in words: active ones, stored ones, those the test made."""
    if not isinstance(finding, CodesFound):
        return ()
    made = finding.by_test
    sorts = (
        ("active", [c for c in finding.active if c not in made]),
        ("stored", [c for c in finding.stored if c not in made]),
        ("made by the test", made),
    )
    return tuple(
        CodesView(
            heading=heading, codes=tuple(code_words(book, finding.unit, code) for code in codes)
        )
        for heading, codes in sorts
        if codes
    )


def details_of(finding: AnyFinding) -> tuple[str, ...]:
    """What else belongs to a finding: how the machine stood, the note."""
    lines: list[str] = []
    if isinstance(finding, CodesFound) and not finding.complete:
        lines.append("There may be more codes than these.")
    if isinstance(finding, Mentioned):
        lines.append("Kept with the job, not weighed.")
    if isinstance(finding, Closed):
        lines += [f"{name}: {said}" for name, said in _closing(finding) if said]
    if not isinstance(finding, Failing | NotPossible | Mentioned | Closed | Withdrawn):
        lines.append(finding.situation.words())
    if finding.note.strip():
        lines.append(finding.note.strip())
    return tuple(lines)


def _closing(finding: Closed) -> tuple[tuple[str, str], ...]:
    return (("Done", finding.done), ("Parts", finding.parts), ("Left as it is", finding.left))


def code_words(book: Book, unit: str, code: str) -> str:
    """A code with what the book says it means."""
    rule = book.codes.get((unit, code))
    return f"{code} {rule.words}" if rule else f"{code} (not in this book)"


def clock_words(seconds: float) -> str:
    """Time since the job began."""
    minutes = int(seconds // 60)
    if minutes < 1:
        return "at the start"
    if minutes < 120:
        return f"after {minutes} min"
    if minutes < 48 * 60:
        return f"after {minutes // 60} h"
    return f"after {minutes // (24 * 60)} days"


def _reading(layout: Layout, reading: Reading) -> str:
    if reading.instrument == "beeper":
        how = "Beeps" if reading.value == 0.0 else "Silent"
        return f"{how} from {node_words(layout, reading.p)} to {node_words(layout, reading.n)}"
    unit = UNIT.get(reading.instrument, "V")
    value = shown(reading.value, unit)
    if reading.to is not None:
        value = f"jumps from {value} to {shown(reading.to, unit)}"
    if reading.instrument == "clamp":
        return f"{value} in {wire_words(layout, reading.p) or reading.p}"
    black = "" if reading.n == MINUS else f" to {node_words(layout, reading.n)}"
    return f"{value} at {node_words(layout, reading.p)}{black}"
