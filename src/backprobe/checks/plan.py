"""What to do next: the check, repair or end of search that gets soonest to a proven repair."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from backprobe.book.model import Book
from backprobe.checks.draft import Plan, in_vain, soon_planned
from backprobe.checks.layout import layout_of
from backprobe.checks.model import Priced, Proposal
from backprobe.checks.policy import Step, starting
from backprobe.checks.present import priced, priced_repair, priced_stop
from backprobe.checks.proving import closing, proving
from backprobe.checks.scene import AWAY
from backprobe.checks.stories import MENDED
from backprobe.checks.told_by import told_by
from backprobe.checks.wording import ask_words, left_words, listed, minutes, percent
from backprobe.defects.model import Predictor
from backprobe.findings.model import JobState
from backprobe.kinds import KINDS
from backprobe.suspects.model import Belief, Verdict
from backprobe.suspects.proof import proof_so_far
from backprobe.suspects.verdict import mended_chances

LEAST_SAVING_S = 90.0
"""Expected seconds a check must save to be proposed before the repair of a suspect that is all but
certain. Judgement."""
OFFERED = 3
WIRED = re.compile(r"pin \S+ \(wire [^)]*\)")
"""A pin and its wire, as checks name them."""
LEAST_BITS = 0.005
"""A check that tells less than this about the suspects is not offered."""


def plan(
    book: Book, predictor: Predictor, job: JobState, belief: Belief, verdict: Verdict
) -> Proposal:
    """The next step of a job: the best one and up to two others, in order.

    Deterministic: the same job gives the same proposal.
    """
    proof = verdict.proof
    if proof is not None and proof.holds:
        return closed(closing(layout_of(book, KINDS), job, proof))
    made = soon_planned(book, predictor, job, belief)
    if proof is None and _ends_mended(made):
        mended = mended_chances(predictor.defects, belief)
        proof = proof_so_far(predictor.defects, belief, job, mended)
    if proof is None:
        return proposal(made, verdict)
    names = {key: group.words for key, group in made.repairs.items()}
    prove = proving(book, predictor, made.scene, proof, names)
    return proposal(made, verdict, prove if prove.check.id not in job.not_possible else None)


def closed(close: Priced) -> Proposal:
    """Nothing is left but to close the job."""
    words = f"The repair holds. {close.why} Next: {_lower(close.check.words)}."
    return Proposal(next=(close,), half_s=close.seconds, ninety_s=close.seconds, words=words)


def proposal(plan: Plan, verdict: Verdict, proof: Priced | None = None) -> Proposal:
    """A plan in words. Once one suspect is found a check that saves next to nothing is not worth doing.
    `proof`: what would prove a repair that was done; it comes before everything else."""
    step, found = _chosen(plan)
    before = [] if found or proof is not None else _before(plan, step)
    offers: list[Priced] = []
    if proof is not None:
        offers.append(proof)
    elif step.does == "repair" and not before and plan.stories.keys[step.group] != MENDED:
        told = told_by(plan.scene.layout, plan.scene.job, plan.sound)
        offers.append(priced_repair(plan.scene, plan.table, plan.stories, plan.repairs, step, told))
    elif step.does == "stop" and not before:
        offers.append(priced_stop(plan.scene, plan.table))
    seen: set[tuple[str, str]] = set()
    for number in (*before, *step.ranking):
        check = plan.checks[number]
        subject = ("", check.opens[0]) if check.opens else (check.does, check.target)
        if len(offers) >= OFFERED:
            break
        if subject in seen or (number not in before and not _worthwhile(step, int(number))):
            continue
        seen.add(subject)
        offers.append(
            priced(
                plan.scene,
                plan.stories,
                plan.repairs,
                check,
                plan.shown[number],
                after=plan.table.groups_after(int(number), plan.stories.mass),
                seconds=float(plan.seconds[number]),
                gain_s=float(step.promise_s[number]),
                bits=float(step.scores.bits[number]),
                more=_batch(plan, int(number)),
            )
        )
    half_s, ninety_s = step.ends.within(0.5, 0.9)
    job = plan.scene.job
    ask = ask_words(job.worked_s, half_s, job.approved_s)
    words = " ".join((_words(plan, verdict, offers, (half_s, ninety_s)), ask)).rstrip()
    return Proposal(next=tuple(offers), half_s=half_s, ninety_s=ninety_s, ask=ask, words=words)


def _worthwhile(step: Step, number: int) -> bool:
    """Whether a check tells something and saves more minutes than it takes."""
    bits, saved_s = step.scores.bits[number], step.promise_s[number]
    return bool(bits >= LEAST_BITS and saved_s > 0.0)


def _chosen(plan: Plan) -> tuple[Step, bool]:
    """What to do next, and whether one suspect is found. What tells nothing is no check to begin with,
    though it opens what a repair spares more for than it takes."""
    step = plan.step
    groups = step.scores.groups
    found = bool((groups[:-1] >= plan.table.found_at * groups.sum()).any())
    if step.does != "check":
        return step, found
    if not _worthwhile(step, step.check):
        telling = [int(n) for n in step.ranking if _worthwhile(step, int(n))]
        step = replace(step, check=telling[0] if telling else -1)
    if step.check < 0 or (found and step.promise_s[step.check] < LEAST_SAVING_S):
        step = starting(plan.table, plan.stories.mass, step)
    return step, found


def _ends_mended(plan: Plan) -> bool:
    """Whether the next step is to see if what was mended holds."""
    step, _ = _chosen(plan)
    return step.does == "repair" and plan.stories.keys[step.group] == MENDED


def _before(plan: Plan, step: Step) -> list[int]:
    """What comes before a repair or the end of the search (common practice, no source). Where what is
    suspected does not show and a fuse stands open: a new one, so that the fault can be brought back.
    Before the job is handed on: waiting for a fault that is away."""
    if step.does == "check":
        return []
    scene = plan.scene
    fresh = [
        n
        for n, check in enumerate(plan.checks)
        if check.does == "new fuse" and check.target not in scene.renewed and scene.away > AWAY
    ]
    if fresh:
        return [min(fresh, key=lambda n: (plan.seconds[n], n))]
    wait = step.does == "stop"
    return [n for n, check in enumerate(plan.checks) if check.does == "trap" and wait]


def _batch(plan: Plan, number: int) -> str:
    """Other telling readings at the same open place, in the same situation."""
    check = plan.checks[number]
    if not check.opens or check.does not in ("volts", "drop", "millivolts"):
        return ""
    bits = plan.step.scores.bits
    others = [
        other
        for other in np.argsort(-bits, kind="stable")
        if other != number
        and bits[other] > 5.0 * LEAST_BITS
        and plan.checks[other].opens == check.opens
        and plan.checks[other].situation == check.situation
        and plan.checks[other].does in ("volts", "drop", "millivolts")
    ][:2]
    if not others:
        return ""
    tail = f", {check.situation.words()}"
    named = set(WIRED.findall(check.words))
    names: list[str] = []
    for other in others:
        words = plan.checks[other].words.removesuffix(tail)
        names.append(_lower(WIRED.sub(lambda pin: _told_once(pin, named), words)))
    return f"While you are at {check.opens[0]}, about a minute each: {listed(names)}."


def _told_once(pin: re.Match[str], named: set[str]) -> str:
    """A pin with its wire, or by itself where it was named before."""
    words = pin[0]
    if words in named:
        return words.partition(" (")[0]
    named.add(words)
    return words


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]


def _words(plan: Plan, verdict: Verdict, offers: Sequence[Priced], left: tuple[float, ...]) -> str:
    job = plan.scene.job
    found: list[str] = []
    if job.failing == "unknown" and not job.repaired:
        found.append("Say first whether it is failing right now.")
    if verdict.state == "mended" and verdict.proof is not None:
        found.append(
            f"Mended, not proven: {verdict.proof.mended}. A fault may still be there "
            f"({percent(verdict.proof.still)})."
        )
    vain = in_vain(job)
    if vain:
        found.append(f"Mended and it still fails, so look elsewhere: {listed(list(vain))}.")
    if verdict.state == "gone":
        found.append("It is not failing now: bring it back, or look for damage that stays.")
    if verdict.state == "odd":
        found.append("The findings do not add up. Measure again first.")
        found += [f"{odd.words[:1].upper()}{odd.words[1:]}." for odd in verdict.contradictions[:1]]
    if offers:
        first = offers[0]
        found.append(f"Next: {first.check.words} ({minutes(first.seconds)}).")
    found.append(left_words(*left))
    return " ".join(found)
