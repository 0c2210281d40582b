"""What the pages show, as frozen data. Everything is worked out before a template sees it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from backprobe.web.face_view import PlugsView


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A chance: in words ("27 %") and as the length of a bar, 0 to 100."""

    words: str
    figure: str
    width: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A line with a heading: "people" - "2", a caution and its authority, a code and its words."""

    name: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Oops:
    """What is wrong with something that was typed, why it matters, what to do."""

    what: str
    why: str = ""
    remedy: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """How a finding speaks about a suspect. `weight`: "strongly for" ... "strongly against"."""

    weight: str
    against: bool
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """A code a suspect explains: its words, and how the suspect comes to it, "" when not known."""

    name: str
    words: str
    path: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SuspectView:
    """One group of faults that it could be, by its key. `names` without the group's own name;
    `beside`: what may be broken besides; `all_codes`: how many codes it explains where it leaves none
    open, 0 where it does; `bet`: id of the technician's own bet on it, "" for none."""

    group: str
    share: Share
    names: tuple[Share, ...]
    beside: tuple[Share, ...]
    bet: str
    comes_and_goes: bool
    reasons: tuple[Reason, ...]
    all_codes: int
    explains: tuple[Explained, ...]
    leaves_open: tuple[Said, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OddView:
    """A finding that does not add up, and the ways out; `without`: who would lead without it."""

    words: str
    ways_out: tuple[str, ...]
    without: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OutcomeView:
    """What a check may show, how likely that is, and what it would leave."""

    said: str
    word: str
    figure: str
    leaves: tuple[Share, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One button or switch: the value it sends and what it says."""

    value: str
    words: str
    chosen: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AskNumber:
    """A reading to be typed. `overload`: the meter may show OL; `most`: the largest figure it can show
    here, in V or A, "" for any. What was typed is kept."""

    label: str
    units: tuple[Choice, ...]
    overload: bool
    most: str = ""
    typed: str = ""
    typed_to: str = ""
    minus: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotView:
    """A slot of a fuse box; `fuse` "" is one the book leaves empty. `where` in its box; `name`: fuse,
    rating, place and what it feeds, for those who cannot see it; `field` and `choices`: the form's, none where it is
    only shown; `here`: the check is at this one."""

    number: str
    fuse: str = ""
    rating: str = ""
    feeds: str = ""
    where: str = ""
    name: str = ""
    field: str = ""
    state: str = ""
    looked: bool = False
    choices: tuple[Choice, ...] = ()
    here: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxRow:
    """A row of slots; `loose`: fuses whose slots the book does not say."""

    name: str
    slots: tuple[SlotView, ...]
    loose: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxView:
    """A fuse box."""

    place: str
    rows: tuple[BoxRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckView:
    """A check as it is done and answered. `leads`: where the leads go. `number` or `words` asks
    for the answer; neither for the end of a search. `codes`: to be ticked where the whole code
    list answers it too. `doubt`: the answer is not trusted; `later`: the address of this sheet with
    this check behind the others, "" when there is no other; `circuit`: how the circuit page is
    asked for the place of the red lead, "" for none; `plugs`: what is probed, with the pins marked;
    `boxes`: the fuse boxes it is at; `careful`: for every step the cautions said before it,
    `authority` whose word they are;
    `leads_at`: the step that the leads are placed in, -1 for none.
    """

    key: str
    ident: str
    title: str
    minutes: str
    facts: tuple[Said, ...]
    leads: tuple[Said, ...]
    plugs: PlugsView
    boxes: tuple[BoxView, ...]
    steps: tuple[str, ...]
    careful: tuple[tuple[Said, ...], ...]
    leads_at: int
    cautions: tuple[Said, ...]
    closing_caution: str
    authority: str
    healthy: str
    why: str
    outcomes: tuple[OutcomeView, ...]
    number: AskNumber | None
    words: tuple[Choice, ...]
    codes: tuple[Choice, ...]
    codes_typed: str
    doubt: bool
    later: str
    circuit: str
    oops: Oops | None
    repair: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CodesView:
    """Codes of a list under one heading: "active", "stored", "made by the test"."""

    heading: str
    codes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundView:
    """A finding in words. `undo`: the finding to withdraw in order to take it back or put it
    back; `photo`: the address of one, and `of` what it belongs to."""

    ident: str
    title: str
    photo: str
    of: str
    lists: tuple[CodesView, ...]
    details: tuple[str, ...]
    when: str
    doubted: bool
    undo: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitView:
    """Findings of one visit, newest first. `heading` is "" when there is one visit only."""

    heading: str
    found: tuple[FoundView, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedRow:
    """One group's chance before and after the last answer."""

    words: str
    before: str
    after: str
    width_before: int
    width_after: int
    way: Literal["up", "down", "same"]


@dataclass(frozen=True, slots=True, kw_only=True)
class NewsView:
    """What the last answer changed. `summary` is read out to those who cannot see the rows;
    `remarks`: readings that cannot tell, and what would; `undo`: the findings to withdraw to take
    it back."""

    heading: str
    summary: str
    remarks: tuple[str, ...]
    rows: tuple[MovedRow, ...]
    undo: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIfView:
    """What an answer would change, were it noted. `next`: the check that would follow, `left` the
    minutes after it; `fields`: the answer again, to note it after all."""

    heading: str
    summary: str
    rows: tuple[MovedRow, ...]
    next: str
    left: str
    fields: tuple[Said, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadView:
    """The head of a job. `began`: what tells it from another of this number."""

    ident: str
    began: str
    machine: str
    serial: str
    facts: str
    complaint: str
    book: str
    newer_book: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FailingView:
    """Is it failing right now? `now` in words; `unknown`: nobody has said yet."""

    now: str
    unknown: bool
    choices: tuple[Choice, ...]
    conditions: tuple[Choice, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineView:
    """The line for anything else, with what was typed and what is wrong with it. `hint`: a line
    that makes sense on this machine; `examples`: all that can be typed."""

    typed: str = ""
    oops: tuple[Oops, ...] = ()
    hint: str = ""
    examples: tuple[Said, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoForm:
    """The form for a photo: what is wrong with the last one, what it may belong to."""

    oops: Oops | None
    findings: tuple[Choice, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PutBack:
    """A thing to put back, and what the press says that does it."""

    words: str
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CouldView:
    """What it could be. `heading`: what the list of suspects is; `more`: those folded away; `odd`: what
    does not add up; `proven`: a repair that holds ends it."""

    heading: str
    suspects: tuple[SuspectView, ...]
    more: tuple[SuspectView, ...]
    rest: tuple[Share, ...]
    odd: tuple[OddView, ...]
    proven: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkedOut:
    """What to do next. `ask`: that more is to go than was approved; `done`: what was mended and
    proven, "" before that, and `proof`: what it was found by and how often it stayed away since."""

    notices: tuple[str, ...]
    ask: str
    done: str
    proof: str
    best: CheckView | None
    others: tuple[CheckView, ...]
    left: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ApprovedView:
    """What the customer approved, in words, "" when nobody has said; `typed` and `oops` where
    something else was typed than minutes."""

    now: str = ""
    typed: str = ""
    oops: Oops | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPage:
    """A job's sheet. `could`, and `worked` after it, are None while the engine is at work, or when it
    `failed`; `before`:
    other jobs on this machine in words, "" for none; `visits`: the latest findings, `older`: those
    folded away; `foot`: whose word comes before all of it.

    `at`: number of findings the page was made from; `once`: a fresh mark for its forms, so that a
    form sent twice counts once.
    """

    head: HeadView
    before: str
    at: int
    once: str
    again: str
    closed: bool
    could: CouldView | None
    worked: WorkedOut | None
    failed: str
    put_back: tuple[PutBack, ...]
    news: NewsView | None
    what_if: WhatIfView | None
    failing: FailingView
    approved: ApprovedView
    photo: PhotoForm
    visits: tuple[VisitView, ...]
    older: tuple[VisitView, ...]
    older_count: int
    count: int
    taken_back: tuple[FoundView, ...]
    unread: tuple[Oops, ...]
    line: LineView
    oops: Oops | None
    foot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BookLink:
    """A wiring book a job can be started on. `size` in words."""

    name: str
    machine: str
    size: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoLink:
    """A demo job that can be started."""

    name: str
    title: str
    complaint: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProblemView:
    """A problem of a wiring book: weight, what, where in its text, why, what to do."""

    weight: str
    what: str
    where: str
    marked: str
    why: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AssumedView:
    """What the tool filled in, and on what ground."""

    about: str
    what: str
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BookPage:
    """A wiring book: what is wrong with it and what was assumed."""

    name: str
    machine: str
    size: str
    problems: tuple[ProblemView, ...]
    assumed: tuple[AssumedView, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusalPage:
    """Why a request was not served, and what to do."""

    status: int
    what: str
    remedy: str
