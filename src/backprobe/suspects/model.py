"""The state of belief about a job, as frozen data.

Rows of a Belief are *stories*: (atom, always) and (atom, sometimes) for every atom, "healthy"
and "not in this book". Shapes: R stories, H hypotheses.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from backprobe.defects.model import Floats, Ints

NOT_IN_BOOK = -1
"""Atom number of the story "not in this book"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """Posterior over stories. `atom` (R,) atom number or NOT_IN_BOOK; `sometimes` (R,) 0 or 1;
    `chance` (R,) sums to 1; `present` (R,) chance that the defect is showing right now, given
    the story; `hypothesis` (H,) posterior of each severity, summed over its atom's stories.
    `evidence`: natural log of the chance of all findings."""

    atom: Ints
    sometimes: Ints
    chance: Floats
    present: Floats
    hypothesis: Floats
    evidence: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """How one finding speaks about one suspect: `factor` > 1 for, < 1 against, relative to the
    average of the suspects that the other findings leave in play. `words` says what was expected
    and what was found."""

    finding: str
    factor: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A group of defects mended by opening or replacing one thing.

    `names`: its likeliest defects with their chance; `explains`: codes it explains;
    `leaves_open`: found codes it does not explain.
    """

    group: str
    words: str
    chance: float
    names: tuple[tuple[str, float], ...]
    sometimes: float
    reasons: tuple[Reason, ...]
    explains: tuple[str, ...]
    leaves_open: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradiction:
    """A finding that does not add up, and the ways out."""

    finding: str
    words: str
    ways_out: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The suspects in order, the chance of "not in this book" and of "healthy", and whether the
    job is decided. `state`: "open", "decided" (one group above the bar), "gone" (not failing
    now), "odd" (not in this book above 0.2)."""

    suspects: tuple[Suspect, ...]
    not_in_book: float
    healthy: float
    contradictions: tuple[Contradiction, ...]
    state: Literal["open", "decided", "gone", "odd"]
