"""Code lists: what sets a code, what hides it, and what a wrong rule in the book may cost."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import product
from typing import Any

import numpy as np
import pytest
from scipy.special import ndtr

from backprobe.book.model import CodeRule, DisplayValue, Pin, PinRole, Test
from backprobe.book.situations import Situation
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, CodesFound, DisplayRead, Reading, Works
from backprobe.suspects.codes import DEAD_ANSWERS, RULE_WRONG, SHOWN_IF_WRONG, SPURIOUS
from backprobe.suspects.factor import MISREAD
from backprobe.suspects.filter import BESIDE
from backprobe.suspects.weigh import weigh
from backprobe.suspects.works import STEP
from oracles.machines import machine

ON, RUN = Situation(key="on"), Situation(key="run")


def two(bench: Any, rule: CodeRule, rows: Any, **found: Any) -> float:
    """How a code list changes the chance of atom 1 against atom 2, which are alike before."""
    defects = bench.defects(bench.atom("a", sometimes=0.0), bench.atom("b", sometimes=0.0))
    told = CodesFound(**({"unit": "U", "situation": RUN} | found))
    job = bench.job(told, usual_life=(ON, RUN))
    predictor = bench.tables(defects, **rows)
    chance = weigh(bench.book(rule), predictor, job).chance
    return float(chance[1] / chance[2])


LOW = {"volts": {"U:31": [2.0, 0.1, 2.0]}}


def test_a_code_speaks_for_what_sets_it(bench: Any) -> None:
    assert two(bench, bench.low("157/4", "31"), LOW, active=("157/4",)) > 15.0


def test_no_code_speaks_against_what_would_set_it_if_the_list_is_complete(bench: Any) -> None:
    rule = bench.low("157/4", "31")
    assert two(bench, rule, LOW, active=()) < 0.1
    assert two(bench, rule, LOW, active=(), complete=False) == pytest.approx(1.0)


def test_a_code_looked_for_and_absent_counts_on_a_list_that_is_not_complete(bench: Any) -> None:
    rule = bench.low("157/4", "31")
    assert two(bench, rule, LOW, complete=False, absent=("157/4",)) < 0.2


def test_a_code_the_test_made_says_nothing(bench: Any) -> None:
    told = two(bench, bench.low("157/4", "31"), LOW, active=("157/4",), by_test=("157/4",))
    assert told == pytest.approx(1.0)


def test_stored_codes_speak_of_the_past(bench: Any) -> None:
    assert two(bench, bench.low("157/4", "31"), LOW, stored=("157/4",), situation=ON) > 1.0


def test_a_stored_code_points_at_a_defect_that_is_gone_now(bench: Any) -> None:
    """Stored, not active, reading good: the defect comes and goes."""
    defects = bench.defects(bench.atom("a", sometimes=0.5), bench.atom("b", sometimes=0.5))
    found = CodesFound(unit="U", stored=("157/4",), situation=RUN)
    predictor = bench.tables(defects, **LOW)
    belief = weigh(bench.book(bench.low("157/4", "31")), predictor, bench.job(found))
    assert int(np.argmax(belief.chance)) == 3  # (a, sometimes)
    assert belief.present[3] < 0.1


def test_a_rule_that_is_not_looked_at_now_is_judged_by_the_past(bench: Any) -> None:
    rule = bench.low("157/4", "31", when=("run",))
    assert two(bench, rule, LOW, active=("157/4",), situation=ON) > 5.0
    silent = two(bench, rule, LOW, active=(), situation=ON, complete=False)
    assert silent == pytest.approx(1.0)


def test_an_unpowered_unit_sets_no_code(bench: Any) -> None:
    """By hand: the code says nothing then; that the unit answered speaks against the first one, with
    the coin of a wrong rule (0.01) on top."""
    rows = LOW | {"states": {("U", "power"): [1, 0, 1]}}
    told = two(bench, bench.low("157/4", "31"), rows, active=("157/4",))
    assert told == pytest.approx(0.99 * DEAD_ANSWERS + 0.01)


def test_a_unit_that_shows_an_empty_list_has_power(bench: Any) -> None:
    """By hand as above: a complete list without codes tells it as well; a code looked for and not seen tells nothing, the display may be dark."""
    rows = {"volts": {"U:31": [2.0, 2.0, 2.0]}, "states": {("U", "power"): [1, 0, 1]}}
    rule = bench.low("157/4", "31")
    assert two(bench, rule, rows, active=()) == pytest.approx(0.99 * DEAD_ANSWERS + 0.01, rel=0.01)
    dark = two(bench, rule, rows, complete=False, absent=("157/4",))
    assert dark == pytest.approx(1.0, rel=0.01)


def test_a_hidden_code_may_be_absent(bench: Any) -> None:
    """Atom 1 sets both codes, but the first hides the second."""
    defects = bench.defects(bench.atom("a", sometimes=0.0))
    predictor = bench.tables(defects, volts={"U:31": [2.0, 0.1], "U:32": [2.0, 0.1]})
    found = CodesFound(unit="U", active=("157/4",), situation=RUN)
    open_rules = (bench.low("157/4", "31"), bench.low("94/1", "32"))
    hiding = (replace(open_rules[0], hides=("94/1",)), open_rules[1])
    chances = [
        weigh(bench.book(*rules), predictor, bench.job(found)).chance[1]
        / weigh(bench.book(*rules), predictor, bench.job(found)).chance[0]
        for rules in (open_rules, hiding)
    ]
    assert chances[1] > 5.0 * chances[0]


def test_a_wrong_rule_is_one_coin_for_the_whole_job(bench: Any) -> None:
    """A code nobody explains, on three lists, or on nine: the doubt about its rule is paid once."""
    defects = bench.defects(bench.atom("a", sometimes=0.0), bench.atom("b", sometimes=0.0))
    predictor = bench.tables(defects, **LOW)
    rule = bench.low("157/4", "31")
    lists = [
        CodesFound(id=f"c{k}", unit="U", active=("157/4",), situation=RUN, visit=k)
        for k in range(1, 10)
    ]
    told = {
        count: weigh(bench.book(rule), predictor, bench.job(*lists[:count])).chance
        for count in (1, 3, 9)
    }
    set_ratio, not_ratio = 0.98 / SHOWN_IF_WRONG, SPURIOUS / SHOWN_IF_WRONG
    for count, chance in told.items():
        expected = ((1 - RULE_WRONG) * set_ratio**count + RULE_WRONG) / (
            (1 - RULE_WRONG) * not_ratio**count + RULE_WRONG
        )
        # the second sets none of what was found
        assert chance[1] / chance[2] == pytest.approx(expected / BESIDE, rel=1e-3)


def test_the_coin_is_exact_when_the_defect_comes_and_goes_between_lists(bench: Any) -> None:
    """Two lists in two visits, shown and not shown: against the sum written out by hand."""
    defects = bench.defects(bench.atom("a", sometimes=0.5))
    predictor = bench.tables(defects, volts={"U:31": [2.0, -1.0]})
    lists = [
        CodesFound(id="c1", unit="U", active=("157/4",), situation=RUN, visit=1),
        CodesFound(id="c2", unit="U", stored=("999/31",), situation=RUN, visit=2),
    ]
    chance = weigh(bench.book(bench.low("157/4", "31")), predictor, bench.job(*lists)).chance

    def shown(z: int) -> float:
        return (0.98 if z else SPURIOUS) / SHOWN_IF_WRONG

    def absent(z: int) -> float:
        return (1 - (0.98 if z else SPURIOUS)) / (1 - SHOWN_IF_WRONG)

    # Absent from the second list's stored codes too, although it was set in the past.
    past = (1 - 0.7) / (1 - SHOWN_IF_WRONG)

    def story(weight: Callable[[int, int], float]) -> float:
        total = 0.0
        for z1, z2 in product((0, 1), repeat=2):
            ratio = shown(z1) * absent(z2) * past
            total += weight(z1, z2) * ((1 - RULE_WRONG) * ratio + RULE_WRONG)
        return total

    def draws(z1: int, z2: int) -> float:
        rho = np.array([0.1, 0.5, 0.9])
        return float(np.mean((rho if z1 else 1 - rho) * (rho if z2 else 1 - rho)))

    comes = story(draws)
    stays = story(lambda z1, z2: float(z1 == z2 == 1))
    assert chance[2] / chance[1] == pytest.approx(comes / stays, rel=1e-6)


def test_a_repair_between_two_lists(bench: Any) -> None:
    defects = bench.defects(bench.atom("a", sometimes=0.3))
    predictor = bench.tables(defects, volts={"U:31": [2.0, 0.1]})
    before = CodesFound(id="1", unit="U", active=("157/4",), situation=RUN, visit=1)
    mended = Act(id="2", act="repaired", target="a", visit=2)
    after = CodesFound(id="3", unit="U", active=(), situation=RUN, visit=2)
    belief = weigh(
        bench.book(bench.low("157/4", "31")), predictor, bench.job(before, mended, after)
    )
    assert belief.chance[[1, 2]].sum() > 0.8
    assert (belief.chance * belief.present)[[1, 2]].sum() < 0.02


@pytest.mark.parametrize(
    ("test", "place"),
    [
        (Test(kind="rail", other="A", low=4.6), "U:group A"),
        (Test(kind="supply", low=9.0), "U:supply"),
        (Test(kind="amps", pin=Pin("U", "60"), low=0.1), "U.60/drive"),
        (Test(kind="volts", pin=Pin("U", "31"), low=0.5), "U:31"),
    ],
)
def test_every_kind_of_rule_looks_at_its_place(bench: Any, test: Test, place: str) -> None:
    rule = CodeRule(unit="U", code="1/1", words="low", tests=(test,))
    rows = {"volts": {place: [12.0, 0.02, 12.0]}}
    assert two(bench, rule, rows, active=("1/1",)) > 15.0


def test_above_a_limit_and_both_tests(bench: Any) -> None:
    both = CodeRule(
        unit="U",
        code="1/3",
        words="high and fed",
        tests=(Test(kind="volts", pin=Pin("U", "31"), high=4.5), Test(kind="supply", high=9.0)),
    )
    rows = {"volts": {"U:31": [2.0, 5.0, 5.0], "U:supply": [12.0, 12.0, 6.0]}}
    assert two(bench, both, rows, active=("1/3",)) > 15.0


def test_messages_need_a_live_sender_and_a_whole_bus(bench: Any) -> None:
    rule = CodeRule(
        unit="U", code="639/9", words="no messages", tests=(Test(kind="hears", other="D"),)
    )
    roles = {
        Pin(unit, name): PinRole(pin=Pin(unit, name), role=role)
        for unit in ("U", "D")
        for name, role in (("H", "CAN high"), ("L", "CAN low"))
    }
    defects = bench.defects(*(bench.atom(name, sometimes=0.0) for name in ("dead", "cut", "other")))
    predictor = bench.tables(
        defects,
        volts={"D:H": [60.0, 60.0, 0.0, 60.0]},
        states={("D", "power"): [1, 0, 1, 1], ("U", "power"): [1, 1, 1, 1]},
    )
    book = replace(bench.book(rule), roles=roles)
    found = CodesFound(unit="U", active=("639/9",), situation=RUN)
    chance = weigh(book, predictor, bench.job(found)).chance
    assert chance[1] == pytest.approx(chance[2], rel=1e-2)
    assert chance[1] > 15.0 * chance[3]


def test_a_displayed_value_is_the_pin_unless_its_code_is_active(bench: Any) -> None:
    display = DisplayValue(
        unit="U",
        name="rail pressure",
        pin=Pin("U", "31"),
        low_v=0.5,
        high_v=4.5,
        low=0.0,
        high=1800.0,
        measure="bar",
    )
    defects = bench.defects(*(bench.atom(n, sometimes=0.0) for n in ("shift", "low", "other")))
    predictor = bench.tables(defects, volts={"U:31": [1.5, 2.5, 0.1, 1.5]})
    book = bench.book(bench.low("157/4", "31"), displays={("U", "rail pressure"): display})
    read = DisplayRead(unit="U", name="rail pressure", value=900.0, situation=RUN)
    chance = weigh(book, predictor, bench.job(read)).chance
    assert chance[1] > 3.0 * chance[2]  # 2.5 V is 900 bar
    assert chance[2] > 10.0 * chance[3]  # a substitute may be anything, 450 bar is not 900


@pytest.mark.parametrize("value", [0.0, -225.0])
def test_a_display_may_stop_at_the_end_of_its_scale_or_go_on(bench: Any, value: float) -> None:
    """0 V at a scale of 0.5 V to 4.5 V, 0 to 1800 bar: 0 bar where it stops, -225 bar where it goes
    on. Displays do either; common practice, no source."""
    display = DisplayValue(
        unit="U", name="rail pressure", pin=Pin("U", "31"), low_v=0.5, high_v=4.5, low=0.0,
        high=1800.0, measure="bar",
    )  # fmt: skip
    defects = bench.defects(*(bench.atom(n, sometimes=0.0) for n in ("shorted", "other")))
    predictor = bench.tables(defects, volts={"U:31": [1.5, 0.0, 1.5]})
    book = bench.book(displays={("U", "rail pressure"): display})
    read = DisplayRead(unit="U", name="rail pressure", value=value, situation=RUN)
    chance = weigh(book, predictor, bench.job(read)).chance
    assert chance[1] > 3.0 * chance[2]


def test_order_of_a_list_among_readings_does_not_matter(bench: Any) -> None:
    defects = bench.defects(bench.atom("a"), bench.atom("b"))
    predictor = bench.tables(defects, volts={"U:31": [2.0, 0.1, 2.0], "A": [5.0, 0.6, 5.0]})
    found = (
        CodesFound(id="1", unit="U", active=("157/4",), situation=ON),
        Reading(id="2", p="A", value=0.7, situation=RUN),
    )
    book = bench.book(bench.low("157/4", "31", when=("run",)))
    first, second = (
        weigh(book, predictor, bench.job(*order)).chance for order in (found, found[::-1])
    )
    np.testing.assert_allclose(first, second, atol=1e-12)


def test_a_list_without_stored_codes_says_nothing_of_the_past(bench: Any) -> None:
    """Many displays show active codes only, common practice, no source."""
    defects = bench.defects(bench.atom("a", sometimes=0.5))
    predictor = bench.tables(defects, volts={"U:31": [2.0, -1.0]})
    book = bench.book(bench.low("157/4", "31"))
    told = [
        weigh(book, predictor, bench.job(CodesFound(id="c", unit="U", situation=ON, stored=stored)))
        for stored in ((), ("999/31",))
    ]
    assert told[0].chance[[1, 2]].sum() > told[1].chance[[1, 2]].sum()


def test_what_explains_nothing_found_weighs_little_beside_what_explains_something(
    bench: Any,
) -> None:
    """Two defects of one rate; the pump stands still under the second alone. What does not work
    is explained by it; what works speaks for the first by its own ratio and no more."""
    defects = bench.defects(bench.atom("a"), bench.atom("b"))
    predictor = bench.tables(defects, volts={"pump": [1.0, 1.0, 0.0]})
    book = bench.book(parts=("pump",))
    quiet = weigh(book, predictor, bench.job(Works(id="1", target="pump", works=True))).chance
    found = weigh(book, predictor, bench.job(Works(id="1", target="pump", works=False))).chance
    alone = (1.0 - MISREAD) * 2.0 + MISREAD
    still = 2.0 * (1.0 - MISREAD) * float(ndtr(-0.5 / STEP))
    assert found[2] / found[1] == pytest.approx(alone / (still + MISREAD) / BESIDE, rel=0.02)
    assert quiet[1] / quiet[2] == pytest.approx(alone / MISREAD, rel=0.1)


def test_a_code_that_a_defect_sets_now_and_then_is_no_less_its_own(bench: Any) -> None:
    """By hand: a defect whose readings lie at the limit sets the code in half of all machines, another in all.
    On the list, the code is one the first has set all the same: the two stand one to two, not one
    to four, as if the half that set nothing could have brought the machine here."""
    defects = bench.defects(bench.atom("a"), bench.atom("b"))
    predictor = bench.tables(defects, volts={"U:31": [5.0, 0.5, 0.0]})
    book = bench.book(bench.low("157/4", "31"))
    (test,) = book.codes["U", "157/4"].tests
    assert test.low == 0.5
    found = CodesFound(id="c", unit="U", active=("157/4",), situation=ON)
    chance = weigh(book, predictor, bench.job(found)).chance
    assert chance[1] / chance[2] == pytest.approx(0.5, rel=0.02)


def test_a_stored_code_may_be_of_an_earlier_test() -> None:
    """A plug was off on this job, which alone sets the code (solved): found stored afterwards it
    says nothing of the complaint. Without that it speaks for an open line."""
    whole = machine(100, seed=1)
    run = whole.situations["run"]
    off = replace(run, unplugged=frozenset({"sensor 1"}))
    stored = CodesFound(id="c", unit="U1", stored=("3041/3",), situation=run, complete=False)
    tested = Reading(id="r", p="U1.1", value=12.5, situation=off)

    def weighed(*findings: Any) -> Any:
        return weigh(whole.book, whole.circuit, fold(findings, usual_life=(run,))).chance

    assert weighed(stored)[0] < 0.5 * weighed()[0]
    assert weighed(tested, stored)[0] > weighed(tested)[0]
