"""Which hypotheses are worth weighing once measuring has begun.

What is noted on arrival, or after a repair, is weighed under every hypothesis. All but one in ten
thousand of the belief then sits on a few hundred of them, and on the halves of pairs that the codes
leave room for; only those are followed into every situation a check needs. Whoever finds that they
do not explain what was measured looks at all again.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from backprobe.book.situations import Situation
from backprobe.defects.model import Floats, Ints
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import MENDING, fold, usual_life
from backprobe.findings.model import (
    Act,
    AnyFinding,
    DisplayRead,
    JobState,
    Looked,
    Provoked,
    Reading,
)
from backprobe.suspects.twofold import of_singles
from backprobe.suspects.weigh import finished

LEFT_OUT = 1e-4
"""Share of the belief on arrival that is not looked at any further."""
LEAST = 400
"""Hypotheses that are followed whatever they hold."""
MEASURED = (Reading, DisplayRead, Looked, Provoked, Act)
"""What is found by measuring, looking closely or repairing."""


def screened(circuit: Circuit, job: JobState) -> Circuit:
    """The circuit with the hypotheses worth weighing; itself while nothing has been measured since
    the machine came in, or since something was mended: what the first of two faults hid has
    something to show only then."""
    known = taken_in(job)
    if not known or len(known) == len(job.findings):
        return circuit
    return _followed(circuit, fold(known, usual_life=usual_life(job)))


def taken_in(job: JobState) -> tuple[AnyFinding, ...]:
    """The findings before the first that was measured, looked at, or made with something opened; or
    before the first of these after the last repair."""
    mended = [n for n, f in enumerate(job.findings) if isinstance(f, Act) and f.act in MENDING]
    begin = mended[-1] + 1 if mended else 0
    for number, finding in enumerate(job.findings[begin:], begin):
        later = finding.visit > 1 and not mended
        if isinstance(finding, MEASURED) or _opened(finding.situation) or later:
            return job.findings[:number]
    return job.findings


def _opened(situation: Situation) -> bool:
    return bool(
        situation.unplugged or situation.pulled or situation.fitted or situation.battery_off
    )


@lru_cache(maxsize=2)
def _followed(circuit: Circuit, job: JobState) -> Circuit:
    view, evidence, told, pairs = of_singles(circuit, job)
    rows = _worth_weighing(finished(view, job, told, evidence).hypothesis)
    if pairs is not None:
        rows = np.unique(np.concatenate([rows, pairs.first, pairs.second]))
    # All severities of what is followed: a cell reaches as far as its neighbours let it.
    rows = np.flatnonzero(np.isin(circuit.defects.atom_of, circuit.defects.atom_of[rows]))
    if rows.size > circuit.cases.count // 2:
        return circuit
    some = circuit.only(rows, defects=circuit.defects.only(rows))
    some.made = {"kept": view.kept.only(rows, view.spread)}
    return some


def _worth_weighing(chance: Floats) -> Ints:
    """Numbers of the hypotheses, rising and healthy first, that hold nearly all the belief."""
    order = np.argsort(-chance, kind="stable")
    held = np.cumsum(chance[order])
    many = int(np.searchsorted(held, (1.0 - LEFT_OUT) * held[-1])) + 1
    return np.union1d(order[: max(many, LEAST)], 0)
