"""Closing a job: not while something is open, unless it is said why it stays so."""

from __future__ import annotations

from typing import Final

from backprobe.base.problems import Problem
from backprobe.base.units import parse_quantity
from backprobe.findings.model import Closed, JobState
from backprobe.shop.write_up import WriteUp

LONGEST: Final = 2000
MOST_MINUTES: Final = 10_000.0


def closing(
    state: JobState,
    *,
    cause: str = "",
    done: str = "",
    parts: str = "",
    left: str = "",
    minutes: float | None = None,
) -> Closed | Problem:
    """The finding that closes a job standing in `state`. The texts in the technician's words;
    `minutes` spent, None when not said.

    A Problem while something is on the put-back list and `left` does not say why it stays so.
    """
    left = _bare(left)
    if state.put_back and not left:
        return Problem(
            slug="close-still-open",
            weight="error",
            at=None,
            what=f"Still on the put-back list: {', '.join(state.put_back)}.",
            why="The next one at the machine would not know.",
            remedy="Say why it stays like this, or put it back first.",
        )
    return Closed(
        visit=state.visit,
        situation=state.now.bare(),
        cause=_bare(cause),
        done=_bare(done),
        parts=_bare(parts),
        left=left,
        minutes=minutes,
    )


def proposed_cause(up: WriteUp) -> str:
    """The cause a closing may begin with: what was said before, or, where something was mended,
    what the findings say it was."""
    likely = up.could[0][0] if up.could and up.mended else ""
    return up.cause or likely


def minutes_of(said: str) -> float | Problem | None:
    """Minutes as they were typed; None for nothing."""
    said = said.strip()
    if not said:
        return None
    found = parse_quantity(said)
    if found is None or found.unit != "1" or not 0.0 <= found.value <= MOST_MINUTES:
        return Problem(
            slug="close-minutes",
            weight="error",
            at=None,
            what=f"“{said[:40]}” is no number of minutes.",
            why="They go into the write-up.",
            remedy="Type the minutes as a number, for instance 95.",
        )
    return found.value


def _bare(text: str) -> str:
    return text.strip()[:LONGEST]
