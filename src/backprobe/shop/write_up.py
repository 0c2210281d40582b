"""The write-up of a job, from its own events: complaint, codes, cause, what was measured against
what it should read, minutes, parts, proof."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import isfinite, isnan, sqrt
from typing import Final

import numpy as np

from backprobe.book.model import Book
from backprobe.checks.layout import Layout, layout_of
from backprobe.checks.wording import percent
from backprobe.findings.fold import stand, worked_s
from backprobe.findings.model import (
    Act,
    AnyFinding,
    Approved,
    Closed,
    CodesFound,
    DisplayRead,
    Failing,
    JobState,
    Mentioned,
    NotPossible,
    Photo,
    Reading,
    Recalled,
)
from backprobe.kinds import KINDS
from backprobe.shop.history import closed_of
from backprobe.shop.job import Job
from backprobe.shop.outlook import state_of
from backprobe.shop.titles import failing_words, reading_words, title_of
from backprobe.suspects.meters import BEEP_OHM, noise
from backprobe.suspects.model import Verdict
from backprobe.suspects.readings import probe_of
from backprobe.suspects.wording import UNIT, shown, worked_out

LIKELY: Final = 0.05
MENDING: Final = ("repaired", "replaced")


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A reading. `should`: what a healthy machine reads there, "" when not known; `fits`: whether
    it did; `after`: taken after the last repair."""

    where: str
    situation: str
    found: str
    should: str
    fits: bool | None
    after: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeLine:
    """A code with what it means, as it was first and last seen: "active", "stored", "gone"."""

    unit: str
    code: str
    words: str
    first: str
    last: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteUp:
    """All that a write-up says. `gaps`: what somebody who checks it would ask about; `open`: what
    is still on the put-back list; `minutes` as the technician gave them, or by the times of the
    notes; `could`: what the findings say it was, with chances in words;
    `photos`: digest and words."""

    codes: tuple[CodeLine, ...]
    said: tuple[str, ...]
    cause: str
    done: str
    parts: str
    left: str
    mended: tuple[str, ...]
    measured: tuple[Measured, ...]
    looked: tuple[str, ...]
    could: tuple[tuple[str, str], ...]
    proof: str
    proven: bool
    photos: tuple[tuple[str, str], ...]
    minutes: int
    open: tuple[str, ...]
    gaps: tuple[str, ...]
    closed: bool


def write_up(job: Job, complaint: str = "") -> WriteUp:
    """The write-up as the job stands, closed or not."""
    closed = closed_of(job.findings)
    standing = tuple(f for f in stand(job.findings) if not isinstance(f, Closed))
    # without the closing itself, so that what was worked out for the sheet is used again
    before = replace(
        job, findings=tuple(f for f in job.findings if closed is None or f.id != closed.id)
    )
    state, verdict = state_of(job.book, before.findings), before.verdict
    ending = closed or Closed()
    mended = tuple(
        dict.fromkeys(f.target for f in standing if isinstance(f, Act) and f.act in MENDING)
    )
    minutes = ending.minutes if ending.minutes is not None else minutes_spent(job.findings)
    return WriteUp(
        codes=_codes(job.book, standing),
        said=tuple(_said(f) for f in _came_in(standing)),
        cause=ending.cause,
        done=ending.done,
        parts=ending.parts,
        left=ending.left,
        mended=mended,
        measured=_measured(before, standing),
        looked=_looked(layout_of(job.book, KINDS), standing),
        could=_could(verdict),
        proof=verdict.proof.words if verdict.proof else "",
        proven=verdict.state == "proven",
        photos=tuple((f.digest, f.words or "Photo") for f in standing if isinstance(f, Photo)),
        minutes=round(minutes),
        open=state.put_back,
        gaps=gaps(standing, state, verdict, complaint=complaint, cause=ending.cause),
        closed=closed is not None,
    )


APART: Final = (
    Approved, CodesFound, Mentioned, Recalled, Failing, Reading, DisplayRead, Closed, NotPossible, Photo,
)  # fmt: skip
"""Findings with a place of their own in the write-up."""


def gaps(
    standing: Sequence[AnyFinding],
    state: JobState,
    verdict: Verdict,
    *,
    complaint: str,
    cause: str,
) -> tuple[str, ...]:
    """What somebody who checks the write-up would ask about, the weightiest first."""
    found: list[str] = []
    if not cause.strip():
        found.append("No cause is named.")
    if verdict.state != "proven":
        found.append("The repair is not proven yet." if state.repaired else "No repair is noted.")
    if state.put_back:
        found.append(f"Still on the put-back list: {', '.join(state.put_back)}.")
    lists = [f for f in standing if isinstance(f, CodesFound)]
    if not lists:
        found.append("No codes were noted.")
    elif state.repaired and not _codes_after(standing):
        found.append("The codes were not read again after the repair.")
    if not complaint.strip():
        found.append("The complaint is missing.")
    if verdict.contradictions:
        found.append("Some findings do not add up.")
    return tuple(found)


def minutes_spent(findings: Sequence[AnyFinding]) -> float:
    """Minutes on the job by the times of its notes; pauses over an hour do not count."""
    return worked_s(findings) / 60.0


def _codes_after(standing: Sequence[AnyFinding]) -> bool:
    """Whether a code list was read after the last repair."""
    for finding in reversed(standing):
        if isinstance(finding, CodesFound):
            return True
        if isinstance(finding, Act) and finding.act in MENDING:
            return False
    return False


def _codes(book: Book, standing: Sequence[AnyFinding]) -> tuple[CodeLine, ...]:
    lists = [f for f in standing if isinstance(f, CodesFound)]
    seen: dict[tuple[str, str], list[str]] = {}
    for found in lists:
        for code in (*found.active, *found.stored):
            if code not in found.by_test:
                seen.setdefault((found.unit, code), [])
    for (unit, code), states in seen.items():
        for found in lists:
            if found.unit != unit:
                continue
            if code in found.active:
                states.append("active")
            elif code in found.stored:
                states.append("stored")
            elif states and (found.complete or code in found.absent):
                states.append("gone")
    return tuple(
        CodeLine(
            unit=unit,
            code=code,
            words=book.codes[unit, code].words if (unit, code) in book.codes else "",
            first=states[0],
            last=states[-1],
        )
        for (unit, code), states in seen.items()
    )


def _measured(job: Job, standing: Sequence[AnyFinding]) -> tuple[Measured, ...]:
    layout = layout_of(job.book, KINDS)
    rows: list[Measured] = []
    mends = [k for k, f in enumerate(standing) if isinstance(f, Act) and f.act in MENDING]
    for number, finding in enumerate(standing):
        after = bool(mends) and number > mends[-1]
        if not finding.trusted:
            continue
        if isinstance(finding, Reading):
            rows.append(_reading(job, layout, finding, after=after))
        elif isinstance(finding, DisplayRead):
            rows.append(_display(job.book, finding, after=after))
    return tuple(rows)


def _reading(job: Job, layout: Layout, reading: Reading, *, after: bool) -> Measured:
    where, found = reading_words(layout, reading)
    should, fits = _healthy(job, reading)
    return Measured(
        where=where,
        situation=reading.situation.words(),
        found=found,
        should=should,
        fits=fits,
        after=after,
    )


def _healthy(job: Job, reading: Reading) -> tuple[str, bool | None]:
    """What a healthy machine reads there, and whether this reading is that."""
    try:
        (row,) = job.expect(probe_of(reading), situation=reading.situation)
    except KeyError:
        return "", None
    if not row.steady or isnan(row.value):
        return "no steady value", None
    unit = UNIT.get(reading.instrument, "V")
    if reading.to is not None:
        return worked_out(row.value, unit), False
    if reading.instrument == "beeper":
        return ("beeps" if row.value < BEEP_OHM else "silent"), (reading.value == 0.0) == (
            row.value < BEEP_OHM
        )
    if not isfinite(reading.value) or not isfinite(row.value) or row.value > 2e7:
        return worked_out(row.value, unit), shown(reading.value, unit) == shown(row.value, unit)
    blur = float(noise(reading.instrument, np.array(row.value), reading.cell))
    off = abs(abs(reading.value) - abs(row.value) if unit == "A" else reading.value - row.value)
    return worked_out(row.value, unit), off <= 2.0 * sqrt(blur) + row.tolerance


def _display(book: Book, read: DisplayRead, *, after: bool) -> Measured:
    display = book.displays.get((read.unit, read.name))
    measure = f" {display.measure}" if display else ""
    return Measured(
        where=f"display: {read.name}",
        situation=read.situation.words(),
        found=f"{read.value:g}{measure}",
        should="",
        fits=None,
        after=after,
    )


def _came_in(
    standing: Sequence[AnyFinding],
) -> Iterator[Mentioned | Recalled | Approved | Failing]:
    """What was said of the machine; after a repair it fails or not by what was done."""
    mended = False
    for finding in standing:
        mended = mended or (isinstance(finding, Act) and finding.act in MENDING)
        if isinstance(finding, Mentioned | Recalled | Approved) or (
            isinstance(finding, Failing) and not mended
        ):
            yield finding


def _said(finding: Mentioned | Recalled | Approved | Failing) -> str:
    if isinstance(finding, Failing):
        return f"{failing_words(finding)}."
    if isinstance(finding, Recalled):
        return f"Driver: {finding.what}."
    if isinstance(finding, Approved):
        return f"Approved: {round(finding.seconds / 60.0)} min."
    return f"{finding.about[:1].upper()}{finding.about[1:]}: {finding.words}."


def _looked(layout: Layout, standing: Sequence[AnyFinding]) -> tuple[str, ...]:
    """What was looked at and tried, and what is not told elsewhere, with key and load."""
    return tuple(
        f"{title_of(layout, f)} ({f.situation.words()}){f'. {f.note.strip()}' if f.note.strip() else ''}"
        for f in standing
        if not isinstance(f, APART) and not (isinstance(f, Act) and f.act in MENDING)
    )


def _could(verdict: Verdict) -> tuple[tuple[str, str], ...]:
    ranked = [s for s in verdict.suspects if s.chance >= LIKELY][:3]
    return tuple((s.words, percent(s.chance)) for s in ranked)
