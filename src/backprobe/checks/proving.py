"""After a repair: what would prove it, and the end of the job once it is proven."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.checks.cost import BY_CLASS, price, seconds
from backprobe.checks.layout import Layout
from backprobe.checks.mending import TURNING, proof_hazards
from backprobe.checks.model import Check, Outcome, Priced
from backprobe.checks.narrow import narrowed
from backprobe.checks.scene import Scene
from backprobe.checks.steps import cautions
from backprobe.checks.told_by import told_by
from backprobe.checks.wording import listed, percent
from backprobe.defects.model import Defects, Predictor
from backprobe.findings.fold import fold, usual_life
from backprobe.findings.model import Condition, Failing, JobState
from backprobe.suspects.model import Belief, Proof
from backprobe.suspects.verdict import group_chances, mended_chances
from backprobe.suspects.weigh import weigh

EXPOSED: Final[Mapping[str, str]] = {
    "": "Use the machine as it was when it failed.",
    "wet": "Wet the mended place again, with a hand spray and a pinch of salt in the water.",
    "hot": "Bring the machine to working heat, the mended place too.",
    "moved": "Move and shake the mended place while you watch.",
}
"""How a condition is brought about once more."""
EXPOSED_STILL: Final = "Move and shake the mended place while the engine stands."
UNDER_LOAD: Final = (
    "What failed before must pass now under load{told}; {moved}; clear the codes, three key cycles, codes "
    "again."
)
MOVED: Final = "move the mended place by hand"
MOVED_STILL: Final = f"{MOVED} while the engine stands, never while it turns, and try once more"
CLOSE_S: Final = 15.0 * 60.0
"""Seconds to put back, clear the codes and write it up. Judgement."""


def proof_steps(condition: str, key: str, told: str = "") -> tuple[str, ...]:
    """What a repair must stand, in the condition and with the key it failed in. `told`: of told_by()."""
    turns = key in TURNING
    moved = MOVED_STILL if turns else MOVED
    tried = UNDER_LOAD.format(told=f": {told}" if told else "", moved=moved)
    if condition == "moved" and turns:
        return (EXPOSED_STILL, tried)
    return (EXPOSED[condition], tried) if condition else (tried,)


def proving(
    book: Book, predictor: Predictor, scene: Scene, proof: Proof, names: Mapping[str, str]
) -> Priced:
    """Expose the mended machine to what it failed in, and see whether the fault stays away.
    `names`: words of the suspect groups by key."""
    check = _check(scene, proof.group, proof.mended, proof.awaited)
    told = told_by(scene.layout, scene.job, narrowed(predictor, np.zeros(1, np.int64)))
    usual = () if proof.awaited else (EXPOSED[""],)
    away = weigh(book, predictor, _after(scene.job, check, again=False))
    again = weigh(book, predictor, _after(scene.job, check, again=True))
    chance = float(1.0 / (1.0 + np.exp(away.evidence - again.evidence)))
    return Priced(
        check=check,
        seconds=seconds(price(scene.layout, scene.job, check)),
        healthy=None,
        tolerance=None,
        healthy_words="It stays away.",
        outcomes=(
            Outcome(
                words="stays away: that speaks for the repair",
                chance=1.0 - chance,
                leaves=(),
                word="stays away",
            ),
            Outcome(
                words=_again(predictor.defects, again, names),
                chance=chance,
                leaves=_left(predictor.defects, again),
                word="shows again",
            ),
        ),
        gain_s=0.0,
        bits=0.0,
        steps=(*_whole(scene.job), *usual, *proof_steps(proof.awaited, check.situation.key, told)),
        cautions=cautions(check),
        why=f"{proof.mended} is mended, but a fault may still be there: {percent(proof.still)}. "
        + (
            "A fault that comes and goes is not proven gone by a quiet hour."
            if proof.awaited
            else "What was seen since would have been seen with it, too."
        ),
    )


def proof_s(scene: Scene) -> float:
    """Seconds of proving what was mended."""
    return seconds(price(scene.layout, scene.job, _check(scene, "", "", "")))


def _check(scene: Scene, group: str, mended: str, condition: Condition) -> Check:
    there = scene.live[0].bare() if scene.live else Situation(key="on")
    whole = Situation(key=there.key, on=there.on, after=scene.past)
    return Check(
        id=f"prove {group} {condition}".strip(),
        does="prove",
        target=group,
        words=f"Prove the repair of {mended}: does it stay away?",
        situation=whole,
        condition=condition,
        hazards=tuple(dict.fromkeys(proof_hazards(scene, condition))),
        people=2 if whole.key == "crank" else 1,
        seconds=BY_CLASS["prove"][0],
    )


def closing(layout: Layout, job: JobState, proof: Proof) -> Priced:
    """The end of a job whose repair holds."""
    check = Check(
        id="close",
        does="stop",
        target="job",
        words="Put everything back, clear the codes, write it up",
        situation=Situation(key="off"),
        hazards=("unplug-live",) if job.put_back else (),
        seconds=CLOSE_S,
    )
    return Priced(
        check=check,
        seconds=seconds(price(layout, job, check)),
        healthy=None,
        tolerance=None,
        healthy_words="",
        outcomes=(),
        gain_s=0.0,
        bits=0.0,
        steps=(
            *_whole(job),
            "Clear the codes, three key cycles, read them again: none may come back.",
            "Ask why it happened and where else it can, and keep it from happening there.",
            f"Write it up: what was found, {proof.mended} mended, what was read after it, the time.",
        ),
        cautions=cautions(check),
        why=proof.words,
    )


def _whole(job: JobState) -> tuple[str, ...]:
    return (f"Put back: {listed(list(job.put_back))}.",) if job.put_back else ()


def _after(job: JobState, check: Check, *, again: bool) -> JobState:
    """The job once the proof is tried."""
    condition: Condition = next(c for c in ("", "wet", "hot", "moved") if c == check.condition)
    tried = Failing(
        id="proof",
        visit=job.visit + 1,
        situation=replace(check.situation, after=None),
        answer="yes" if again else "gone",
        condition=condition,
    )
    return fold((*job.findings, tried), start=job.now, usual_life=usual_life(job))


def _left(defects: Defects, belief: Belief) -> tuple[tuple[str, float], ...]:
    """Groups by the chance that they are still faulty, likeliest first."""
    mended = mended_chances(defects, belief)
    still = {g: c - mended.get(g, 0.0) for g, c in group_chances(defects, belief).items()}
    ranked = sorted(still, key=lambda g: (-still[g], g))[:3]
    return tuple((group, still[group]) for group in ranked if still[group] > 0.02)


def _again(defects: Defects, belief: Belief, names: Mapping[str, str]) -> str:
    left = [f"{names.get(g, g)} {percent(chance)}" for g, chance in _left(defects, belief)[:2]]
    return f"shows again: {', '.join(left)}" if left else "shows again"
