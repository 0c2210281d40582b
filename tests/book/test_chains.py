"""Chains of pins become wires."""

from __future__ import annotations

import pytest

from backprobe.base.units import awg_area
from backprobe.book.model import End, Pin
from book.reading import between, slugs, sound, typed

PARTS = """
F12: fuse 10 A
X14: plug 12 ways
lift pump: pump 4.5 A
G2: ground stud, on frame
"""


def test_each_arrow_is_a_wire_and_a_two_pin_part_is_passed_from_first_to_second() -> None:
    book = sound(PARTS + "F12 > X14.3 > lift pump > G2, 1.0 mm2, RD, wire 31")
    assert typed(book) == [
        ("F12.2", "X14.3a"),
        ("X14.3b", "lift pump.1"),
        ("lift pump.2", "G2.1"),
    ]
    assert list(book.wires)[:3] == ["31 F12.2-X14.3", "31 X14.3-lift pump.1", "31 lift pump.2-G2"]
    for wire in list(book.wires.values())[:3]:
        assert (wire.name, wire.area_m2, wire.colour) == ("31", 1e-6, "RD")


def test_wires_are_named_one_by_one_and_keep_their_name_as_id() -> None:
    book = sound(PARTS + "F12 > X14.3 > lift pump > G2, 1 mm2, wire 31 / 32 / 33")
    assert list(book.wires)[:3] == ["31", "32", "33"]


def test_a_wire_without_a_name_is_called_by_its_ends() -> None:
    book = sound(PARTS + "F12 > lift pump > G2")
    assert list(book.wires)[:2] == ["F12.2-lift pump.1", "lift pump.2-G2"]


def test_two_wires_between_the_same_pins_have_ids_of_their_own() -> None:
    book = sound("battery: battery\nG2: ground stud\nbattery.- > G2\nbattery.- > G2\n")
    assert list(book.wires)[:2] == ["battery.--G2", "battery.--G2 (2)"]


def test_branches_are_one_wire_each() -> None:
    book = sound(
        PARTS + "J5: splice\nlamp A: lamp\nlamp B: lamp\nF12 > J5 > lamp A + lamp B.1, wire 7"
    )
    assert typed(book) == [("F12.2", "J5.1"), ("J5.1", "lamp A.1"), ("J5.1", "lamp B.1")]


def test_a_plug_way_continues_on_the_next_line() -> None:
    book = sound(PARTS + "F12 > X14.3\nX14.3 > lift pump > G2")
    assert typed(book)[:2] == [("F12.2", "X14.3a"), ("X14.3b", "lift pump.1")]


def test_a_second_arrival_at_a_plug_way_sits_on_the_free_side() -> None:
    book = sound(PARTS + "F12 > X14.3\nlift pump.1 > X14.3\nlift pump.2 > G2")
    assert typed(book)[:2] == [("F12.2", "X14.3a"), ("lift pump.1", "X14.3b")]


def test_a_side_can_be_said_outright() -> None:
    book = sound(PARTS + "F12 > X14.3b\nX14.3a > lift pump > G2")
    assert typed(book)[:2] == [("F12.2", "X14.3b"), ("X14.3a", "lift pump.1")]


@pytest.mark.parametrize("body", ["frame", "ENGINE", "cab"])
def test_a_chain_may_end_at_the_machines_metal(body: str) -> None:
    book = sound(PARTS + f"F12 > lift pump > {body}")
    assert book.wires[f"lift pump.2-{body.lower()}"].b == End(body.lower(), "")


def test_battery_minus_is_the_minus_post() -> None:
    book = sound(PARTS + "main battery: battery\nF12 > lift pump > battery minus")
    assert typed(book)[1] == ("lift pump.2", "main battery.-")


def test_pins_go_by_their_other_names_and_by_the_printed_ones() -> None:
    book = sound(
        PARTS
        + "rail sensor: three-wire sensor, pins G / SIG / 5V\nECU.47: 5 V group A\n"
        "ECU.47 > rail sensor.5V\nrail sensor.ground > G2\nECU.31 < rail sensor.signal\n".replace(
            "ECU.31 < rail sensor.signal\n", "rail sensor.signal > ECU.31\n"
        )
    )
    assert typed(book) == [
        ("ECU.47", "rail sensor.3"),
        ("rail sensor.1", "G2.1"),
        ("rail sensor.2", "ECU.31"),
    ]


def test_names_keep_their_case_and_single_spaces() -> None:
    book = sound(PARTS + "F12>lift   pump.1\nlift pump . 2 > G2")
    assert typed(book) == [("F12.2", "lift pump.1"), ("lift pump.2", "G2.1")]


def test_a_gauge_is_an_area() -> None:
    book = sound(PARTS + "F12 > lift pump > G2, 18 AWG, 90 cm")
    wire = between(book, "F12", "lift pump")
    assert (wire.area_m2, wire.length_m, wire.assumed) == (awg_area("18"), 0.9, ())


def test_ways_of_a_plug_nobody_counted_are_made_by_naming_them() -> None:
    book = sound(
        "X7: plug\nF12: fuse 10 A\nG2: ground stud\nlamp A: lamp\nF12 > X7.B4 > lamp A > G2\n"
    )
    assert book.parts["X7"].pins == ("B4",)


def test_lettered_ways_are_given_by_pins() -> None:
    assert sound("X7: plug 3 ways, pins A / B / C").parts["X7"].pins == ("A", "B", "C")
    assert "unknown-pin" in slugs("X7: plug 3 ways, pins A / B / C\nF1: fuse 5 A\nF1 > X7.D")


@pytest.mark.parametrize("part", ["battery: battery", "starter: starter", "alternator: alternator"])
def test_a_part_whose_two_pins_are_no_way_through_needs_its_pin(part: str) -> None:
    name = part.split(":", maxsplit=1)[0]
    assert "missing-pin" in slugs(f"{part}\nF12: fuse 10 A\nF12 > {name}")


def test_wires_of_one_line_may_share_a_pin_but_not_those_of_two() -> None:
    assert slugs(PARTS + "lamp A: lamp\nF12 > lift pump.1 + lamp A.1") == []
    assert slugs(PARTS + "lamp A: lamp\nF12 > lift pump.1\nF12 > lamp A.1") == ["pin-used-twice"]


def test_the_role_of_a_pin_is_read_with_its_group() -> None:
    book = sound(
        "ECU: control unit\ngroup ECU A: 5 V, limit 150 mA, latches\nECU.47: 5 V group A\n"
        "ECU.31: analogue input, pull up 4.7 kohm to group A\nECU.32: analogue input\n"
    )
    role = book.roles[Pin("ECU", "31")]
    assert dict(role.attrs) == {"pull up": 4700.0, "to": "group"}
    assert (role.role, role.group) == ("analogue input", "A")
    assert book.roles[Pin("ECU", "47")].group == "A"
    assert (book.groups["ECU", "A"].limit_a, book.groups["ECU", "A"].latches) == (0.15, True)
