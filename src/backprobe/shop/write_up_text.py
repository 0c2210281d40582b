"""The write-up as plain text, to be copied into a bill or a message."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from textwrap import wrap

from backprobe.jobs import JobRow
from backprobe.shop.write_up import CodeLine, Measured, WriteUp

WIDE = 78


def as_text(row: JobRow, date: str, up: WriteUp) -> str:
    """The write-up in lines of at most 78 characters, names of any length apart."""
    hours = f"{row.hours:g} h" if row.hours is not None else ""
    head = ", ".join(filter(None, (row.machine, row.serial and f"serial {row.serial}", hours)))
    lines = [f"Job {row.id}, {date}", head]
    if not up.closed:
        lines.append("Not closed yet.")
    lines += _part("Complaint", (*row.complaint.split("\n"), *up.said))
    lines += _part("Codes", (code_words(code) for code in up.codes))
    lines += _part("Cause", (up.cause,))
    lines += _part("Done", (up.done, *(f"Mended: {one}." for one in up.mended)))
    lines += _part("Parts", (up.parts,))
    lines += _part("Measured", (measured_words(one) for one in up.measured))
    lines += _part("Also looked at", up.looked)
    lines += _part("What it comes to", (f"{share} {words}" for words, share in up.could))
    lines += _part("Proof", (up.proof,))
    lines += _part("Left as it is", (*(f"{one}." for one in up.open), up.left))
    lines += _part("Time", (f"{up.minutes} min",))
    return "\n".join(lines) + "\n"


def day_of(row: JobRow) -> str:
    """The day a job came in, by this computer's clock: "2026-03-01"."""
    return datetime.fromtimestamp(row.started_at, UTC).astimezone().strftime("%Y-%m-%d")


def code_words(code: CodeLine) -> str:
    """A code with what it means and how it went: "ECU 157/4 ...: active, then gone"."""
    went = code.first if code.first == code.last else f"{code.first}, then {code.last}"
    return f"{code.unit} {code.code} {code.words}".rstrip() + f": {went}"


def measured_words(one: Measured) -> str:
    """A reading against what it should be."""
    should = f", should be {one.should}" if one.should else ""
    fits = {True: ": good", False: ": differs", None: ""}[one.fits]
    after = "After the repair: " if one.after else ""
    return f"{after}{one.where}, {one.situation}: {one.found}{should}{fits}"


def _part(heading: str, lines: Iterable[str]) -> list[str]:
    said = [line.strip() for line in lines if line.strip()]
    if not said:
        return []
    told = [
        piece
        for line in said
        for piece in wrap(line, WIDE - 2, subsequent_indent="  ", break_long_words=False)
    ]
    return ["", heading, *(f"  {line}" for line in told)]
