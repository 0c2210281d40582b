"""From a proposed check and the technician's answer to the findings it leaves."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf, isfinite

from backprobe.base.units import parse_quantity
from backprobe.checks.answer import CANNOT, CONDITIONS, findings_of
from backprobe.checks.model import Check
from backprobe.findings.model import Act, AnyFinding, CodesFound, Failing, JobState, Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What was read (SI, or the display's own measure; inf = OL; `to` when it jumps) or which of
    the check's words was chosen ("cannot": it cannot be done here). `codes`: where a check asks for one code, all that the unit
    shows, when they were looked at."""

    value: float | None = None
    to: float | None = None
    word: str = ""
    codes: tuple[str, ...] | None = None


def answered(check: Check, answer: Answer, job: JobState) -> tuple[AnyFinding, ...]:
    """The findings of a done check. ValueError when the answer does not fit the check.

    A repair opens a visit of its own: what the proof showed is said of the mended machine.
    """
    found = findings_of(check, job, value=answer.value, word=answer.word)
    if answer.word == CANNOT:
        return found
    if check.does == "repair":
        passed = answer.word == "passes"
        # the repair's own steps put back what was open: it is proven on the whole machine
        whole = replace(check.situation, key=job.now.key, after=None)
        proof = Failing(
            visit=job.visit + 1,
            situation=whole,
            answer="gone" if passed else "yes",
            condition=next(c for c in CONDITIONS if c == check.condition),
        )
        # What was seen was seen before it was mended.
        later = (replace(f, visit=job.visit + isinstance(f, Act)) for f in found)
        return (*later, proof)
    if answer.codes is not None:
        return tuple(
            replace(f, active=answer.codes, absent=(), complete=True)
            if isinstance(f, CodesFound)
            else f
            for f in found
        )
    if answer.to is not None:
        return tuple(replace(f, to=answer.to) if isinstance(f, Reading) else f for f in found)
    return found


def value_of(text: str, check: Check) -> float | None:
    """A typed reading in SI, or in the display's own measure; None when it cannot be read.

    "12,3", "12.3 V", "85 mV", "OL" are understood; a bare number takes the check's unit.
    """
    typed = text.strip()
    if typed.upper() in ("OL", "O.L", "O.L."):
        return inf
    unit = unit_of(check)
    if check.does == "display" or not unit:
        return _bare(typed.removesuffix(check.setting).strip())
    bare = _bare(typed)
    if bare is not None:
        return bare * SCALE.get(unit, 1.0)
    quantity = parse_quantity(typed)
    return quantity.value if quantity is not None and quantity.unit == SI[unit] else None


SCALE = {"mV": 1e-3}
SI = {"V": "V", "mV": "V", "ohm": "ohm", "A": "A"}


def unit_of(check: Check) -> str:
    """The unit a bare number is taken in: "V", "mV", "ohm", "A", a display's measure, or ""."""
    if check.does == "display":
        return check.setting
    return {
        "volts": "V",
        "drop": "V",
        "lamp": "V",
        "millivolts": "mV",
        "ohms": "ohm",
        "amps": "A",
    }.get(check.does, "")


def _bare(text: str) -> float | None:
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        return None
    return number if isfinite(number) else None
