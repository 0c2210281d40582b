"""What a finding found and what a suspect would have shown, in words and figures."""

from __future__ import annotations

from dataclasses import dataclass
from math import isinf

from backprobe.base.units import show
from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.book.values import printed_pins
from backprobe.defects.model import Floats, Probe
from backprobe.findings.model import (
    AnyFinding,
    Bet,
    CodesFound,
    DisplayRead,
    Failing,
    FuseFound,
    Looked,
    Provoked,
    Reading,
    Recalled,
    Works,
)
from backprobe.findings.sides import printed, side_of
from backprobe.suspects.codes import ANSWERS, HISTORY, SHOWN_IF_WRONG, STORED
from backprobe.suspects.factor import Factor, ListFactor, RuleFactor
from backprobe.suspects.looks import BET
from backprobe.suspects.model import Beside
from backprobe.suspects.readings import on_scale, probe_of
from backprobe.suspects.recalled import times_likelier
from backprobe.suspects.view import View

UNIT = {"ohmmeter": "ohm", "beeper": "ohm", "milliohm meter": "ohm", "clamp": "A"}

NOTHING = {"V": 0.005, "A": 0.0005, "ohm": 0.0005}
"""Volts, amperes and ohms below which nothing is said to be there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A suspect as it is told: by its likeliest hypothesis. `sometimes`: it may be one that comes
    and goes, so a finding may have been made while it did not show."""

    hypothesis: int
    sometimes: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A weighed finding, its situation with history, and what it says."""

    finding: AnyFinding
    situation: Situation
    says: Factor | ListFactor


def shown(value: float, unit: str) -> str:
    """A figure as the instrument shows it; an ohmmeter without a path says OL."""
    return "OL" if unit == "ohm" and (isinf(value) or value > 2e7) else show(value, unit)


def worked_out(value: float, unit: str) -> str:
    """A figure that was worked out, to the digits it can mean: volts as a meter shows them, the
    rest to two."""
    if unit == "ohm" and shown(value, unit) == "OL":
        return "OL"
    if abs(value) < NOTHING[unit]:
        return f"0 {unit}"
    if unit == "V":
        return f"{value:.2f} V" if abs(value) < 1.0 else f"{value:.1f} V"
    return show(value, unit, 2)


def beside_words(one: Beside) -> str:
    """A second fault beside a suspect, and which code is whose."""
    told = [
        f"{whose} {', '.join(codes)}"
        for whose, codes in (("this one explains", one.here), ("that one", one.there))
        if codes
    ]
    return f"{one.words}{': ' if told else ''}{'; '.join(told)}"


def found_words(book: Book, finding: AnyFinding) -> str:
    """What was found, in a few words."""
    match finding:
        case Reading():
            side = side_of(finding)
            p, n = (_place(book, node, side) for node in (finding.p, finding.n))
            of = f" ({side})" if side else ""
            if finding.instrument == "beeper":
                return f"{'beeps' if finding.value == 0.0 else 'silent'} {p} to {n}{of}"
            unit = UNIT.get(finding.instrument, "V")
            jump = "" if finding.to is None else f" jumping to {shown(finding.to, unit)}"
            place = p if unit == "A" else f"{p} to {n}"
            return f"{shown(finding.value, unit)}{jump} at {place}{of}"
        case CodesFound():
            codes = ", ".join((*finding.active, *(f"{c} (stored)" for c in finding.stored)))
            return f"codes of {finding.unit}: {codes or 'none'}"
        case DisplayRead():
            return f"{finding.unit} shows {finding.name} {finding.value:g}"
        case Works():
            return f"{finding.target} {'works' if finding.works else 'does not work'}"
        case FuseFound():
            return f"{finding.fuse} {finding.state}"
        case Looked():
            return f"{finding.target} {'damaged' if finding.damage else 'looks good'}"
        case Bet():
            return f"your own bet on {finding.target}"
        case Recalled():
            return f"the driver says: {finding.what}"
        case Failing():
            answer = f"{finding.answer} {finding.condition}".strip()
            return f"failing right now: {answer}"
        case Provoked():
            shown_at = f"showed at {finding.shown_at}" if finding.shown_at else "did not show"
            how = {"wet": "wetted", "hot": "warmed"}.get(finding.condition, "moved")
            return f"{', '.join(finding.places)} {how}: it {shown_at}"
        case _:
            return finding.note or "noted"


def _place(book: Book, node: str, side: str) -> str:
    """A node as it is noted, and how its pin is printed where that is something else."""
    said = printed(node, side)
    name, _, pin = said.rpartition(".")
    part = book.parts.get(name)
    other = printed_pins(part).get(pin, pin) if part else pin
    return said if other == pin else f"{said} (printed {other})"


def reason_words(view: View, told: Told, case: Case) -> str:
    """Expected against found, for one suspect."""
    finding, says = told.finding, told.says
    if isinstance(says, ListFactor):
        return _list_words(view.book, finding, says, case)
    present, gone = best(says.present, case.hypothesis), best(says.gone, case.hypothesis)
    away = case.sometimes and gone > 1.5 * present
    if isinstance(finding, Reading):
        return _reading_words(view, finding, told.situation, case, gone=away)
    if isinstance(finding, DisplayRead):
        return _display_words(view, finding, told.situation, case, gone=away)
    found = found_words(view.book, finding)
    if isinstance(finding, Works | FuseFound):
        fits = max(present, gone if case.sometimes else 0.0) > 1.0
        ending = "while it does not show" if away else "with this defect"
        return f"found {found}, {'as expected' if fits else 'not expected'} {ending}"
    if isinstance(finding, Bet):
        return f"{found}, counted as {BET:g} to 1"
    if isinstance(finding, Recalled):
        return _recalled_words(view, finding, case)
    return f"found {found}"


def _recalled_words(view: View, recalled: Recalled, case: Case) -> str:
    """What came before counts by a table, the rest by the circuit."""
    found = found_words(view.book, recalled)
    if not recalled.what.startswith("after "):
        return found
    atom = view.defects.atoms[view.defects.atom_of[case.hypothesis]]
    times = times_likelier(view.book, atom, recalled.what)
    return found if times == 1.0 else f"{found}, counted as {times:g} to 1"


def best(ratio: Floats, hypothesis: int) -> float:
    """The ratio of a hypothesis in the world that suits it best."""
    row = ratio[hypothesis if ratio.shape[0] > 1 else 0]
    return float(row[0] if row.size == 1 else row.max())


def _reading_words(
    view: View, reading: Reading, situation: Situation, case: Case, *, gone: bool
) -> str:
    unit = UNIT.get(reading.instrument, "V")
    column = view.column(situation, probe_of(reading, view.book.machine.volts), gone=gone)
    if column is None:
        return f"found {found_words(view.book, reading)}"
    expected, healthy = (worked_out(float(column.mean[k]), unit) for k in (case.hypothesis, 0))
    if gone:
        return (
            f"found {found_words(view.book, reading)}: while it does not show it reads {expected}"
        )
    beside = "as a healthy machine does" if expected == healthy else f"healthy {healthy}"
    return f"found {found_words(view.book, reading)}, this defect would read {expected}, {beside}"


def _display_words(
    view: View, read: DisplayRead, situation: Situation, case: Case, *, gone: bool
) -> str:
    display = view.book.displays[read.unit, read.name]
    probe = Probe(kind="inner", p=f"{read.unit}:{display.pin.name}", n=f"{read.unit}:ground")
    column = view.column(situation, probe, gone=gone)
    if column is None:
        return f"found {found_words(view.book, read)}"
    expected, healthy = (
        show(float(shown), "1", 3)
        for shown in on_scale(display, column.mean[[case.hypothesis, 0]], stops=True)
    )
    measure = f" {display.measure}" if display.measure else ""
    return (
        f"{read.unit} shows {read.name} {read.value:g}{measure}, this defect would show "
        f"{expected}, healthy {healthy}"
    )


def _list_words(book: Book, finding: AnyFinding, says: ListFactor, case: Case) -> str:
    if not isinstance(finding, CodesFound):
        return f"found {found_words(book, finding)}"
    explained, left = codes_by_case(finding, says, case)
    missing = [
        code
        for code, rule in says.rules.items()
        if code not in (ANSWERS, HISTORY) and code not in explained + left and _misses(rule, case)
    ]
    parts = [
        f"{words} {', '.join(codes)}"
        for words, codes in (
            ("explains", explained),
            ("does not explain", left),
            ("would also set", missing),
        )
        if codes
    ]
    answers = says.rules.get(ANSWERS)
    if answers is not None and _misses(answers, case):
        parts.append("would leave it without power")
    told = says.rules.get(HISTORY)
    if told is not None:
        speaks = best(told.present, case.hypothesis)
        if abs(speaks - 1.0) > 0.1:
            parts.append(f"their counts and order speak {'for' if speaks > 1.0 else 'against'} it")
    return f"{finding.unit}: {'; '.join(parts) or 'sets no code, and none was found'}"


def codes_by_case(
    found: CodesFound, says: ListFactor, case: Case
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Found codes a suspect explains, and found codes it does not. Codes the test made are left
    out."""
    listed = [c for c in dict.fromkeys((*found.active, *found.stored)) if c not in found.by_test]
    explained: list[str] = []
    left: list[str] = []
    for code in listed:
        rule = says.rules.get(code)
        good = rule is not None and _explains(rule, case)
        (explained if good else left).append(code)
    return tuple(explained), tuple(left)


def _explains(rule: RuleFactor, case: Case) -> bool:
    """The code is more likely than not set by the defect, or was in the past."""
    if rule.past is not None:
        return best(rule.past, case.hypothesis) * SHOWN_IF_WRONG > 0.5 * STORED
    return best(rule.present, case.hypothesis) * SHOWN_IF_WRONG > 0.5


def _misses(rule: RuleFactor, case: Case) -> bool:
    if case.sometimes and best(rule.gone, case.hypothesis) > best(rule.present, case.hypothesis):
        return False
    return best(rule.present, case.hypothesis) * (1.0 - SHOWN_IF_WRONG) < 0.5
