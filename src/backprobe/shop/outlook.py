"""Where a job stands, and its next step: findings weighed, suspects ranked, a check planned.

Planning looks only at the hypotheses that still matter, so that a check in a situation nobody
has been in yet costs a fraction of a full prediction.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache
from threading import RLock

import numpy as np
from threadpoolctl import ThreadpoolController

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.book.values import attributes_of
from backprobe.checks.model import Proposal
from backprobe.checks.plan import plan
from backprobe.defects.model import Defects, Ints
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import AnyFinding, JobState
from backprobe.kinds import KINDS
from backprobe.shop.memory import give_back
from backprobe.suspects.model import NOT_IN_BOOK, Belief, Verdict
from backprobe.suspects.twofold import one_left
from backprobe.suspects.verdict import judge_with_pairs

_ONE_AT_A_TIME = RLock()
PLANNED = 240
"""Hypotheses the planner looks at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What is known and what may be wrong. `circuit`: that of the belief, with the pairs of faults
    that were weighed."""

    circuit: Circuit
    state: JobState
    belief: Belief
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What is known, what may be wrong, what to do next."""

    state: JobState
    verdict: Verdict
    proposal: Proposal


@contextmanager
def engine() -> Iterator[None]:
    """The engine for one thread at a time: a circuit remembers what it has worked out.

    Its matrices are small, so BLAS threads would only wait for each other (4x slower, measured).
    """
    give_back()
    with _ONE_AT_A_TIME, _libraries().limit(limits=1, user_api="blas"), _unswept():
        yield


@contextmanager
def _unswept() -> Iterator[None]:
    """Rings of objects are looked for when the engine is done: it makes few, and looking through all that
    it keeps takes three to six hundredths of its time (measured)."""
    if not gc.isenabled():
        yield
        return
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


@cache
def _libraries() -> ThreadpoolController:
    """Those with threads of their own, looked for once: that takes a hundredth of a round."""
    return ThreadpoolController()


def standing(circuit: Circuit, findings: Sequence[AnyFinding]) -> Standing:
    """Weigh the findings. Deterministic in (book, findings)."""
    with engine():
        state = state_of(circuit.book, findings)
        found = judge_with_pairs(circuit, state)
        return Standing(
            circuit=found.circuit, state=state, belief=found.belief, verdict=found.verdict
        )


def state_of(book: Book, findings: Sequence[AnyFinding]) -> JobState:
    """What is known on a machine of a book, before it is weighed."""
    return fold(findings, usual_life=usual_life(book))


def next_step(now: Standing) -> Proposal:
    """Plan the next check from where a job stands."""
    with engine():
        near, belief = planned_on(now)
        return plan(near.book, near, now.state, belief, now.verdict)


def planned_on(now: Standing) -> tuple[Circuit, Belief]:
    """The circuit and the belief cut down to what is worth planning on; two faults, one of which is
    mended, are the one that is left."""
    belief = one_left(now.circuit.defects, now.belief)
    whole = now.circuit
    if whole.defects.twofold.size:
        # Its pairs are this job's alone: what is worked out for them is let go with the plan.
        whole = whole.beside(cases=whole.cases, defects=whole.defects)
    kept = worth_planning(belief, whole.defects)
    return whole.within(kept, rough=True), narrowed(belief, whole, kept)


def usual_life(book: Book) -> tuple[Situation, ...]:
    """What a machine goes through in a day: key on, crank, run, and everything switched on.

    A fuse that any of it blows is found blown on arrival.
    """
    switches = frozenset(part.name for part in book.parts.values() if _by_hand(book, part.name))
    plain = (Situation(key="on"), Situation(key="crank"), Situation(key="run"))
    if not switches:
        return plain
    return (*plain, Situation(key="run", on=switches))


def _by_hand(book: Book, part: str) -> bool:
    """A switch that closes when the driver works it, and that no key position works by itself."""
    kind = KINDS[book.parts[part].kind]
    moved = next((state for state in kind.states if state.name == kind.operated), None)
    if moved is None or kind.letter != "S" or any(s.name == "key" for s in kind.states):
        return False
    closes = any(moved.words[1] in b.when.get(moved.name, ()) for b in kind.branches)
    attrs = attributes_of(book, part)
    return closes and not attrs.get("in") and not attrs.get("with")


def worth_planning(belief: Belief, defects: Defects) -> Ints:
    """Hypotheses for the planner: healthy first, then the likeliest; of two faults each alone, too."""
    order = np.argsort(-belief.hypothesis, kind="stable")[:PLANNED]
    order = order[belief.hypothesis[order] > 1e-7]
    rest = order[order != 0]
    return defects.with_halves(np.concatenate([[0], np.sort(rest)]).astype(np.int64))


def narrowed(belief: Belief, circuit: Circuit, kept: Ints) -> Belief:
    """The belief over the kept hypotheses alone, summing to 1 again."""
    atoms = np.unique(circuit.defects.atom_of[kept])
    stories = np.isin(belief.atom, atoms) | (belief.atom == NOT_IN_BOOK)
    chance = belief.chance[stories]
    hypothesis = belief.hypothesis[kept]
    scale = chance.sum()
    return replace(
        belief,
        atom=belief.atom[stories],
        sometimes=belief.sometimes[stories],
        chance=chance / scale,
        present=belief.present[stories],
        mended=None if belief.mended is None else belief.mended[stories],
        hypothesis=hypothesis / scale,
    )
