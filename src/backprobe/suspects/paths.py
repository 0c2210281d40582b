"""From a defect to a code: what it opens on the way, and what the unit senses then."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from backprobe.base.units import show
from backprobe.book.model import CodeRule, Test
from backprobe.book.situations import Situation
from backprobe.suspects.codes import sensed_at, watches
from backprobe.suspects.view import View
from backprobe.suspects.visits import FUSES
from backprobe.suspects.wording import worked_out

HEARS = "{unit} hears nothing of {other}"
SENSED = {"volts": "pin {at}", "amps": "the driver of pin {at}", "rail": "the 5 V group {at}"}


def path_words(view: View, rule: CodeRule, situations: Sequence[Situation], hypothesis: int) -> str:
    """How a hypothesis sets a code, in the first situation its unit looks in; "" when none is."""
    situation = next((one for one in situations if watches(rule, one)), None)
    if situation is None:
        return ""
    senses = (_sensed(view, rule.unit, test, situation, hypothesis) for test in rule.tests)
    steps = (*_on_the_way(view, situation, hypothesis), *senses)
    return "; ".join(step for step in steps if step)


def _on_the_way(view: View, situation: Situation, hypothesis: int) -> Iterator[str]:
    """Fuses and breakers that are open by then and units that are off, on a healthy machine not."""
    for name, part in view.book.parts.items():
        if part.kind in FUSES:
            state = view.state(situation, name, "element", gone=False)
            if state is not None and state[hypothesis] > 0.0 and not state[0] > 0.0:
                yield f"{name} opens"
    for unit in dict.fromkeys(pin.part for pin in view.book.roles):
        power = view.state(situation, unit, "power", gone=False)
        if power is not None and power[hypothesis] != 1.0 and power[0] == 1.0:
            yield f"{unit} goes off"


def _sensed(view: View, unit: str, test: Test, situation: Situation, hypothesis: int) -> str:
    if test.kind == "hears":
        return HEARS.format(unit=unit, other=test.other)
    column = view.column(situation, sensed_at(unit, test), gone=False)
    if column is None:
        return ""
    measure = "A" if test.kind == "amps" else "V"
    found, healthy = (worked_out(abs(float(column.mean[k])), measure) for k in (hypothesis, 0))
    at = test.pin.name if test.pin else test.other
    where = SENSED.get(test.kind, "its supply").format(at=at)
    value = float(column.mean[hypothesis])
    low = test.low is not None and (test.high is None or value < test.high)
    limit = test.low if low else test.high
    if limit is None:
        return f"{unit} senses {found} at {where}, healthy {healthy}"
    side = "below" if low else "above"
    return f"{unit} senses {found} at {where}, healthy {healthy}; set {side} {show(limit, measure)}"
