"""The rules speak up where they must and keep quiet where they must not."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.model import Test as Condition
from backprobe.book.situations import Situation
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.kinds import KINDS
from book.reading import slugs, sound

FEED = """
battery: battery
FL: fusible link 50 A
G1: ground stud, on frame
battery.+ > FL
battery.- > frame
"""

QUIET = {
    "a lamp switched on its ground side": "L: lamp\nS1: switch\nFL > L > S1 > G1, 10 mm2",
    "a lamp wired the other way round": "L: lamp\nG1 > L > FL.2, 10 mm2",
    "a coil between a feed and a low side driver":
        "V: solenoid\nECU.60: low side driver\nFL > V > ECU.60, 10 mm2",
    "a coil between a high side driver and ground":
        "V: solenoid\nECU.61: high side driver\nECU.61 > V > G1",
    "a charge lamp grounded through the field of the alternator":
        "L: lamp\nalternator: alternator\nFL > L > alternator.D+, 10 mm2\n"
        "alternator.B+ > battery.+",
    "a lamp grounded by an oil pressure switch":
        "L: lamp\noil switch: oil pressure switch\nFL > L > oil switch, 10 mm2",
    "a relay worked and fed": "K1: relay\nL: lamp\nFL > K1.30, 10 mm2\nFL.2 > K1.86, 10 mm2\n"
        "K1.85 > G1\nK1.87 > L > G1",
    "a pin of a unit nothing is said of": "L: lamp\nECU: control unit\nECU.9 > L > G1",
    "sensor returns on a pin of their own":
        "ECU.47: 5 V group A\nECU.32: ground\nECU.31: analogue input\n"
        "rail sensor: three-wire sensor\nECU.47 > rail sensor.3\nrail sensor.1 > ECU.32\n"
        "rail sensor.2 > ECU.31",
    "a sensor whose maker counts the other way round":
        "ECU.47: 5 V group A\nECU.32: ground\nECU.31: analogue input\n"
        "rail sensor: three-wire sensor, pins 3 / 2 / 1\nECU.47 > rail sensor.1\n"
        "rail sensor.3 > ECU.32\nrail sensor.2 > ECU.31",
    "a proximity switch fed through a fuse":
        "ECU.31: digital input\nboom switch: proximity switch\nFL > boom switch.BN, 10 mm2\n"
        "boom switch.BU > G1\nboom switch.BK > ECU.31",
    "one wire name along a circuit":
        "S1: switch\nL: lamp\nX1: plug 2 ways\nFL > X1.1, 10 mm2, wire 7\n"
        "X1.1 > S1 > L > G1, 10 mm2, wire 7",
}  # fmt: skip


@pytest.mark.parametrize("circuit", QUIET)
def test_a_sound_circuit_is_not_complained_about(circuit: str) -> None:
    text = FEED + QUIET[circuit]
    told = [s for s in slugs(text) if s not in ("pin-used-twice", "undeclared-part")]
    assert told == []


TOLD = {
    "no-feed": "X1: plug 2 ways\nL: lamp\nX1.1 > L > G1",
    "no-ground": "X1: plug 2 ways\nL: lamp\nFL > L > X1.1, 10 mm2",
    "feeds-joined": "F1: fuse 5 A\nF2: fuse 5 A\nX1: plug 2 ways\nFL > F1 > X1.1, 10 mm2\n"
        "FL.2 > F2 > X1.1, 10 mm2",
    "fuse-too-large": "F1: fuse 20 A\nL: lamp\nX1: plug 2 ways\nF1 > X1.1, 1.5 mm2\n"
        "X1.1 > L > G1, 1 mm2",
    "sensor-pins-changed": "ECU.47: 5 V group A\nECU.31: analogue input\nECU.32: ground\n"
        "speed sensor: hall sensor\nECU.47 > speed sensor.2\nspeed sensor.3 > ECU.31\n"
        "speed sensor.1 > ECU.32",
    "group-without-source": "group ECU A: 5 V, limit 100 mA",
    "section-not-passed": "section s: a to b, 1 m\nL: lamp\nFL > L > G1, 10 mm2, in s",
}  # fmt: skip


@pytest.mark.parametrize("slug", TOLD)
def test_a_rule_speaks_up(slug: str) -> None:
    assert slug in slugs(FEED + TOLD[slug])


@pytest.mark.parametrize(("mm2", "told"), [("0.5", False), ("0.35", True)])
def test_a_fuse_is_held_against_the_catalogue_current_of_its_wire(mm2: str, told: bool) -> None:
    """0.5 mm2 carries 11 A (MK Global catalogue, thin-wall wire, ISO 6722 class B)."""
    text = FEED + f"F1: fuse 10 A\nL: lamp\nF1 > L > G1, {mm2} mm2"
    assert ("fuse-too-large" in slugs(text)) == told


def test_conditions_of_a_code_are_read_as_written() -> None:
    book = sound(
        "ECU.31: analogue input\nECU.60: PWM driver\nECU.47: 5 V group A\ndisplay: display\n"
        'code ECU 1 "a": ECU.31 < 0.2 V or > 4.8 V, ECU.60 < 100 mA\n'
        'code ECU 2 "b": group A < 4.6 V, supply > 9 V, hears display, key run, with ECU\n'
        "code ECU E 42: 31 > 4,8 V, for 500 ms, then derate, hides 1, 2\n"
    )
    pin = {"31": ("ECU", "31"), "60": ("ECU", "60")}
    assert book.codes["ECU", "1"].tests == (
        Condition(kind="volts", pin=pin["31"], low=0.2, high=4.8),  # type: ignore[arg-type]
        Condition(kind="amps", pin=pin["60"], low=0.1),  # type: ignore[arg-type]
    )
    second = book.codes["ECU", "2"]
    assert second.tests == (
        Condition(kind="rail", other="A", low=4.6),
        Condition(kind="supply", high=9.0),
        Condition(kind="hears", other="display"),
    )
    assert (second.when, second.commands, second.words) == (("run",), ("ECU",), "b")
    third = book.codes["ECU", "E 42"]
    assert (third.for_s, third.effect, third.hides) == (0.5, "derate", ("1", "2"))
    assert third.tests[0].high == 4.8


def test_a_function_lists_what_it_needs() -> None:
    book = sound(
        "starter: starter\nECU: control unit\nS7: switch\nECU.31: analogue input\n"
        'code ECU 157/4 "low": ECU.31 < 0.2 V\n'
        "function engine starts: needs starter, ECU, key crank, with S7, without ECU 157/4\n"
        "function travel: needs starter, moves the machine\n"
    )
    starts = book.functions["engine starts"]
    assert starts.needs == ("starter", "ECU", "ECU 157/4")
    assert (starts.key, starts.commands, starts.moves) == ("crank", ("S7",), False)
    assert book.functions["travel"].moves


def test_a_display_value_runs_between_two_points() -> None:
    book = sound(
        "ECU.31: analogue input\ndisplay ECU rail pressure: ECU.31, 0.5 V to 4.5 V is -10 to 1800 bar"
    )
    value = book.displays["ECU", "rail pressure"]
    assert (value.low_v, value.high_v, value.low, value.high) == (0.5, 4.5, -10.0, 1800.0)
    assert (value.measure, str(value.pin)) == ("bar", "ECU.31")


def test_a_part_may_be_called_by_a_word_of_the_format() -> None:
    book = sound(
        "display: display\nsection valve: solenoid\ncode reader: control unit\nfunction lamp: lamp"
    )
    assert [part.kind for part in book.parts.values()][:4] == [
        "display",
        "solenoid",
        "control unit",
        "lamp",
    ]


def test_a_unit_may_be_called_by_the_word_of_a_kind() -> None:
    book = sound(
        "unit 1: control unit\nunit 1.3: analogue input\n"
        'code unit 1 157/4 "rail low": unit 1.3 < 0.2 V, for 2 s\n'
        "code unit 1 157/3: unit 1.3 < 0.1 V or > 4.8 V, for 2 s\n"
        "display unit 1 rail pressure: unit 1.3, 0.5 V to 4.5 V is 0 to 1800 bar"
    )
    assert set(book.codes) == {("unit 1", "157/4"), ("unit 1", "157/3")}
    assert set(book.displays) == {("unit 1", "rail pressure")}
    assert next(iter(book.parts)) == "unit 1"
    assert not any("157" in name for name in book.parts)


@pytest.mark.parametrize("item", ["999 mm2", "0.1 mm2", "100000 m", "5 mm"])
def test_a_wire_no_machine_has_is_asked_about_and_kept(item: str) -> None:
    """Sizes and lengths on a compact machine: common practice, no source."""
    assert "out-of-range" in slugs(f"{FEED}L: lamp\nFL > L > G1, {item}")


@pytest.mark.parametrize("item", ["0 mm2", "0 m"])
def test_a_wire_of_nothing_is_refused(item: str) -> None:
    assert read_book(f"{FEED}L: lamp\nFL > L > G1, {item}")[0] is None


@pytest.mark.parametrize("figure", ["0", "-5"])
@pytest.mark.parametrize("kind", KINDS)
def test_no_figure_of_a_part_that_must_be_above_zero_can_be_zero_or_less(
    kind: str, figure: str
) -> None:
    for attribute in KINDS[kind].attributes:
        if attribute.unit == "word" or attribute.low <= 0.0:
            continue
        unit = {"1": "", "m2": "mm2"}.get(attribute.unit, attribute.unit)
        line = f"P1: {KINDS[kind].words[0]}, {attribute.name} {figure} {unit}"
        book, problems = read_book(f"machine x, 12 V\n{line}\n")
        assert book is None
        assert "not-above-zero" in [problem.slug for problem in problems], line


def test_the_remedy_for_changed_sensor_pins_gives_them_in_the_order_of_the_kind() -> None:
    rows = "ECU.47: 5 V group A\nECU.31: analogue input\nECU.32: ground\nECU: control unit\n"
    rows += "ECU.47 > lever.A\nlever.B > ECU.32\nlever.C > ECU.31\n"
    line = "lever: three-wire sensor, pins A / B / C"
    (told,) = [p for p in read_book(f"{rows}{line}")[1] if p.slug == "sensor-pins-changed"]
    assert "its ground pin A leads to a 5 V group" in told.what
    assert "add to its line: pins B / C / A." in told.remedy
    mended = line.replace("A / B / C", "B / C / A")
    assert "sensor-pins-changed" not in slugs(f"{rows}{mended}")


@pytest.mark.parametrize(
    ("pull", "limit", "told"),
    [
        ("47 kohm", "4.8", True),
        ("47 kohm", "4.75", False),
        ("4.7 kohm", "4.8", False),
        ("4.7 kohm to group A", "4.99", True),
        ("47 kohm to supply", "4.8", False),
    ],
)
def test_a_code_an_open_wire_cannot_set_is_asked_about(pull: str, limit: str, told: bool) -> None:
    """By hand: 5 V through 47 kohm against 1 Mohm is 4.776 V, through 4.7 kohm 4.977 V."""
    text = (
        f"ECU.47: 5 V group A\nECU.31: analogue input, pull up {pull}\nECU: control unit\n"
        f"code ECU 157/3: ECU.31 > {limit} V"
    )
    assert ("open-wire-not-seen" in slugs(text)) == told


def test_an_open_wire_reads_what_the_rule_says_it_does() -> None:
    """The circuit itself, against the figure of the warning."""
    book, problems = read_book(
        "battery.+ > F1 > ECU.1\nECU: control unit\nECU.1: supply\nECU.2: ground\nECU.2 > frame\n"
        "ECU.31: analogue input, pull up 47 kohm\ncode ECU 157/3: ECU.31 > 4.8 V"
    )
    assert book is not None
    (told,) = [problem for problem in problems if problem.slug == "open-wire-not-seen"]
    circuit = Circuit.of(book)
    at = circuit.within(np.zeros(1, np.int64)).seen(
        Situation(key="on"), [Probe(kind="inner", p="ECU:31", n="ECU:ground")]
    )
    assert f"reads {at.mean[0, 0]:.2f} V" in told.what
