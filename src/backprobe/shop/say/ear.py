"""What the listener knows while it reads a text: the book, how the machine stands, what was wrong."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from backprobe.base.problems import Problem
from backprobe.book.lines import Bit, Line
from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.findings.model import AnyFinding, JobState, Works
from backprobe.shop.say.forms import Form
from backprobe.shop.say.names import Names
from backprobe.shop.say.trouble import WORDING


@dataclass(frozen=True, slots=True, kw_only=True)
class Sentence:
    """One finding as typed: its form, what follows the form's beginning, the items after commas."""

    form: Form
    line: Line
    rest: Bit
    items: tuple[Bit, ...]


@dataclass(slots=True)
class Ear:
    """`now` is the situation a sentence is taken in unless it says another; `key_said` whether
    anything on this job has said where the key was; `asking`: nothing was read."""

    book: Book
    names: Names
    now: Situation
    visit: int
    known: tuple[AnyFinding, ...]
    key_said: bool
    findings: list[AnyFinding] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    asking: bool = False

    @staticmethod
    def of(book: Book, state: JobState) -> Ear:
        """An ear for a job in a state."""
        last = state.findings[-1] if state.findings else None
        names = Names(book)
        return Ear(
            book=book,
            names=names,
            now=at_rest(names, state.now, last),
            visit=state.visit,
            known=state.findings,
            key_said=bool(state.findings),
        )

    def doubt(self, slug: str, line: Line, bit: Bit, **facts: str) -> None:
        """Note what is wrong with a stretch of a line."""
        wording = WORDING[slug]
        self.problems.append(
            Problem(
                slug=slug,
                weight="error",
                at=line.spot(bit),
                what=wording.what.format(**facts),
                why=wording.why.format(**facts),
                remedy=wording.remedy.format(**facts),
            )
        )

    def take(self, finding: AnyFinding) -> None:
        """Keep a finding; the next sentence is heard in the situation it leaves."""
        self.findings.append(finding)
        self.now = at_rest(self.names, finding.situation, finding)
        self.key_said = True


def at_rest(names: Names, situation: Situation, last: AnyFinding | None) -> Situation:
    """What stays of a situation once its finding is taken: the key springs back from cranking,
    and what was switched on only to try something is off again."""
    tried = names.switches_of(last.target) if isinstance(last, Works) else frozenset()
    return replace(
        situation.bare(),
        key="on" if situation.key == "crank" else situation.key,
        on=situation.on - tried,
        renewed=frozenset(),
    )
