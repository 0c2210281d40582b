"""A check with its price, its promise and its words, ready to be shown."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from backprobe.book.situations import Situation
from backprobe.checks.at_step import PROVE
from backprobe.checks.bins import LEAST
from backprobe.checks.mending import failing_key, repair_hazards, repair_words
from backprobe.checks.model import Check, Outcome, Priced
from backprobe.checks.outcomes import Shown
from backprobe.checks.policy import Step
from backprobe.checks.proving import proof_steps
from backprobe.checks.scene import Scene
from backprobe.checks.steps import cautions, healthy_words, steps
from backprobe.checks.stories import ELSEWHERE, MENDED, Stories
from backprobe.checks.table import Table
from backprobe.checks.wording import between, minutes, percent
from backprobe.defects.model import Floats, RepairGroup
from backprobe.suspects.proof import awaited

NAMED = 3
POINT = 0.01
"""A chance that moves by less says nothing."""
WAIT = "While the fault is away, nothing within reach tells enough. It will come again."
PROOF_PASSES = 0.97
"""Chance that the repair of the right place proves good. Judgement."""


def priced(
    scene: Scene,
    stories: Stories,
    repairs: Mapping[str, RepairGroup],
    check: Check,
    shown: Shown,
    *,
    after: Floats,
    seconds: float,
    gain_s: float,
    bits: float,
    more: str = "",
) -> Priced:
    """A check in words. `after` (O, G+1): masses of the groups by outcome."""
    healthy = _healthy(shown)
    outcomes = [
        one
        for number in range(shown.chance.shape[0])
        if (one := _outcome(stories, repairs, shown, number, after[number])) is not None
    ]
    return Priced(
        check=check,
        seconds=seconds,
        healthy=shown.healthy,
        tolerance=None if shown.sigma is None else 2.0 * shown.sigma,
        healthy_words=healthy,
        outcomes=tuple(outcomes),
        gain_s=gain_s,
        bits=bits,
        steps=steps(scene.layout, scene.job, check, healthy, more),
        cautions=cautions(check),
        why=WAIT if check.does == "trap" else _why(after, gain_s, repairs, stories),
    )


def _healthy(shown: Shown) -> str:
    if shown.healthy is not None and shown.sigma is not None:
        return healthy_words(shown.healthy, shown.sigma, shown.unit)
    if shown.turns or not shown.words:
        return ""
    return f"Healthy: {shown.words[shown.usual]}."


def _outcome(
    stories: Stories,
    repairs: Mapping[str, RepairGroup],
    shown: Shown,
    number: int,
    masses: Floats,
) -> Outcome | None:
    chance = float(masses.sum())
    if chance < LEAST:
        return None
    leaves = leaves_of(stories, masses)
    low = high = typical = None
    if shown.words:
        said = shown.words[number]
    else:
        middle, edges = shown.middle, shown.edges
        if middle is None or edges is None:
            return None
        said = between(float(middle[number][0]), float(middle[number][1]), shown.unit)
        low, high = float(edges[number]), float(edges[number + 1])
        typical = float(middle[number].mean())
    names = ", ".join(
        f"{repairs[key].words if key in repairs else key} {percent(share)}"
        for key, share in leaves[:2]
    )
    return Outcome(
        words=f"{said}: {names}" if names else said,
        chance=chance,
        leaves=leaves,
        low=low,
        high=high,
        typical=typical,
        word=shown.words[number] if shown.words else "",
    )


def leaves_of(stories: Stories, masses: Floats) -> tuple[tuple[str, float], ...]:
    """The likeliest groups of masses (G+1,), as shares of their sum."""
    total = float(masses.sum())
    names = (*stories.keys, ELSEWHERE)
    ranked = np.argsort(-masses, kind="stable")[:NAMED]
    return tuple((names[g], float(masses[g]) / total) for g in ranked if masses[g] > 0.02 * total)


def _why(after: Floats, gain_s: float, repairs: Mapping[str, RepairGroup], stories: Stories) -> str:
    now = after.sum(axis=0)
    count = sum(key != MENDED for key in stories.keys)
    top = int(np.argmax(now[:count])) if count else -1
    told = after[after.sum(axis=1) > LEAST]
    shares = told[:, top] / told.sum(axis=1) if top >= 0 and told.size else np.zeros(1)
    words = []
    if top >= 0:
        name, was = repairs[stories.keys[top]].words, float(now[top] / now.sum())
        most, least = float(shares.max()), float(shares.min())
        if max(abs(most - was), abs(least - was)) >= POINT:
            words.append(
                f"Takes {name} from {percent(was)} to {percent(most)} or {percent(least)}."
            )
    if gain_s >= 30.0:
        words.append(f"Saves about {minutes(gain_s)} against repairing on suspicion.")
    return " ".join(words)


def repair_id(group: str) -> str:
    """Id of the check that mends a group."""
    return f"repair {group}"


def priced_repair(
    scene: Scene,
    table: Table,
    stories: Stories,
    repairs: Mapping[str, RepairGroup],
    step: Step,
    told: str = "",
) -> Priced:
    """Mend a suspect now, and prove it. `told`: of told_by()."""
    key = stories.keys[step.group]
    group = repairs[key]
    masses = step.scores.groups
    chance = float(masses[step.group] / masses.sum()) * PROOF_PASSES
    rest = masses.copy()
    rest[step.group] *= 1.0 - PROOF_PASSES
    spent = float(table.repair[step.group])
    condition = awaited(scene.job.findings)
    check = Check(
        id=repair_id(key),
        does="repair",
        target=key,
        words=f"{repair_words(scene.layout, group)} and prove it",
        situation=Situation(key="off", after=scene.past),
        opens=group.access,
        hazards=repair_hazards(scene, group, condition),
        seconds=group.mend_s,
        condition=condition,
    )
    words = steps(scene.layout, scene.job, check)
    proof = proof_steps(condition, failing_key(scene), told)
    return Priced(
        check=check,
        seconds=spent,
        healthy=None,
        tolerance=None,
        healthy_words="The proof passes.",
        outcomes=(
            Outcome(
                words=f"the proof passes: {group.words} it was",
                chance=chance,
                leaves=((key, 1.0),),
                word="passes",
            ),
            Outcome(
                words="still there: the search goes on",
                chance=1.0 - chance,
                leaves=leaves_of(stories, rest),
                word="fails",
            ),
        ),
        gain_s=max(0.0, table.handing_on_s(masses) - step.left_s),
        bits=0.0,
        steps=(*words, " ".join((PROVE, *proof))),
        cautions=cautions(check),
        why=f"No check that is worth its minutes is left: {group.words} stands at "
        f"{percent(float(masses[step.group] / masses.sum()))}.",
    )


def priced_stop(scene: Scene, table: Table) -> Priced:
    """The end of the search: hand the job on."""
    words = "Stop here and ask for help: hand on what was found and what was ruled out"
    check = Check(
        id="stop",
        does="stop",
        target="job",
        words=words,
        situation=Situation(key="off", after=scene.past),
        seconds=table.escalate,
    )
    return Priced(
        check=check,
        seconds=table.escalate,
        healthy=None,
        tolerance=None,
        healthy_words="",
        outcomes=(),
        gain_s=0.0,
        bits=0.0,
        steps=(f"{words}.",),
        cautions=(),
        why="No repair or check within reach is worth its minutes any more.",
    )
