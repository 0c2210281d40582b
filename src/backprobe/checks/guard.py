"""A reading that cannot tell, and the one at the same place that can."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from backprobe.book.model import MINUS, Book
from backprobe.book.situations import Lead
from backprobe.checks.layout import layout_of
from backprobe.checks.model import Check
from backprobe.checks.narrow import narrowed
from backprobe.checks.outcomes import Forecast, Shown
from backprobe.checks.readings import reading
from backprobe.checks.safety import Live, allowed
from backprobe.checks.scene import scene_of
from backprobe.checks.stories import Stories, stories_of
from backprobe.checks.table import Table
from backprobe.checks.wording import between
from backprobe.checks.worth import score
from backprobe.circuit.fittings import lamp_for
from backprobe.defects.model import Predictor
from backprobe.findings.model import JobState
from backprobe.kinds import KINDS
from backprobe.suspects.model import Belief

TELLS_BITS = 0.05
"""Information about the suspects from which on a reading is worth taking. Judgement."""
AWAY_V = 0.5
"""A reading so far from all that is expected is no usual one. Judgement."""


def cannot_tell(
    book: Book,
    predictor: Predictor,
    job: JobState,
    belief: Belief,
    check: Check,
    *,
    value: float | None = None,
) -> str:
    """Why a volt reading would tell nothing about the suspects that are left, and the loaded form
    that would; "" when it tells something, or no loaded form tells more. `value`: what it
    read, if it was taken; one that no suspect explains does tell something.

    Without current, a meter reads the full voltage through any resistance.
    """
    probe = check.probe
    if probe is None or probe.kind != "volts":
        return ""
    layout = layout_of(book, KINDS)
    scene = scene_of(layout, job, predictor.defects, belief)
    stories = stories_of(predictor.defects, belief)
    some = narrowed(predictor, stories.rows)
    loaded = [
        reading(layout, "volts", probe, situation)
        for situation in scene.live
        if situation.bare() != check.situation.bare()
    ]
    if probe.n == MINUS:
        lamp = Lead(kind=lamp_for(book.machine.volts), p=probe.p, n=MINUS)
        fitted = replace(check.situation, fitted=(*check.situation.fitted, lamp))
        loaded.append(reading(layout, "lamp", probe, fitted))
    safe = allowed(layout, loaded, Live(some))
    shown = Forecast(book, some, stories).of((check, *safe))
    asked = shown[0]
    if asked is None or asked.middle is None or _bits(asked, stories) > TELLS_BITS:
        return ""
    usual = int(np.argmax(asked.chance @ stories.mass))
    low, high = asked.middle[usual]
    if value is not None and not low - AWAY_V <= value <= high + AWAY_V:
        return ""
    better = [
        (_bits(one, stories), other)
        for other, one in zip(safe, shown[1:], strict=True)
        if one is not None
    ]
    # Of two that tell about as much, the one with the starter's amperes: no contact looks good then.
    best = max(
        better,
        key=lambda pair: (round(pair[0], 1), pair[1].situation.key == "crank", pair[0]),
        default=(0.0, check),
    )
    if best[0] <= TELLS_BITS:
        return ""
    return (
        f"It cannot tell: {between(low, high, 'V')} whichever suspect it is. Without current, a "
        f"meter reads the full voltage through any resistance. Read it under load: "
        f"{best[1].words[:1].lower()}{best[1].words[1:]}."
    )


def _bits(shown: Shown, stories: Stories) -> float:
    table = Table(
        seconds=np.ones(1),
        outcome=shown.chance[None],
        group=stories.group,
        repair=np.ones(len(stories.keys)),
        escalate=1.0,
    )
    return float(score(table, stories.mass).bits[0])
