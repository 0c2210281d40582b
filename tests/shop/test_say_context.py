"""What a sentence leaves unsaid: key, loads, plugs and visits follow from what was said before."""

from __future__ import annotations

import pytest

from backprobe.base.problems import Problem
from backprobe.book.model import Book
from backprobe.book.situations import Lead, Situation
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import (
    Act,
    AnyFinding,
    CodesFound,
    DisplayRead,
    FuseFound,
    JobState,
    Looked,
    Reading,
    Works,
)
from backprobe.shop.say import asked, hear
from backprobe.shop.say.forms import FORMS, SITUATION_WORDS
from backprobe.shop.say.names import Names

SOMETHING = fold([Works(id="f1", target="horn sounds", works=True)])


def one(text: str, book: Book, state: JobState = SOMETHING) -> AnyFinding:
    heard = hear(text, book, state=state)
    assert len(heard) == 1, heard
    assert not isinstance(heard[0], Problem), str(heard[0])
    return heard[0]


def all_of(text: str, book: Book, state: JobState = SOMETHING) -> list[AnyFinding]:
    heard = hear(text, book, state=state)
    problems = [str(thing) for thing in heard if isinstance(thing, Problem)]
    assert problems == []
    return [thing for thing in heard if not isinstance(thing, Problem)]


@pytest.mark.parametrize("example", [e for form in FORMS for e in form.examples])
def test_every_example_of_the_manual_is_understood(example: str, dumper: Book) -> None:
    assert all_of(example, dumper)


@pytest.mark.parametrize("words", SITUATION_WORDS, ids=lambda w: w.pattern)
def test_every_example_of_how_the_machine_stood_is_understood(words, dumper: Book) -> None:
    assert all_of(words.example, dumper)


def test_unsaid_is_as_the_finding_before_left_it(dumper: Book) -> None:
    state = fold(all_of("volts X7.1 12.1, key on, S2 on, X10 unplugged", dumper))
    assert one("volts X7.1b 12.1", dumper, state).situation == Situation(
        key="on", on=frozenset({"S2"}), unplugged=frozenset({"X10"})
    )


def test_saying_the_key_switches_loads_off_but_leaves_plugs_open(dumper: Book) -> None:
    state = fold(all_of("volts X7.1 12.1, key on, S2 on, X10 unplugged", dumper))
    assert one("volts X7.1b 0.1, running", dumper, state).situation == Situation(
        key="run", unplugged=frozenset({"X10"})
    )


def test_loads_named_before_the_key_on_the_same_line_stay_on(dumper: Book) -> None:
    assert one("volts X7.1 12.1, S2 on, key on", dumper).situation.on == {"S2"}


def test_the_key_springs_back_from_cranking(dumper: Book) -> None:
    first, second = all_of("works K3, cranking; volts F8.1 12.2", dumper)
    assert first.situation.key == "crank"
    assert second.situation == Situation(key="on")


def test_what_was_switched_on_to_try_a_function_is_off_again(dumper: Book) -> None:
    first, second = all_of("works horn sounds; volts F6.1 12.2", dumper)
    assert first.situation.on == {"S1"}
    assert second.situation.on == frozenset()


def test_an_unplugged_plug_is_off_for_what_follows_and_on_the_put_back_list(dumper: Book) -> None:
    found = all_of("unplugged X10; volts X10.3a 5.0, key on; plugged X10; volts X10.3 0.3", dumper)
    assert [f.situation.unplugged for f in found] == [{"X10"}, {"X10"}, set(), set()]
    assert fold(found[:2]).put_back == ("X10 unplugged",)
    assert fold(found).put_back == ()


def test_all_back_closes_everything(dumper: Book) -> None:
    text = (
        "volts X7.1b 11, key on, X10 and rail sensor unplugged, F5 pulled, "
        "jumper from X7.1b to frame; works horn sounds, all back"
    )
    assert all_of(text, dumper)[1].situation == Situation(key="on", on=frozenset({"S1"}))


def test_a_lead_is_fitted_between_two_places(dumper: Book) -> None:
    found = one("volts x7.1b 11.8, key on, LAMP 21 W from X7 way 1b to battery minus", dumper)
    assert found.situation.fitted == (Lead(kind="lamp 21 W", p="X7.1b", n="battery minus"),)


def test_a_list_of_names_may_run_over_commas(dumper: Book) -> None:
    found = one("ohms X10.3b to frame OL, X10, rail sensor and ECU unplugged, battery off", dumper)
    assert found == Reading(
        situation=Situation(
            key="off",
            unplugged=frozenset({"X10", "rail sensor", "ECU"}),
            battery_off=True,
        ),
        instrument="ohmmeter",
        p="X10.3b",
        n="frame",
        value=float("inf"),
    )


def test_ohms_are_read_with_the_key_off_unless_said(dumper: Book) -> None:
    assert one("ohms X10.3b to frame 3", dumper).situation.key == "off"


def test_codes_and_display_need_the_key_on(dumper: Book) -> None:
    state = fold([Looked(id="f1", target="hinge", damage=False, situation=Situation(key="off"))])
    assert one("codes ECU none", dumper, state).situation.key == "on"
    assert one("display rail pressure 250 bar", dumper, state) == DisplayRead(
        situation=Situation(key="on"), unit="ECU", name="rail pressure", value=250.0
    )


def test_key_on_means_the_battery_is_back(dumper: Book) -> None:
    state = fold(all_of("ohms X10.3b to frame OL, X10 unplugged, battery off", dumper))
    assert state.now.battery_off
    assert not one("volts X10.3a 5.0, key on", dumper, state).situation.battery_off


def test_a_load_that_one_function_needs_is_tried_with_its_switch(dumper: Book) -> None:
    assert one("dead beacon", dumper).situation == Situation(key="on", on=frozenset({"S3"}))
    assert one("volts X6.1 12, beacon on", dumper).situation.on == {"S3"}


def test_codes_may_be_typed_with_commas_and_as_spn_and_fmi(dumper: Book) -> None:
    found = one("codes ecu spn 3509 fmi 4, 157/4, stored 91/4, perhaps more, running", dumper)
    assert found == CodesFound(
        situation=Situation(key="run"),
        unit="ECU",
        active=("3509/4", "157/4"),
        stored=("91/4",),
        complete=False,
    )


def test_a_code_in_quotes_is_taken_as_the_display_shows_it(dumper: Book) -> None:
    assert one('codes ECU "E 12" 157/4', dumper).active == ("E 12", "157/4")


def test_a_code_looked_for_and_not_there_leaves_the_list_open(dumper: Book) -> None:
    found = one("codes ECU 157/4, not 3509/4", dumper)
    assert (found.active, found.absent, found.complete) == (("157/4",), ("3509/4",), False)


def test_failing_again_after_it_was_gone_is_another_visit(dumper: Book) -> None:
    """As with the button on the sheet; said twice the same it stays."""
    said = "failing gone; failing gone; works K3; failing yes; works K3; failing only when wet"
    assert [f.visit for f in all_of(said, dumper)] == [1, 1, 1, 2, 2, 2]


def test_a_new_visit_counts_on_and_holds_for_the_line(dumper: Book) -> None:
    assert [f.visit for f in all_of("failing yes; new visit; failing gone; works K3", dumper)] == [
        1, 2, 2,
    ]  # fmt: skip
    assert one("new visit: failing gone", dumper).visit == 2
    assert one("new visit; failing gone", dumper, JobState()).visit == 1


def test_each_line_carries_its_own_note_and_doubt(dumper: Book) -> None:
    found = all_of("fuse F5 blown # corroded too\nworks horn sounds ?", dumper)
    assert [(f.note, f.trusted) for f in found] == [("corroded too", True), ("", False)]
    assert found[0] == FuseFound(fuse="F5", state="blown", note="corroded too")


def test_millivolts_across_a_fuse_are_taken_between_its_pins(dumper: Book) -> None:
    found = one("millivolts F5 3.2, key on, S2 on", dumper)
    assert (found.p, found.n, found.value, found.cell) == ("F5.1", "F5.2", 0.0032, 0.0001)


def test_repairing_a_wire_names_the_suspect_that_the_list_prints(dumper: Book) -> None:
    assert one("repaired wire 41a", dumper) == Act(
        act="repaired", target="wire 41a (ECU to X10)", situation=Situation(key="on")
    )


def test_every_place_a_person_may_name_is_a_node_of_the_network(dumper: Book) -> None:
    net = Circuit.of(dumper).net
    unknown = []
    for place in Names(dumper).places.values():
        try:
            net.voltage(place)
        except KeyError:
            unknown.append(place)
    assert unknown == []


def test_every_suspect_can_be_named_as_repaired(dumper: Book) -> None:
    groups = {group.key for group in Circuit.of(dumper).defects.groups}
    named = set(Names(dumper).mends.values())
    assert sorted(groups - named - {"healthy", ""}) == []


def test_a_reading_asked_for_is_a_probe_and_its_situation(dumper: Book) -> None:
    what = asked("volts X10.3, key on, X10 unplugged", dumper)
    assert not isinstance(what, tuple)
    assert (what.probe.kind, what.probe.p, what.probe.n) == ("volts", "X10.3", "battery minus")
    assert what.situation == Situation(key="on", unplugged=frozenset({"X10"}))


def test_a_minus_and_blanks_as_phones_write_them(dumper: Book) -> None:
    plain = one("volts X10.3 -0.2", dumper)
    assert one("\ufeffvolts X10.3\u00a0\u22120.2", dumper) == plain
