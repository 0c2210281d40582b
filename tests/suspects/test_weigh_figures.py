"""Figures: shared unknowns, severities, names, what nobody predicts."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from backprobe.book.situations import Situation
from backprobe.findings.model import FuseFound, Looked, Reading, Works
from backprobe.kinds.records import CONTACT_CELLS
from backprobe.suspects.meters import background, likelihood
from backprobe.suspects.prior import stories
from backprobe.suspects.weigh import weigh
from backprobe.suspects.worlds import quantised, worlds

ON = Situation(key="on")


def test_quantiser_equals_the_published_table() -> None:
    """J. Max, Quantizing for Minimum Distortion, 1960, table I: mean square errors, outputs."""
    for cells, error in ((2, 0.3634), (5, 0.07994)):
        means, weight, left = quantised(cells)
        assert left == pytest.approx(error, abs=1e-4)
        assert weight.sum() == pytest.approx(1.0)
        assert weight @ means == pytest.approx(0.0, abs=1e-12)
    np.testing.assert_allclose(quantised(5)[0][3:], [0.7646, 1.724], atol=1e-3)


def test_worlds_keep_mean_and_variance() -> None:
    some = worlds(12.0, 5, 2)
    variance = some.weight @ some.points**2 + some.left
    np.testing.assert_allclose(variance[:2], [0.3**2, 0.5**2], rtol=1e-3)
    np.testing.assert_allclose(some.weight @ some.points, 0.0, atol=1e-12)


def claims(bench: Any, *, shared: bool) -> tuple[float, float]:
    """Two suspects .25 V apart, a battery error of .3 V in all of six readings: share of trials
    in which one is claimed above 90 %, and share of those in which it is the right one."""
    defects = bench.defects(bench.atom("a", sometimes=0.0), bench.atom("b", sometimes=0.0))
    book = bench.book()
    predictor = bench.tables(
        defects,
        volts={"A": [3.0, 4.0, 4.25]},
        slopes={"A": (1.0, 0.0, 0.0)} if shared else {},
    )
    rng = np.random.default_rng(5)
    claimed = right = 0
    for trial in range(300):
        truth = trial % 2
        mean = (4.0, 4.25)[truth] + 0.3 * rng.standard_normal()
        found = [
            Reading(p="A", value=float(mean + 0.03 * rng.standard_normal()), situation=ON)
            for _ in range(6)
        ]
        chance = weigh(book, predictor, bench.job(*found)).chance[1:3]
        if chance.max() > 0.9 * chance.sum():
            claimed += 1
            right += int(np.argmax(chance) == truth)
    return claimed / 300, right / max(claimed, 1)


def test_a_shared_battery_error_does_not_make_two_suspects_look_told_apart(bench: Any) -> None:
    naive_claims, naive_right = claims(bench, shared=False)
    shared_claims, shared_right = claims(bench, shared=True)
    assert naive_claims > 0.5
    assert naive_right < 0.8  # what the worlds are for
    assert shared_right > 0.9 or shared_claims == 0.0
    assert shared_claims < 0.05


def test_true_resistances_between_the_cells_cost_little(bench: Any) -> None:
    """A contact in front of a 10 ohm load, resistance anywhere from .05 ohm to 50 kohm: what the
    cells lose against the exact integral over the resistance, in natural log per reading."""
    cells = [(c.ohm, c.spread, c.weight) for c in CONTACT_CELLS]
    volts = [12.0, *(12.0 * 10.0 / (10.0 + c.ohm) for c in CONTACT_CELLS)]
    rng = np.random.default_rng(3)
    truths = np.exp(rng.uniform(np.log(0.05), np.log(5e4), 120))
    losses = {}
    for name in ("with width", "without"):
        given = cells if name == "with width" else [(o, 1.0, w) for o, _, w in cells]
        defects = bench.defects(bench.atom("c", sometimes=0.0), cells={"c": given})
        predictor = bench.tables(defects, volts={"A": volts})
        before = weigh(bench.book(), predictor, bench.job()).chance
        loss = []
        for ohm in truths:
            value = 120.0 / (10.0 + ohm) + 0.02 * rng.standard_normal()
            job = bench.job(Reading(p="A", value=float(value), situation=ON))
            belief = weigh(bench.book(), predictor, job)
            log_lik = belief.evidence + np.log(belief.chance[1] / before[1])
            loss.append(_exact(value) - log_lik)
        losses[name] = float(np.mean(loss))
    assert losses["with width"] < 0.6
    assert losses["without"] > losses["with width"] + 0.5


def _exact(value: float) -> float:
    """Log likelihood of a reading, the resistance spread evenly within each cell in ln(ohm)."""
    total = 0.0
    for cell in CONTACT_CELLS:
        if np.isinf(cell.ohm):
            ohm = np.array([np.inf])
        else:
            reach = np.log(cell.spread)
            ohm = cell.ohm * np.exp(np.linspace(-reach, reach, 801))
        mean = 120.0 / (10.0 + ohm)
        variance = 0.02**2 + (0.01 * mean) ** 2
        density = np.exp(-0.5 * (value - mean) ** 2 / variance) / np.sqrt(2 * np.pi * variance)
        total += cell.weight * density.mean()
    chance = background("meter", value, 12.0)
    return float(np.log(0.99 * (0.98 * total + 0.02 * chance) + 0.01 * chance))


def test_a_finding_nobody_predicts_raises_not_in_this_book(bench: Any) -> None:
    defects = bench.defects(*(bench.atom(f"a{k}") for k in range(20)))
    predictor = bench.tables(defects, volts={"A": [5.0] * 11 + [0.0] * 10})
    before = weigh(bench.book(), predictor, bench.job()).chance[-1]
    found = [Reading(p="A", value=v, situation=ON) for v in (8.0, 8.1)]
    after = weigh(bench.book(), predictor, bench.job(*found)).chance[-1]
    assert before == pytest.approx(0.02)
    assert after > 0.2


def test_renaming_changes_nothing(bench: Any) -> None:
    """Atoms in another order under other names: the same chances at the same places."""
    rng = np.random.default_rng(0)
    values = rng.uniform(0.0, 12.0, 9)
    order = rng.permutation(8)
    old = bench.defects(*(bench.atom(f"a{k}", rate=1.0 + k, wet=1.0 + k % 3) for k in range(8)))
    new = bench.defects(*(bench.atom(f"z{k}", rate=1.0 + k, wet=1.0 + k % 3) for k in order))
    found = (
        Reading(p="A", value=float(values[4]), situation=ON),
        Works(target="L", works=False, situation=ON),
    )
    shares = np.array([1.0, *rng.uniform(0.0, 1.2, 8)])
    book = bench.book(parts=("L",))
    first = weigh(book, bench.tables(old, volts={"A": values, "L": shares}), bench.job(*found))
    mixed = np.concatenate([[0], order + 1])
    second = weigh(
        book, bench.tables(new, volts={"A": values[mixed], "L": shares[mixed]}), bench.job(*found)
    )
    np.testing.assert_allclose(second.chance[1:9], first.chance[1:9][order], rtol=1e-12)
    np.testing.assert_allclose(second.chance[9:17], first.chance[9:17][order], rtol=1e-12)
    assert second.evidence == pytest.approx(first.evidence, abs=1e-12)


def test_prior_is_the_share_of_rates(bench: Any) -> None:
    defects = bench.defects(bench.atom("a", rate=3.0, sometimes=0.25), bench.atom("b", rate=1.0))
    rows = stories(defects)
    prior = np.exp(rows.log_prior)
    assert prior.sum() == pytest.approx(1.0, abs=1e-12)
    assert prior[1] + prior[3] == pytest.approx(3.0 * (prior[2] + prior[4]))
    assert prior[3] == pytest.approx(0.25 * (prior[1] + prior[3]))
    assert rows.atom.tolist() == [0, 1, 2, 1, 2, -1]


def test_a_washed_machine_raises_what_water_does(bench: Any) -> None:
    defects = bench.defects(bench.atom("a"), bench.atom("plug", wet=3.0))
    dry, wet = np.exp(stories(defects).log_prior), np.exp(stories(defects, {"wet"}).log_prior)
    assert (wet[2] / wet[1]) / (dry[2] / dry[1]) == pytest.approx(3.0)


def test_works_is_half_the_power_not_all_of_it(bench: Any) -> None:
    """A lamp at 80 % of its current still lights: it clears little. At 10 % it does not."""
    defects = bench.defects(bench.atom("a", sometimes=0.0), bench.atom("b", sometimes=0.0))
    predictor = bench.tables(defects, volts={"L": [1.0, 0.85, 0.1]})
    belief = weigh(
        bench.book(parts=("L",)), predictor, bench.job(Works(target="L", works=True, situation=ON))
    )
    assert belief.chance[1] / belief.chance[0] > 0.85 * (0.475 / 0.03)
    assert belief.chance[2] / belief.chance[0] < 0.05 * (0.475 / 0.03)


def test_a_function_needs_all_it_needs(bench: Any) -> None:
    defects = bench.defects(
        bench.atom("load", sometimes=0.0),
        bench.atom("unit", sometimes=0.0),
        bench.atom("code", sometimes=0.0),
        bench.atom("other", sometimes=0.0),
    )
    rule = bench.low("9/4", "31")
    book = bench.book(
        rule, parts=("L",), functions={"travel": bench.function("travel", "L", "U", "U 9/4")}
    )
    predictor = bench.tables(
        defects,
        volts={"L": [1.0, 0.0, 1.0, 1.0, 1.0], "U:31": [2.0, 2.0, 2.0, 0.0, 2.0]},
        states={("U", "power"): [1, 1, 0, 1, 1]},
    )
    job = bench.job(Works(target="travel", works=False, situation=ON))
    chance = weigh(book, predictor, job).chance[1:5]
    assert chance[:3].min() > 20.0 * chance[3]


def test_a_fuse_found_blown_points_at_what_blows_it_even_when_it_is_gone_now(bench: Any) -> None:
    defects = bench.defects(bench.atom("chafe", sometimes=0.5), bench.atom("other", sometimes=0.5))
    book = bench.book(parts=("F1",))
    predictor = bench.tables(
        defects, states={("F1", "element"): [0, 1, 0]}, latched={("F1", "element"): [0, 1, 0]}
    )
    found = FuseFound(fuse="F1", state="blown", situation=ON)
    lived = weigh(book, predictor, bench.job(found, usual_life=[Situation(key="run")]))
    assert lived.chance[[1, 3]].sum() > 0.9
    assert lived.chance[3] == pytest.approx(lived.chance[1], rel=0.05)
    good = weigh(book, predictor, bench.job(replace(found, state="looks good")))
    assert good.chance[1] < 0.1 * good.chance[2]


def test_a_close_look_counts_by_what_can_be_seen(bench: Any) -> None:
    defects = bench.defects(bench.atom("a", visible=0.6), bench.atom("b", visible=0.0))
    predictor = bench.tables(defects)
    damaged = weigh(bench.book(), predictor, bench.job(Looked(target="a", damage=True)))
    clean = weigh(bench.book(), predictor, bench.job(Looked(target="a", damage=False)))
    assert damaged.chance[1] / damaged.chance[2] == pytest.approx(0.612 / 0.03)
    assert clean.chance[1] / clean.chance[2] == pytest.approx(0.388 / 0.97)


def test_the_circuit_is_asked_once_per_situation(bench: Any) -> None:
    defects = bench.defects(bench.atom("a"))
    predictor = bench.tables(defects, volts={"A": [5.0, 0.6], "B": [5.0, 0.6]})
    found = [Reading(p=p, value=5.0, situation=ON) for p in ("A", "B", "A")]
    weigh(bench.book(), predictor, bench.job(*found))
    assert [count for _, count in predictor.asked] == [2, 2]  # present, gone


def test_any_figure_above_two_megohm_is_no_connection():
    """OL, 5 Mohm and 30 Mohm say the same of an open wire, and the same of a short: an ohmmeter
    reads damp and dirt up there (common practice, no source)."""
    mean = np.array([[0.3], [5e3], [25e6], [np.inf]])
    told = [
        likelihood("ohmmeter", value, 0.0, background("ohmmeter", value, 12.0))(
            mean, np.zeros_like(mean)
        )
        for value in (np.inf, 5e6, 30e6)
    ]
    np.testing.assert_allclose(told[1], told[0])
    np.testing.assert_allclose(told[2], told[0])
    assert told[0][2, 0] == pytest.approx(told[0][3, 0])
    assert told[0][0, 0] < 1e-6
    assert told[0][3, 0] > 1.0
