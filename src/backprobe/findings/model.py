"""Findings: everything learned on a job, as frozen data.

Every finding belongs to a visit: findings taken in one go in one machine state. Numbers are SI.
Places to measure are nodes of the network by their printed name ("X14.3", "F12.2"); at an inline
plug "X14.3" means the side towards the feed ("X14.3a") unless "X14.3b" is said. "battery minus"
is the usual black lead.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from backprobe.book.situations import Situation

Condition = Literal["", "wet", "hot", "moved"]
Instrument = Literal[
    "meter",
    "low-impedance meter",
    "min-max",
    "lamp",
    "ohmmeter",
    "beeper",
    "milliohm meter",
    "diode tester",
    "clamp",
    "millivolts",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What all findings share. `visit` counts from 1; `at_s` is the job's own clock in seconds,
    passed in by the caller; `trusted` False = "don't trust it", kept but not weighed."""

    id: str = ""
    visit: int = 1
    at_s: float = 0.0
    situation: Situation = Situation()
    trusted: bool = True
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CodesFound(Finding):
    """The code list of one unit. `complete`: the display can show all and all were noted;
    `absent`: codes looked for and not active, where the list is not complete; `counts`: how often each
    of `active` and then of `stored` was counted, 0 not told; `first`: those that came before the rest."""

    unit: str
    active: tuple[str, ...] = ()
    stored: tuple[str, ...] = ()
    complete: bool = True
    absent: tuple[str, ...] = ()
    by_test: tuple[str, ...] = ()
    counts: tuple[int, ...] = ()
    first: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading(Finding):
    """A reading of an instrument. V, A, ohm. `to` when it jumps between value and `to`;
    `value` inf for "OL"; a diode tester reads volts, red lead at `p`. For a clamp `p` is the wire's id; an ohmmeter's beeper reads 0 when it
    beeps and inf when it is silent."""

    instrument: Instrument = "meter"
    p: str = ""
    n: str = "battery minus"
    value: float = 0.0
    to: float | None = None
    cell: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DisplayRead(Finding):
    """A value read on the machine's display, in the display's own measure."""

    unit: str
    name: str
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Works(Finding):
    """A part or function that works, or does not, in the finding's situation."""

    target: str
    works: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FuseFound(Finding):
    """How a fuse was found. "blown" is at arrival or now; "blew" and "held": what a sound
    fuse did in this situation."""

    fuse: str
    state: Literal[
        "looks good", "ohms good", "hot both sides", "hot one side", "blown", "blew", "held"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked(Finding):
    """A close look at a place: `target` is a suspect group, section, spot, plug or part."""

    target: str
    damage: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Act(Finding):
    """Something done to the machine. "repaired" targets a suspect group."""

    act: Literal[
        "unplugged", "plugged", "pulled", "fitted", "replaced", "repaired", "codes cleared"
    ]
    target: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Failing(Finding):
    """Is it failing right now? "yes", "gone", or "only when" the condition holds."""

    answer: Literal["yes", "gone", "only when"]
    condition: Condition = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Provoked(Finding):
    """Places moved, wetted or warmed one after the other to bring the fault back. `shown_at`:
    the one being worked on when it showed, "" = it did not show."""

    places: tuple[str, ...]
    condition: Condition
    shown_at: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mentioned(Finding):
    """Something said about the machine that is kept with the job and not weighed: what it was
    asked `about` ("before it failed"), and the answer in `words`."""

    about: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Recalled(Finding):
    """What the driver recalls of the failure: what came before, what the display did, whether the
    machine started again at once. Each counts once, modestly, and is taken back like any finding."""

    what: Literal[
        "after wash",
        "after storage",
        "after repair",
        "after boost start",
        "display stayed on",
        "display went out",
        "display faded",
        "started again",
        "did not start again",
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bet(Finding):
    """The technician's own hunch that it is a suspect group, by its key. It counts once per group,
    for so much and no more, and is taken back like any finding."""

    target: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Approved(Finding):
    """What the customer approved for the whole job, in seconds of work; the last one counts. Not
    weighed."""

    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo(Finding):
    """A photo kept with the job, not weighed. `digest`: sha256 of the picture, as hex digits; `of`:
    the finding it belongs to ("" = the job); `words` under it."""

    digest: str
    of: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed(Finding):
    """The job is handed over. `cause` and what was `done` in the technician's words, `parts` that
    were fitted; `left`: why something stays open, unplugged or unproven; `minutes` spent, None when
    not said. Whatever is noted after it opens the job again."""

    cause: str = ""
    done: str = ""
    parts: str = ""
    left: str = ""
    minutes: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawn(Finding):
    """Takes back an earlier finding (undo). Nothing is ever deleted."""

    finding: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NotPossible(Finding):
    """A check that cannot be done on this job: out of reach, no tool, no second man. `check`: its
    id; `words`: what it was. It is not proposed again until this is taken back."""

    check: str
    words: str = ""


AnyFinding = (
    CodesFound
    | Reading
    | DisplayRead
    | Works
    | FuseFound
    | Looked
    | Act
    | Failing
    | Provoked
    | Bet
    | Recalled
    | NotPossible
    | Mentioned
    | Approved
    | Photo
    | Closed
    | Withdrawn
)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobState:
    """The fold of a job's findings, in order.

    `findings`: those that stand (withdrawn ones left out). `lived`: situations the machine went
    through, oldest first, the usual life before the visit included. `condition`: what the machine
    is exposed to now. `put_back`: plugs off, fuses out, leads fitted, codes the test made.
    `not_possible`: ids of the checks that cannot be done. `worked_s`: seconds of work so far;
    `approved_s`: what the customer approved, None when nothing was said.
    """

    findings: tuple[AnyFinding, ...] = ()
    visit: int = 1
    now: Situation = Situation()
    lived: tuple[Situation, ...] = ()
    condition: Condition = ""
    failing: Literal["unknown", "yes", "gone", "only when"] = "unknown"
    put_back: tuple[str, ...] = ()
    opened: frozenset[str] = frozenset()
    repaired: tuple[str, ...] = ()
    not_possible: frozenset[str] = frozenset()
    worked_s: float = 0.0
    approved_s: float | None = None
