"""What to do next: the check, repair or end of search that gets soonest to a proven repair."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from backprobe.book.model import Book
from backprobe.checks.cost import open_places, price, repair_price, seconds, walked
from backprobe.checks.generate import from_scene
from backprobe.checks.layout import layout_of
from backprobe.checks.model import Check, Priced, Proposal
from backprobe.checks.narrow import narrowed
from backprobe.checks.outcomes import FOUND, Forecast, Shown
from backprobe.checks.policy import Step, best_step, starting
from backprobe.checks.present import priced, priced_repair, priced_stop, repair_id
from backprobe.checks.proving import closing, proving
from backprobe.checks.safety import Live, allowed
from backprobe.checks.scene import AWAY, Scene, opened_for, scene_of
from backprobe.checks.stories import Stories, set_aside, stories_of
from backprobe.checks.table import Table
from backprobe.checks.wording import ask_words, left_words, listed, minutes, percent
from backprobe.defects.model import Flags, Floats, Predictor, RepairGroup
from backprobe.findings.fold import MENDING
from backprobe.findings.model import Act, Failing, JobState
from backprobe.kinds import KINDS
from backprobe.suspects.model import Belief, Verdict
from backprobe.suspects.view import View
from backprobe.suspects.weigh import conditions_told

ESCALATE_S = 180.0 * 60.0
"""Seconds of handing a job on. Judgement."""
COMEBACK_S = 240.0 * 60.0
"""Seconds a machine costs that comes back because a repair was proven while the fault was away.
Judgement."""
VAIN_S = 30.0 * 60.0
"""Seconds that a repair in vain costs beside its time: a good part replaced, a claim refused,
trust. Judgement."""
UNIT_IN_VAIN_S = 20.0 * 3600.0
"""The same for a control unit: it costs as much as days of work and seldom goes back. Judgement;
that a unit comes last, after its wires are proven, is common practice."""
NEVER_S = 1e7
"""Price of a repair that cannot be done here: handing the job on is always cheaper."""
LEAST_SAVING_S = 90.0
"""Expected seconds a check must save to be proposed before the repair of a suspect that is all but
certain. Judgement."""
OFFERED = 3
LEAST_BITS = 0.005
"""A check that tells less than this about the suspects is not offered."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A plan with its working. `checks` are those that may be done and tell something, with their
    forecast and price in `shown` and `seconds`; `table` is what is decided on."""

    scene: Scene
    stories: Stories
    checks: tuple[Check, ...]
    shown: tuple[Shown, ...]
    seconds: Floats
    table: Table
    repairs: Mapping[str, RepairGroup]

    @cached_property
    def step(self) -> Step:
        """What to do next; looked for when first asked."""
        return best_step(self.table, self.stories.mass)


def plan(
    book: Book, predictor: Predictor, job: JobState, belief: Belief, verdict: Verdict
) -> Proposal:
    """The next step of a job: the best one and up to two others, in order.

    Deterministic: the same job gives the same proposal.
    """
    proof = verdict.proof
    if proof is not None and proof.holds:
        return closed(closing(layout_of(book, KINDS), job, proof))
    made = planned(book, predictor, job, belief)
    if proof is None:
        return proposal(made, verdict)
    names = {key: group.words for key, group in made.repairs.items()}
    prove = proving(book, predictor, made.scene, proof, names)
    return proposal(made, verdict, prove if prove.check.id not in job.not_possible else None)


def closed(close: Priced) -> Proposal:
    """Nothing is left but to close the job."""
    words = f"The repair holds. {close.why} Next: {_lower(close.check.words)}."
    return Proposal(next=(close,), half_s=close.seconds, ninety_s=close.seconds, words=words)


def planned(book: Book, predictor: Predictor, job: JobState, belief: Belief) -> Plan:
    """plan() before it is put into words."""
    layout = layout_of(book, KINDS)
    defects = predictor.defects
    vain = in_vain(job)
    belief = set_aside(defects, belief, vain)
    scene = scene_of(layout, job, defects, belief)
    stories = stories_of(defects, belief)
    some = narrowed(predictor, stories.rows)
    wanted = [check for check in from_scene(scene) if check.id not in job.not_possible]
    safe = allowed(layout, wanted, Live(some, narrowed(some, np.zeros(1, np.int64))))
    forecasts = Forecast(View(book, some), stories, frozenset(conditions_told(job))).of(safe)
    told = [(c, s) for c, s in zip(safe, forecasts, strict=True) if s is not None]
    is_open = open_places(layout, job)
    cost = np.array([_seconds(scene, check, shown, stories, is_open) for check, shown in told])
    likely = set(stories.keys)
    repairs = {
        group.key: opened_for(scene, group) if group.key in likely else group
        for group in defects.groups
    }
    table = Table(
        seconds=cost,
        outcome=outcome_table([shown for _, shown in told], stories.mass.size),
        group=stories.group,
        repair=np.array(
            [
                NEVER_S
                if repair_id(key) in job.not_possible or key in vain
                else seconds(repair_price(layout, job, repairs[key]))
                for key in stories.keys
            ],
            float,
        ),
        escalate=ESCALATE_S,
        gone=stories.gone,
        comeback=COMEBACK_S,
        vain=np.array(
            [UNIT_IN_VAIN_S if key in layout.units else VAIN_S for key in stories.keys], float
        ),
        turns=turning([shown for _, shown in told]),
        showing=stories.showing,
    )
    return Plan(
        scene=scene,
        stories=stories,
        checks=tuple(check for check, _ in told),
        shown=tuple(shown for _, shown in told),
        seconds=cost,
        table=table,
        repairs=repairs,
    )


def in_vain(job: JobState) -> tuple[str, ...]:
    """What was mended, when it was said since that it still fails."""
    mended: dict[str, None] = {}
    found: dict[str, None] = {}
    for finding in job.findings:
        if isinstance(finding, Act) and finding.act in MENDING:
            mended[finding.target] = None
        elif isinstance(finding, Failing) and finding.trusted:
            found = {**found, **mended} if finding.answer == "yes" else {}
    return tuple(found)


def _seconds(
    scene: Scene, check: Check, shown: Shown, stories: Stories, is_open: frozenset[str]
) -> float:
    """Expected price of a check; a walk ends where something shows."""
    if check.does not in FOUND or shown.chance.shape[0] < 3:
        return seconds(price(scene.layout, scene.job, check, is_open))
    found = (shown.chance @ stories.mass)[:-1]
    return walked(scene.layout, scene.job, check, [float(x) for x in found], is_open)


def outcome_table(shown: Sequence[Shown], stories: int) -> Floats:
    """(C, O, K) chances, zero where a check has fewer outcomes than the widest."""
    widest = max((s.chance.shape[0] for s in shown), default=1)
    table: Floats = np.zeros((len(shown), widest, stories))
    for number, one in enumerate(shown):
        table[number, : one.chance.shape[0]] = one.chance
    return table


def turning(shown: Sequence[Shown]) -> Flags:
    """(C, O) outcomes after which the fault shows."""
    widest = max((s.chance.shape[0] for s in shown), default=1)
    flags: Flags = np.zeros((len(shown), widest), bool)
    for number, one in enumerate(shown):
        for outcome in one.turns:
            flags[number, outcome] = True
    return flags


def proposal(plan: Plan, verdict: Verdict, proof: Priced | None = None) -> Proposal:
    """A plan in words. Once one suspect is found a check that saves next to nothing is not worth doing.
    `proof`: what would prove a repair that was done; it comes before everything else."""
    step = plan.step
    groups = step.scores.groups
    found = bool(groups[:-1].max(initial=0.0) >= plan.table.sure * groups.sum())
    if found and step.does == "check" and step.promise_s[step.check] < LEAST_SAVING_S:
        step = starting(plan.table, plan.stories.mass, step)
    before = [] if found or proof is not None else _before(plan, step)
    offers: list[Priced] = []
    if proof is not None:
        offers.append(proof)
    elif step.does == "repair" and not before:
        offers.append(priced_repair(plan.scene, plan.table, plan.stories, plan.repairs, step))
    elif step.does == "stop" and not before:
        offers.append(priced_stop(plan.scene, plan.table))
    seen: set[tuple[str, str]] = set()
    for number in (*before, *step.ranking):
        check = plan.checks[number]
        subject = ("", check.opens[0]) if check.opens else (check.does, check.target)
        if len(offers) >= OFFERED:
            break
        if (step.scores.bits[number] < LEAST_BITS and number not in before) or subject in seen:
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
    names = listed([_lower(plan.checks[other].words.removesuffix(tail)) for other in others])
    return f"While {check.opens[0]} is open, about a minute each: {names}."


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
        odd = verdict.contradictions[0].words if verdict.contradictions else ""
        found.append(f"The findings do not add up. Measure again first. {odd}".rstrip())
    if offers:
        first = offers[0]
        found.append(f"Next: {first.check.words} ({minutes(first.seconds)}).")
    found.append(left_words(*left))
    return " ".join(found)
