"""A job as a value: a book's circuit and the findings so far. The public Python API.

book, problems = backprobe.read_book(text)
job = backprobe.start(book)
job = job.note(CodesFound(unit="ECU", active=("157/4", "94/4")))
job.suspects        # ranked, with chances and reasons
job.next_checks     # what to do, what to expect, what each outcome leaves
job.expect(Probe(kind="volts", p="X10.3"), defect="wire 41a/to ground/hinge")
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache

from backprobe.base.problems import Problem
from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.checks.model import Check, Priced, Proposal
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.findings.model import AnyFinding, JobState
from backprobe.shop.crew import everyone
from backprobe.shop.expect import Expected, expect
from backprobe.shop.fitting import unfit
from backprobe.shop.outlook import Outlook, Standing, engine, next_step, standing, state_of
from backprobe.shop.unloaded import may_be_remarked, remarks
from backprobe.suspects.model import Belief, Suspect, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A job in progress. Nothing is changed in place: note() gives the job with more findings.

    Made by start(). Equal findings on equal books give equal answers. `problems`: what note() left
    out last, and why.
    """

    circuit: Circuit
    findings: tuple[AnyFinding, ...] = ()
    problems: tuple[Problem, ...] = field(default=(), compare=False)

    @property
    def book(self) -> Book:
        """The wiring book of the machine."""
        return self.circuit.book

    def note(self, *findings: AnyFinding) -> Job:
        """The job with more findings; those without an id are numbered "f1", "f2", ...

        A finding about something the book does not have, or a value no display or meter can show, is
        not taken in, and with it none of the others: `problems` of the returned job says why, and
        its findings are those before. It never raises for what a person found.
        """
        wrong = unfit(self.circuit, findings)
        if wrong:
            return replace(self, problems=wrong)
        known = list(self.findings)
        for finding in findings:
            ident = finding.id or f"f{len(known) + 1}"
            known.append(replace(finding, id=ident))
        return replace(self, findings=tuple(known), problems=())

    @property
    def outlook(self) -> Outlook:
        """State, verdict and proposal at once; computed when first asked for."""
        return Outlook(state=self.state, verdict=self.verdict, proposal=self.proposal)

    @property
    def state(self) -> JobState:
        """What is known, open, pulled; what must be put back. Nothing is weighed for it."""
        return state_of(self.book, self.findings)

    @property
    def verdict(self) -> Verdict:
        """Suspects, contradictions, and whether the job is decided."""
        return _standing(self).verdict

    @property
    def belief(self) -> Belief:
        """The chance of every fault of `weighed`, and of its severities."""
        return _standing(self).belief

    @property
    def weighed(self) -> Circuit:
        """The circuit with all that was weighed: every single fault, and the pairs of faults that
        the findings leave room for, after them."""
        return _standing(self).circuit

    @property
    def suspects(self) -> tuple[Suspect, ...]:
        """What it could be, likeliest first, grouped by what would be opened or replaced."""
        return self.verdict.suspects

    @property
    def proposal(self) -> Proposal:
        """What to do next and how long it may still take."""
        return _proposal(self)

    @property
    def next_checks(self) -> tuple[Priced, ...]:
        """The best check and up to two others."""
        return self.proposal.next

    def remarks(self, *fresh: AnyFinding) -> tuple[str, ...]:
        """What is to be said of findings about to be noted, one remark each: that an unloaded volt
        reading cannot tell the suspects apart, and the loaded reading that can; mostly ""."""
        if not any(may_be_remarked(finding) for finding in fresh):
            return ("",) * len(fresh)
        return remarks(_standing(self), fresh)

    def expect(
        self,
        what: Probe | Check,
        *,
        defect: str = "healthy",
        situation: Situation | None = None,
    ) -> tuple[Expected, ...]:
        """What a reading or check would show on a healthy machine or with one defect.

        `defect`: an atom's id, or words that begin its name. One row per severity.
        KeyError names a defect, node or part that does not exist.
        """
        with engine():
            return expect(self.circuit, what, defect=defect, situation=situation)


@lru_cache(maxsize=24)
def _standing(job: Job) -> Standing:
    return standing(job.circuit, job.findings)


@lru_cache(maxsize=24)
def _proposal(job: Job) -> Proposal:
    return next_step(_standing(job))


def start(book: Book) -> Job:
    """A new job on a machine of this book."""
    return Job(circuit=Circuit.of(book, everyone()))
