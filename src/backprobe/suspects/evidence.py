"""All findings of a job as likelihood ratios over every hypothesis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.defects.atoms import of_atoms
from backprobe.defects.model import Defects, Flags, Floats, Ints, Predictor
from backprobe.findings.fold import MENDING, usual_life
from backprobe.findings.model import (
    AnyFinding,
    Bet,
    CodesFound,
    Condition,
    DisplayRead,
    Failing,
    FuseFound,
    JobState,
    Looked,
    Provoked,
    Reading,
    Recalled,
    Works,
)
from backprobe.suspects.codes import list_factor
from backprobe.suspects.factor import Factor, ListFactor
from backprobe.suspects.looks import (
    bet_factor,
    change_of,
    disturbed_by,
    failing_factor,
    looked_factor,
    provoked_factor,
    pulled_factor,
)
from backprobe.suspects.readings import display_factor, reading_factor
from backprobe.suspects.recalled import recalled_factor
from backprobe.suspects.view import View
from backprobe.suspects.visits import Stretch, stretches
from backprobe.suspects.works import fuse_factor, situation_of, works_factor


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Segment:
    """A stretch as arrays. `mended`, `disturbed` (H,) act before its findings count."""

    redraw: bool
    condition: Condition
    mended: Flags | None = None
    disturbed: Flags | None = None
    factors: tuple[Factor, ...] = ()
    lists: tuple[ListFactor, ...] = ()
    only_when: tuple[Condition, ...] = ()

    def only(self, rows: Ints) -> Segment:
        """The stretch of some hypotheses."""
        return replace(
            self,
            mended=None if self.mended is None else self.mended[rows],
            disturbed=None if self.disturbed is None else self.disturbed[rows],
            factors=tuple(factor.only(rows) for factor in self.factors),
            lists=tuple(told.only(rows) for told in self.lists),
        )

    def without(self, finding: str) -> Segment:
        """As if one finding had never been made; itself where it was not made here."""
        factors = tuple(f for f in self.factors if f.finding != finding)
        lists = tuple(f for f in self.lists if f.finding != finding)
        if len(factors) + len(lists) == len(self.factors) + len(self.lists):
            return self
        return replace(self, factors=factors, lists=lists)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Everything the filter needs. `world` (W,) weights; `odds` per condition (H,) factor on the
    odds of a sometimes-defect showing in it; `deaf`: ids of findings that could not be weighed
    because the book does not know what they are about."""

    segments: tuple[Segment, ...]
    world: Floats
    odds: dict[Condition, Floats] = field(default_factory=dict)
    deaf: tuple[str, ...] = ()

    def only(self, rows: Ints) -> Evidence:
        """The evidence of some hypotheses."""
        return replace(
            self,
            segments=tuple(segment.only(rows) for segment in self.segments),
            odds={condition: factor[rows] for condition, factor in self.odds.items()},
        )

    @property
    def told(self) -> tuple[Factor | ListFactor, ...]:
        """What every weighed finding says, in order."""
        told: list[Factor | ListFactor] = []
        for segment in self.segments:
            told += segment.factors
            told += segment.lists
        return tuple(told)


def ask(book: Book, predictor: Predictor, job: JobState, like: View | None = None) -> View:
    """Everything the findings of a job need to know of the circuit, asked for in one go; `like`:
    the view whose worlds are taken.

    This first run over the findings only notes which columns are wanted, see view.py.
    """
    view = View(book, predictor)
    if like is not None:
        view.asks_as(like)
    _segments(view, stretches(book, job), usual_life(job))
    view.fetch(None if like is None else like.worlds)
    return view


def gather(view: View, job: JobState) -> Evidence:
    """The evidence of a job on the hypotheses of a view."""
    segments, deaf = _segments(view, stretches(view.book, job), usual_life(job))
    return Evidence(
        segments=segments, world=view.worlds.weight, odds=_odds(view.defects), deaf=deaf
    )


def _odds(defects: Defects) -> dict[Condition, Floats]:
    at = defects.atom_of
    return {
        "wet": of_atoms(defects, getattr, "wet")[at],
        "hot": of_atoms(defects, getattr, "hot")[at],
        "moved": of_atoms(defects, getattr, "moved")[at],
    }


def _segments(
    view: View, cut: Sequence[Stretch], life: tuple[Situation, ...]
) -> tuple[tuple[Segment, ...], tuple[str, ...]]:
    segments: list[Segment] = []
    deaf: list[str] = []
    counted = _told_already(cut)
    tests: dict[Situation, None] = {}
    handled = _in_hands(cut)
    seen = {f.target for one in cut for f in one.findings if isinstance(f, Looked)}
    for stretch in cut:
        factors: list[Factor] = []
        lists: list[ListFactor] = []
        for finding in stretch.findings:
            # A list shows what is active as the machine stands while it is read; a code set with
            # another load on, or another plug off, may be on no list by then.
            lived = (stretch.situation(finding),)
            if isinstance(finding, Bet | Recalled):
                once = finding.target if isinstance(finding, Bet) else finding.what
                if once in counted:
                    continue
                counted.add(once)
            pulled = finding.situation.unplugged - handled
            if pulled:
                factors.append(pulled_factor(view, finding.id, pulled, handled))
                handled |= pulled
            if isinstance(finding, CodesFound):
                told: Factor | ListFactor | None = list_factor(
                    view, finding, lived, life, tuple(tests)
                )
            elif isinstance(finding, Looked):
                told = looked_factor(view, finding, seen)
            else:
                told = _factor(view, stretch, finding, lived)
            if finding.situation.unplugged or finding.situation.pulled:
                tests[lived[0]] = None
            if told is None:
                deaf.append(finding.id)
            elif isinstance(told, ListFactor):
                lists.append(told)
            else:
                factors.append(told)
        segment = Segment(
            redraw=stretch.opens_visit,
            condition=stretch.condition,
            factors=tuple(factors),
            lists=tuple(lists),
            only_when=tuple(
                f.condition
                for f in stretch.findings
                if isinstance(f, Failing) and f.answer == "only when"
            ),
        )
        segments.append(segment if view.asking else _with_changes(view, stretch, segment))
    return tuple(segments), tuple(deaf)


def _told_already(cut: Sequence[Stretch]) -> set[str]:
    """What counts no more when the driver recalls it: a fault that shows only when wet has been told
    to be one of those a wash brings."""
    tied = {f.condition for one in cut for f in one.findings if isinstance(f, Failing)}
    return {"after wash"} if "wet" in tied else set()


def _in_hands(cut: Sequence[Stretch]) -> set[str]:
    """Places somebody has looked at or worked on: what a pulled plug tells by itself is told."""
    seen = {f.target for one in cut for f in one.findings if isinstance(f, Looked)}
    done = {act.target for one in cut for act in one.acts if act.act in MENDING}
    return seen | done


def _factor(
    view: View, stretch: Stretch, finding: AnyFinding, lived: Sequence[Situation]
) -> Factor | None:
    situation = stretch.situation(finding)
    match finding:
        case Reading():
            return reading_factor(view, finding, situation)
        case DisplayRead():
            return display_factor(view, finding, situation, lived)
        case Works():
            return works_factor(view, finding, situation_of(view, finding.target, situation))
        case FuseFound():
            return fuse_factor(view, finding, situation)
        case Failing():
            return failing_factor(view, finding, situation)
        case Bet():
            return bet_factor(view, finding)
        case Recalled():
            return recalled_factor(view, finding, situation)
        case Provoked():
            return provoked_factor(view, finding)
        case _:
            return None


def _with_changes(view: View, stretch: Stretch, segment: Segment) -> Segment:
    mended: Flags | None = None
    disturbed: Flags | None = None
    if stretch.touched:
        disturbed = disturbed_by(view.defects, tuple(stretch.touched))
    for act in stretch.acts:
        change = change_of(view.defects, act)
        if change is not None:
            mended = change.mended if mended is None else mended | change.mended
            disturbed = change.disturbed if disturbed is None else disturbed | change.disturbed
    return replace(segment, mended=mended, disturbed=disturbed)


def without(evidence: Evidence, finding: str) -> Evidence:
    """The same evidence as if one finding had never been made; stretches without it stay what they are."""
    return replace(
        evidence, segments=tuple(segment.without(finding) for segment in evidence.segments)
    )
