"""A recording as plain data: the frames, and every row that is not one, kept and counted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from backprobe.base.problems import Problem, Spot

Flaw = Literal[
    "no identifier", "checksum", "bus error", "length", "unreadable", "no time", "two in one"
]

KEPT_ROWS = 100_000
_KEPT_TEXT = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """One CAN frame. `time_s` as the recording has it; `line`: its line, or its place in a binary
    file; `extended`: 29-bit identifier."""

    time_s: float
    id: int
    data: bytes
    line: int
    extended: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class DirtyRow:
    """A row with a flaw, and its text (shortened). "no time" and "two in one" rows still gave a
    frame; the others did not."""

    line: int
    flaw: Flaw
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """What a file held. `counts`: rows, frames, each flaw, and what was left out on purpose
    (remote frames, CAN FD frames). `dirty` holds the first 100,000 rows with a flaw."""

    name: str
    frames: tuple[Frame, ...] = ()
    dirty: tuple[DirtyRow, ...] = ()
    problems: tuple[Problem, ...] = ()
    counts: Mapping[str, int] = field(default_factory=dict)


@dataclass(slots=True)
class Rows:
    """Gathers frames and flaws while a file is read."""

    name: str
    frames: list[Frame] = field(default_factory=list)
    dirty: list[DirtyRow] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    counts: Counter[str] = field(default_factory=Counter)
    lines: dict[Flaw, list[int]] = field(default_factory=dict)

    def take(self, time_s: float, ident: int, data: bytes, line: int, *, extended: bool) -> None:
        """One good frame."""
        frame = Frame(time_s=time_s, id=ident, data=data, line=line, extended=extended)
        self.frames.append(frame)

    def flaw(self, line: int, flaw: Flaw, text: str) -> None:
        """One row with a flaw; the row is kept."""
        self.counts[flaw] += 1
        if len(self.dirty) < KEPT_ROWS:
            self.dirty.append(DirtyRow(line=line, flaw=flaw, text=text[:_KEPT_TEXT]))
        first = self.lines.setdefault(flaw, [])
        if len(first) < 5:
            first.append(line)

    def done(self) -> Recording:
        """The recording, with one problem for each kind of flaw."""
        self.counts["frames"] = len(self.frames)
        said = {row.flaw: row for row in reversed(self.dirty)}
        problems = [
            _problem(self.name, said[flaw], self.counts[flaw], self.lines[flaw])
            for flaw in _SAID
            if flaw in said
        ]
        if not self.frames and not any(problem.weight == "error" for problem in self.problems):
            problems.append(empty(self.name))
        return Recording(
            name=self.name,
            frames=tuple(self.frames),
            dirty=tuple(self.dirty),
            problems=(*self.problems, *problems),
            counts=dict(self.counts),
        )


# flaw: what (after the number of rows), why, remedy
_SAID: Mapping[Flaw, tuple[str, str, str]] = {
    "bus error": (
        "marked as an error on the bus",
        (
            "frames that broke off on the wire; a few while units wake up are usual, a stream of "
            "them points at the bus itself: one unit talking alone, a short, a missing terminator"
        ),
        "if they go on with all units awake, measure the bus pair with the battery off",
    ),
    "no identifier": (
        "without an identifier",
        "the recorder lost the start of the frame, so nobody knows who sent it; not used",
        "nothing, while most rows are good; else record again with a CAN interface",
    ),
    "checksum": (
        "whose identifier and data do not give the checksum",
        "the recorder garbled the row; a garbled identifier names a wrong unit; not used",
        "nothing, while most rows are good; else record again with a CAN interface",
    ),
    "length": (
        "with more or fewer data bytes than the length says",
        "which bytes are missing or foreign cannot be told; not used",
        "nothing, while most rows are good; else record again with a CAN interface",
    ),
    "unreadable": (
        "without a CAN frame",
        "the row was cut, or written by something else; not used",
        "look at the lines named; if all rows are like this, export the recording again",
    ),
    "two in one": (
        "holding the data of two frames",
        "the recorder ran two frames together; only the second, whose checksum fits, is used",
        "nothing",
    ),
    "no time": (
        "without a readable time",
        "the frame is used with the time of the row above; its place in the order is right",
        "nothing",
    ),
}
_DASHED = {flaw: flaw.replace(" ", "-") for flaw in _SAID}


def _problem(name: str, row: DirtyRow, count: int, lines: Iterable[int]) -> Problem:
    what, why, remedy = _SAID[row.flaw]
    listed = ", ".join(str(line) for line in lines)
    rows = f"{count} row{'s' if count > 1 else ''} {what}"
    return Problem(
        slug=f"recording-{_DASHED[row.flaw]}",
        weight="warning",
        at=Spot(file=name, line=row.line, end=1 + len(row.text), text=row.text),
        what=f"{rows} (line{'s' if count > 1 else ''} {listed}{', ...' if count > 5 else ''})",
        why=why,
        remedy=remedy,
    )


def empty(name: str) -> Problem:
    """Nothing in the file could be used."""
    return Problem(
        slug="recording-empty",
        weight="error",
        at=None,
        what=f"{name} holds no CAN frame that can be used",
        why="without frames it says nothing, not even that there are no codes",
        remedy="record again with the key on, and check bit rate and plug",
    )


def unknown(name: str) -> Problem:
    """The file is in no format that is known."""
    return Problem(
        slug="recording-unknown",
        weight="error",
        at=None,
        what=f"{name} is not a recording in a known format",
        why="known are: candump .log, .asc, .blf, the .csv of python-can, and .csv tables with the "
        "columns Time, ID, DLC, Data or time, pgn, source, data",
        remedy="export the recording in one of these formats",
    )


def unreadable_file(name: str, reason: str) -> Problem:
    """The file cannot be opened."""
    return Problem(
        slug="recording-no-open",
        weight="error",
        at=None,
        what=f"{name} cannot be read: {reason}",
        why="the name is wrong, or this user may not read it",
        remedy="check the name",
    )


def cut(name: str, read: int) -> Problem:
    """A binary file is damaged; `read` counts the frames that were read."""
    return Problem(
        slug="recording-cut",
        weight="warning",
        at=None,
        what=f"{name} is damaged: {read} frames could be read, others could not",
        why="the recorder was stopped hard, or the file was cut while it was copied",
        remedy="copy it again; what could be read is used",
    )
