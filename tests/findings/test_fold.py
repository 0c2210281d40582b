"""The fold: what stands, what was lived through, what must be put back."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from backprobe.book.situations import Lead, Situation
from backprobe.findings.fold import fold, lived_in, usual_life, visits
from backprobe.findings.model import (
    Act,
    AnyFinding,
    CodesFound,
    Failing,
    Looked,
    Reading,
    Withdrawn,
    Works,
)

ON, RUN = Situation(key="on"), Situation(key="run")


def test_nothing_found_is_the_start() -> None:
    state = fold([])
    assert state.findings == ()
    assert state.visit == 1
    assert state.now == Situation(key="off")
    assert state.failing == "unknown"
    assert state.put_back == ()


def test_a_withdrawn_finding_leaves_no_trace() -> None:
    kept = Works(id="1", target="horn", works=True, situation=ON)
    wrong = Act(id="2", act="unplugged", target="X14")
    state = fold([kept, wrong, Withdrawn(id="3", finding="2")])
    assert state == fold([kept])


def test_a_withdrawal_can_be_withdrawn() -> None:
    kept = Works(id="1", target="horn", works=True, situation=ON)
    undo = [Withdrawn(id="2", finding="1"), Withdrawn(id="3", finding="2")]
    assert fold([kept, *undo]).findings == (kept,)


def test_findings_not_trusted_stay_on_the_list() -> None:
    doubted = Reading(id="1", p="A", value=3.0, situation=ON, trusted=False)
    assert fold([doubted]).findings == (doubted,)


def test_put_back_list_follows_the_acts() -> None:
    found: list[AnyFinding] = [
        Act(id="1", act="unplugged", target="X14"),
        Act(id="2", act="pulled", target="F12"),
        CodesFound(id="3", unit="ECU", active=("157/4",), by_test=("157/4",), situation=ON),
    ]
    state = fold(found)
    assert state.put_back == (
        "X14 unplugged",
        "F12 pulled",
        "code ECU 157/4 made by the test",
    )
    assert state.now == Situation(key="on", unplugged=frozenset({"X14"}), pulled=frozenset({"F12"}))
    found += [
        Act(id="4", act="plugged", target="X14"),
        Act(id="5", act="fitted", target="F12"),
        Act(id="6", act="codes cleared", target="ECU"),
    ]
    assert fold(found).put_back == ()
    assert fold(found).opened == {"X14", "F12"}


def test_what_the_situation_shows_must_be_put_back_too() -> None:
    fitted = Situation(
        key="on",
        battery_off=True,
        unplugged=frozenset({"X3"}),
        fitted=(Lead(kind="lamp 21 W", p="X3.1", n="battery minus"),),
    )
    assert fold([Reading(id="1", p="X3.1", value=0.0, situation=fitted)]).put_back == (
        "X3 unplugged",
        "lamp 21 W fitted from X3.1 to battery minus",
        "battery minus off",
    )


def test_a_repair_makes_failing_unknown_again() -> None:
    yes = Failing(id="1", answer="yes", condition="wet")
    mend = Act(id="2", act="repaired", target="wire 31", visit=2)
    assert fold([yes]).failing == "yes"
    assert fold([yes]).condition == "wet"
    after = fold([yes, mend])
    assert after.failing == "unknown"
    assert after.condition == ""
    assert after.repaired == ("wire 31",)


def test_only_when_is_not_a_condition_of_now() -> None:
    state = fold([Failing(id="1", answer="only when", condition="wet")])
    assert (state.failing, state.condition) == ("only when", "")


def test_lived_keeps_the_usual_life_apart() -> None:
    state = fold([Reading(id="1", p="A", value=1.0, situation=ON)], usual_life=(ON, RUN))
    assert state.lived == (ON, RUN, ON)
    assert usual_life(state) == (ON, RUN)


def test_opened_holds_what_was_looked_at() -> None:
    assert fold([Looked(id="1", target="hinge", damage=False)]).opened == {"hinge"}


def test_elapsed_is_the_last_stamp() -> None:
    assert (
        fold(
            [
                Looked(id="1", target="a", damage=False, at_s=60.0),
                Looked(id="2", target="b", damage=False, at_s=45.0),
            ]
        ).worked_s
        == 60.0
    )


SOME = st.lists(
    st.builds(
        Reading,
        p=st.just("A"),
        visit=st.integers(1, 3),
        situation=st.sampled_from([ON, RUN, Situation(key="on", on=frozenset({"S1"}))]),
    ),
    max_size=8,
)


@given(found=SOME, data=st.data())
def test_what_was_lived_through_does_not_depend_on_the_order_within_visits(
    found: list[Reading], data: st.DataObject
) -> None:
    mixed = sorted(data.draw(st.permutations(found)), key=lambda finding: finding.visit)
    assert lived_in(mixed) == lived_in(found)
    assert sum(len(visit) for visit in visits(found)) == len(found)
