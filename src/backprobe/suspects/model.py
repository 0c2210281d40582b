"""The state of belief about a job, as frozen data.

Rows of a Belief are *stories*: (atom, always) and (atom, sometimes) for every atom, "healthy"
and "not in this book". Shapes: R stories, H hypotheses.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from backprobe.defects.model import Floats, Ints
from backprobe.findings.model import Condition

NOT_IN_BOOK = -1
"""Atom number of the story "not in this book"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """Posterior over stories. `atom` (R,) atom number or NOT_IN_BOOK; `sometimes` (R,) 0 or 1;
    `chance` (R,) sums to 1; `present` (R,) chance that the defect is showing right now, given
    the story; `hypothesis` (H,) posterior of each severity, summed over its atom's stories;
    `mended` (R,) chance that a repair ended the defect for good, given the story (None = none);
    `alone` (H, 2): of two faults, chance that only the first, only the second is still to mend.
    `evidence`: natural log of the chance of all findings."""

    atom: Ints
    sometimes: Ints
    chance: Floats
    present: Floats
    hypothesis: Floats
    evidence: float
    mended: Floats | None = None
    alone: Floats | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """How one finding speaks about one suspect: `factor` > 1 for, < 1 against, relative to the
    average of the suspects that the other findings leave in play. `words` says what was expected
    and what was found."""

    finding: str
    factor: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """A second fault that may stand beside a suspect. `chance`: that it is both; `here`: codes the
    suspect alone explains, `there`: those its second does."""

    group: str
    words: str
    chance: float
    here: tuple[str, ...]
    there: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A group of defects mended by opening or replacing one thing.

    `names`: its likeliest defects with their chance; `explains`: codes it explains, and `paths` how
    it comes to each of them, "" where that is in the past; `leaves_open`: found codes it does not explain. `chance`: that it is or was this; `still`: that
    it still is, less than `chance` once it was mended. Two faults at once count under the one to
    begin with; `beside`: what the second may be, likeliest first.
    """

    group: str
    words: str
    chance: float
    names: tuple[tuple[str, float], ...]
    sometimes: float
    reasons: tuple[Reason, ...]
    explains: tuple[str, ...]
    leaves_open: tuple[str, ...]
    still: float
    beside: tuple[Beside, ...] = ()
    paths: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradiction:
    """A finding that does not add up, and the ways out. `without`: what would lead if it were not
    there, that is, what measuring again may change; "" for codes."""

    finding: str
    words: str
    ways_out: tuple[str, ...]
    without: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """How far a repair is proven. `mended`: the group in words; `still`: chance that a fault is
    still on the machine, this or another; `holds`: small enough to hand the machine back.

    `before`: what was found before the repair; `visits`: visits since in which it was not failing;
    `conditions`: those the machine was exposed to in them; `awaited`: the condition it failed in
    before ("" = none was told). `words`: all that in a sentence.
    """

    group: str
    mended: str
    holds: bool
    still: float
    before: tuple[str, ...]
    visits: int
    conditions: tuple[Condition, ...]
    awaited: Condition
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The suspects in order, the chance of "not in this book" and of "healthy", and whether the
    job is decided. `state`: "open", "decided" (one group above the bar), "gone" (not failing
    now), "odd" (not in this book above 0.2), "mended" (the likely fault was mended and does not
    show, which proves too little yet), "proven" (the repair holds). `proof` goes with the last
    two."""

    suspects: tuple[Suspect, ...]
    not_in_book: float
    healthy: float
    contradictions: tuple[Contradiction, ...]
    state: Literal["open", "decided", "gone", "odd", "mended", "proven"]
    proof: Proof | None = None
