"""Every finding left out in one pass to the end and one back: against leaving it out and going again."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Literal

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backprobe.book.model import CodeRule
from backprobe.book.situations import Situation
from backprobe.defects.model import Defects
from backprobe.findings.model import (
    Act,
    AnyFinding,
    CodesFound,
    Condition,
    Failing,
    JobState,
    Reading,
)
from backprobe.suspects.evidence import Evidence, ask, gather, without
from backprobe.suspects.filter import filtered, filtered_without, laid
from backprobe.suspects.view import View

RUN = Situation(key="run")
CONDITIONS: tuple[Condition, ...] = ("", "wet", "hot")
HYPOTHESES = 6
"""Healthy, four singles, two of them together."""


@st.composite
def findings(draw: Any, stretches: int = 7) -> list[AnyFinding]:
    """What may come in over a few visits: lists, readings, failing, repairs and touches."""
    made: list[AnyFinding] = []
    for visit in range(1, draw(st.integers(1, stretches)) + 1):
        at: Any = {"visit": visit, "situation": RUN}
        for _ in range(draw(st.integers(1, 3))):
            name = f"f{len(made)}"
            match draw(st.sampled_from(["codes", "volts", "jumps", "failing", "act"])):
                case "codes":
                    listed = draw(st.sets(st.sampled_from(["1/4", "2/4", "3/4"])))
                    kept = draw(st.booleans())
                    sort = {"stored" if kept else "active": tuple(sorted(listed))}
                    made.append(CodesFound(id=name, unit="U", complete=True, **sort, **at))
                case "volts" | "jumps" as how:
                    volts = draw(st.sampled_from([0.2, 2.0, 11.5]))
                    place = draw(st.sampled_from(["P1", "P2"]))
                    to = 0.2 if how == "jumps" else None
                    made.append(Reading(id=name, p=place, value=volts, to=to, **at))
                case "failing":
                    answer: Literal["yes", "gone", "only when"] = draw(
                        st.sampled_from(["yes", "gone", "only when"])
                    )
                    when = draw(st.sampled_from(CONDITIONS[answer == "only when" :]))
                    made.append(Failing(id=name, answer=answer, condition=when, **at))
                case _:
                    act = draw(st.sampled_from(["repaired", "unplugged"]))
                    made.append(
                        Act(id=name, act=act, target=draw(st.sampled_from(["a", "b", "c"])), **at)
                    )
    return made


def _machine(bench: Any, rows: np.random.Generator) -> tuple[Any, Any]:
    comes = {"a": 0.0, "b": 0.3, "c": 0.5, "d": 1.0}
    singles = [bench.atom(name, sometimes=share) for name, share in comes.items()]
    both = bench.atom("a + b", sometimes=0.3, group="a")
    defects: Defects = replace(
        bench.defects(*singles, both), halves=np.array([[-1, -1]] * (HYPOTHESES - 1) + [[1, 2]])
    )
    volts = {
        f"U:{pin}": [2.0, *rows.choice([-1.0, 0.3, 0.49, 0.6, 2.0], HYPOTHESES - 1)]
        for pin in ("1", "2", "3")
    }
    volts |= {pin: [11.5, *rows.choice([0.2, 2.0, 11.5], HYPOTHESES - 1)] for pin in ("P1", "P2")}
    slopes = {"P1": (1.0, 0.2, 0.0)}
    rules: list[CodeRule] = [bench.low(f"{pin}/4", pin) for pin in ("1", "2", "3")]
    return bench.book(*rules, parts=("a", "b", "c", "d")), bench.tables(
        defects, volts=volts, slopes=slopes
    )


def _gathered(bench: Any, made: list[AnyFinding], seed: int) -> tuple[View, Evidence]:
    book, predictor = _machine(bench, np.random.default_rng(seed))
    job: JobState = bench.job(*made)
    view = ask(book, predictor, job)
    return view, gather(view, job)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(made=findings(), seed=st.integers(0, 50), sometimes=st.booleans())
def test_leaving_out_is_as_if_never_made(
    bench: Any, made: list[AnyFinding], seed: int, sometimes: bool
) -> None:
    """Whatever was found: singles and two faults, always there or coming and going."""
    view, evidence = _gathered(bench, made, seed)
    told = list(dict.fromkeys(one.finding for one in evidence.told))
    got = filtered_without(laid(evidence, view.defects), told, sometimes=sometimes)
    for row, finding in zip(got, told, strict=True):
        rest = laid(without(evidence, finding), view.defects)
        wanted = filtered(rest, sometimes=sometimes).log_lik
        assert row == pytest.approx(wanted, rel=1e-9, abs=1e-9)
