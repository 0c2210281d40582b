"""My bet: the technician's own hunch, bounded, shown, taken back."""

from __future__ import annotations

from typing import Any

import pytest

from backprobe.book.situations import Situation
from backprobe.findings.model import Bet, Reading, Withdrawn
from backprobe.suspects.looks import BET
from backprobe.suspects.verdict import judge
from backprobe.suspects.weigh import weigh

RUN = Situation(key="run")


def machine(bench: Any) -> tuple[Any, Any]:
    """Three suspects alike; one of them pulls pin A down."""
    defects = bench.defects(bench.atom("a"), bench.atom("b"), bench.atom("c"))
    return bench.book(), bench.tables(defects, volts={"A": [5.0, 5.0, 5.0, 1.0]})


def chances(bench: Any, *findings: Any) -> dict[str, float]:
    book, predictor = machine(bench)
    return {s.group: s.chance for s in judge(book, predictor, bench.job(*findings))[1].suspects}


def test_a_bet_counts_three_to_one_once(bench: Any) -> None:
    """By hand: three equals, one of them three times as likely; healthy .03, not in the book .02."""
    bet = Bet(id="x", target="a")
    total = 0.03 + 0.02 + 0.95 * (BET + 1.0 + 1.0) / 3.0
    found = chances(bench, bet)
    assert found["a"] == pytest.approx(0.95 / 3.0 * BET / total)
    assert found["b"] == pytest.approx(0.95 / 3.0 / total)
    assert chances(bench, bet, Bet(id="y", target="a")) == found


def test_a_bet_taken_back_leaves_no_trace(bench: Any) -> None:
    book, predictor = machine(bench)
    bet = Bet(id="x", target="a")
    before = weigh(book, predictor, bench.job())
    after = weigh(book, predictor, bench.job(bet, Withdrawn(id="y", finding="x")))
    assert (after.chance == before.chance).all()


def test_a_bet_is_told_among_the_reasons_as_his(bench: Any) -> None:
    book, predictor = machine(bench)
    _, found = judge(book, predictor, bench.job(Bet(id="x", target="a")))
    (reason,) = found.suspects[0].reasons
    assert reason.words == "your own bet on a, counted as 3 to 1"
    assert reason.factor > 1.0
    assert found.contradictions == ()


def test_one_good_reading_outweighs_a_bet(bench: Any) -> None:
    found = chances(
        bench, Bet(id="x", target="a"), Reading(id="r", p="A", value=1.0, situation=RUN)
    )
    assert max(found, key=lambda group: found[group]) == "c"
