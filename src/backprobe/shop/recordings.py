"""Recordings of a machine's bus as both faces use them: what is in one, and its codes for a job."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from backprobe.base.problems import Problem
from backprobe.findings.model import CodesFound
from backprobe.logs import Recording, UnitCodes, active_codes, codes_found, read_recording


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """A recording summed up. `counts`: rows, frames and rows with a flaw; `units`: every source
    that sent a code list, by its address."""

    name: str
    seconds: float
    counts: Mapping[str, int]
    units: tuple[UnitCodes, ...]
    problems: tuple[Problem, ...]
    recording: Recording


def listen(source: str | Path | bytes, name: str = "") -> Heard:
    """Read a recording. Never raises for what is in the file; `problems` says what is wrong."""
    recording = read_recording(source, name)
    times = [frame.time_s for frame in recording.frames]
    return Heard(
        name=recording.name,
        seconds=max(times) - min(times) if times else 0.0,
        counts=recording.counts,
        units=active_codes(recording),
        problems=recording.problems,
        recording=recording,
    )


def codes_for_job(
    heard: Heard, unit_of_source: Mapping[int, str], *, visit: int
) -> tuple[CodesFound, ...]:
    """One finding for each unit that is named and sent a list of active codes."""
    return codes_found(heard.recording, unit_of_source, visit=visit)
