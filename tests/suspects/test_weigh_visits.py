"""Visits: what one visit may and may not prove about a defect that comes and goes."""

from __future__ import annotations

from itertools import permutations
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backprobe.book.situations import Situation
from backprobe.findings.model import Act, Failing, Looked, Provoked, Reading, Works
from backprobe.suspects.weigh import weigh

ON = Situation(key="on")


def odds(belief: Any, row: int) -> float:
    """Chance of a story against healthy."""
    return float(belief.chance[row] / belief.chance[0])


def volts(value: float, visit: int = 1, **facts: Any) -> Reading:
    """A reading at pin A."""
    return Reading(p="A", value=value, visit=visit, situation=ON, **facts)


def machine(bench: Any, **facts: Any) -> tuple[Any, Any]:
    """One defect "a" that pulls 5 V at A down to 0.6 V."""
    defects = bench.defects(bench.atom("a", sometimes=0.5, **facts))
    return bench.book(), bench.tables(defects, volts={"A": [5.0, 0.6]})


def test_eight_good_readings_in_one_visit_leave_a_third_of_a_sometimes_defect(bench: Any) -> None:
    book, predictor = machine(bench)
    before = weigh(book, predictor, bench.job())
    after = weigh(book, predictor, bench.job(*[volts(5.0) for _ in range(8)]))
    ratio = odds(after, 2) / odds(before, 2)
    assert ratio / (1.0 + ratio) == pytest.approx(1 / 3, abs=0.005)


def test_good_readings_in_eight_visits_clear_much_more(bench: Any) -> None:
    book, predictor = machine(bench)
    before = weigh(book, predictor, bench.job())
    after = weigh(book, predictor, bench.job(*[volts(5.0, visit=k) for k in range(1, 9)]))
    # Integral of (1 - rho)^8 over rho in {.1, .5, .9}, equally likely.
    expected = np.mean([(1 - rho) ** 8 for rho in (0.1, 0.5, 0.9)])
    assert odds(after, 2) / odds(before, 2) == pytest.approx(expected, rel=0.02)


def test_good_readings_clear_a_defect_that_is_always_there(bench: Any) -> None:
    book, predictor = machine(bench)
    before = weigh(book, predictor, bench.job())
    belief = weigh(book, predictor, bench.job(volts(5.0), volts(5.0)))
    assert odds(belief, 1) / odds(before, 1) < 1e-3


def test_order_within_a_visit_does_not_matter(bench: Any) -> None:
    book, predictor = machine(bench)
    findings = (
        volts(0.62, id="1"),
        volts(4.9, id="2", to=0.7),
        Failing(answer="yes", condition="wet", visit=1, id="3"),
        Looked(target="a", damage=True, visit=1, id="4"),
    )
    beliefs = [
        weigh(book, predictor, bench.job(*order, volts(5.0, visit=2)))
        for order in permutations(findings)
    ]
    for belief in beliefs[1:]:
        np.testing.assert_allclose(belief.chance, beliefs[0].chance, atol=1e-12)


def test_repair_and_proof_leave_nothing_showing_and_failure_back_points_elsewhere(
    bench: Any,
) -> None:
    defects = bench.defects(bench.atom("a", sometimes=0.3), bench.atom("b", sometimes=0.3))
    predictor = bench.tables(defects, volts={"A": [5.0, 0.6, 0.6]})
    book = bench.book()
    found = (volts(0.6, visit=1), Looked(target="a", damage=True, visit=1))
    repaired = Act(act="repaired", target="a", visit=2)
    before = weigh(book, predictor, bench.job(*found))
    good = weigh(book, predictor, bench.job(*found, repaired, volts(5.0, visit=2)))
    back = weigh(book, predictor, bench.job(*found, repaired, volts(0.6, visit=2)))
    a, b = [1, 3], [2, 4]
    assert before.chance[a].sum() > 0.8
    assert good.chance[a].sum() > 0.9
    assert (good.chance * good.present)[a].sum() < 0.02
    assert back.chance[b].sum() > 0.8


def test_unplugging_may_cure_a_bad_contact_for_the_time_being(bench: Any) -> None:
    book, predictor = machine(bench, owners=("X1",))
    bad, good = volts(0.6, visit=1), volts(5.0, visit=2)
    touched = Act(act="unplugged", target="X1", visit=2)
    other = Act(act="unplugged", target="X9", visit=2)
    with_touch = weigh(book, predictor, bench.job(bad, touched, good))
    without = weigh(book, predictor, bench.job(bad, other, good))
    assert with_touch.chance[1] > 5.0 * without.chance[1]


def test_a_new_draw_only_at_a_visit_not_at_an_act(bench: Any) -> None:
    """Bad, then something far away is unplugged, then good: within one visit only misreading
    explains it for a defect that comes and goes; at the next visit it is what it does."""
    book, predictor = machine(bench)
    far = Act(act="unplugged", target="X9", visit=1)
    same = weigh(book, predictor, bench.job(volts(0.6), far, volts(5.0)))
    later = weigh(book, predictor, bench.job(volts(0.6), volts(5.0, visit=2)))
    assert odds(later, 2) > 10.0 * odds(same, 2)


def test_wet_defects_rise_when_it_fails_only_when_wet(bench: Any) -> None:
    defects = bench.defects(
        bench.atom("dry", sometimes=0.5), bench.atom("wet", sometimes=0.5, wet=9.0)
    )
    predictor = bench.tables(defects, volts={"A": [5.0, 5.0, 5.0]})
    told = Failing(answer="only when", condition="wet")
    belief = weigh(bench.book(), predictor, bench.job(told))
    dry, wet = belief.chance[[1, 3]].sum(), belief.chance[[2, 4]].sum()
    assert wet > 8.0 * dry
    assert belief.chance[4] > 5.0 * belief.chance[2]


def test_wetting_the_right_place_brings_it_back(bench: Any) -> None:
    defects = bench.defects(
        bench.atom("here", sometimes=0.5, wet=5.0), bench.atom("there", sometimes=0.5, wet=5.0)
    )
    predictor = bench.tables(defects, volts={"A": [5.0, 0.6, 0.6]})
    gone = Failing(answer="gone")
    wetted = Provoked(places=("here", "there"), condition="wet", shown_at="here", visit=2)
    nothing = Provoked(places=("here",), condition="wet", visit=2)
    back = weigh(bench.book(), predictor, bench.job(gone, wetted))
    dry = weigh(bench.book(), predictor, bench.job(gone, nothing))
    assert back.chance[[1, 3]].sum() > 3.0 * back.chance[[2, 4]].sum()
    assert dry.chance[[1, 3]].sum() < 0.7 * dry.chance[[2, 4]].sum()


def test_a_jumping_reading_speaks_for_a_defect_that_comes_and_goes(bench: Any) -> None:
    book, predictor = machine(bench)
    belief = weigh(book, predictor, bench.job(volts(5.0, to=0.6)))
    assert belief.chance[2] > 0.9


def test_findings_not_trusted_do_not_weigh(bench: Any) -> None:
    book, predictor = machine(bench)
    plain = weigh(book, predictor, bench.job(volts(5.0)))
    noisy = weigh(book, predictor, bench.job(volts(5.0), volts(0.6, trusted=False)))
    np.testing.assert_array_equal(plain.chance, noisy.chance)
    assert plain.evidence == noisy.evidence


def test_a_place_the_book_does_not_know_does_not_weigh(bench: Any) -> None:
    book, predictor = machine(bench)
    plain = weigh(book, predictor, bench.job(volts(5.0)))
    noisy = weigh(
        book, predictor, bench.job(volts(5.0), Reading(p="nowhere", value=3.0, situation=ON))
    )
    np.testing.assert_array_equal(plain.chance, noisy.chance)


FINDINGS = st.lists(
    st.one_of(
        st.builds(volts, st.floats(-1, 15), st.integers(1, 3)),
        st.builds(volts, st.floats(-1, 15), st.integers(1, 3), to=st.floats(-1, 15)),
        st.builds(
            Failing,
            answer=st.sampled_from(["yes", "gone", "only when"]),
            condition=st.sampled_from(["", "wet", "hot", "moved"]),
            visit=st.integers(1, 3),
        ),
        st.builds(
            Act,
            act=st.sampled_from(["unplugged", "plugged", "repaired", "replaced"]),
            target=st.sampled_from(["a", "b", "X9"]),
            visit=st.integers(1, 3),
        ),
        st.builds(
            Looked,
            target=st.sampled_from(["a", "b"]),
            damage=st.booleans(),
            visit=st.integers(1, 3),
        ),
        st.builds(Works, target=st.just("L"), works=st.booleans(), visit=st.integers(1, 3)),
    ),
    max_size=10,
)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(findings=FINDINGS)
def test_belief_is_a_distribution_whatever_was_found(bench: Any, findings: list[Any]) -> None:
    defects = bench.defects(bench.atom("a", sometimes=0.4, wet=3.0), bench.atom("b", hot=2.0))
    predictor = bench.tables(defects, volts={"A": [5.0, 0.6, 12.0], "L": [1.0, 0.2, 1.0]})
    belief = weigh(bench.book(parts=("L",)), predictor, bench.job(*findings))
    assert belief.chance.sum() == pytest.approx(1.0, abs=1e-9)
    assert belief.chance.min() >= 0.0
    assert np.isfinite(belief.evidence)
    assert belief.hypothesis.sum() + belief.chance[-1] == pytest.approx(1.0, abs=1e-9)
    assert ((belief.present >= 0.0) & (belief.present <= 1.0 + 1e-12)).all()
