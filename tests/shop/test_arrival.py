"""What is known when a machine comes in, as findings: what is weighed, what is only kept."""

from __future__ import annotations

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.findings.model import DisplayRead, FuseFound, Reading, Recalled, Works
from backprobe.shop.arrival import Arrival, battery_of, findings_of, fuses_of
from backprobe.shop.job import start


def test_answers_become_findings_in_the_key_and_load_they_are_about(dumper: Book) -> None:
    found = findings_of(
        dumper,
        Arrival(
            works={"work lights": False, "engine cranks": True},
            fuses={"F5": "blown", "F1": "good"},
            battery=12.4,
            shown={("ECU", "rail pressure"): 0.0},
            shown_key="run",
        ),
    )
    assert found == (
        DisplayRead(situation=Situation(key="run"), unit="ECU", name="rail pressure", value=0.0),
        Works(
            situation=Situation(key="on", on=frozenset({"S2"})), target="work lights", works=False
        ),
        Works(situation=Situation(key="crank"), target="engine cranks", works=True),
        FuseFound(situation=Situation(key="off"), fuse="F5", state="blown"),
        FuseFound(situation=Situation(key="off"), fuse="F1", state="looks good"),
        Reading(situation=Situation(key="off"), p="battery.+", value=12.4),
    )
    assert start(dumper).note(*found).problems == ()


def test_what_the_driver_recalls_follows_in_his_words(dumper: Book) -> None:
    said = (Recalled(what="after wash"), Recalled(what="display faded"))
    found = findings_of(dumper, Arrival(recalled=said))
    assert found == tuple(Recalled(situation=Situation(key="off"), what=one.what) for one in said)
    assert start(dumper).note(*found).problems == ()


def test_nothing_said_is_no_finding(dumper: Book) -> None:
    assert findings_of(dumper, Arrival()) == ()


def test_the_book_names_battery_and_fuses(dumper: Book) -> None:
    assert battery_of(dumper) == "battery"
    assert {"F1", "F5", "F20", "FL1"} <= set(fuses_of(dumper))
    assert all("fus" in dumper.parts[name].kind for name in fuses_of(dumper))
