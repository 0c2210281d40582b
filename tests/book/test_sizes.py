"""Sizes of wires nobody typed: what carries the starter's current, and what only looks like it.

A wire is as thick as its fuse wants (base.copper); a ground wire takes back what its feed brings, so it
is no thinner: common practice, no source. Starter cable: see book.sizes.
"""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.model import Book

START = """
machine loader, 12 V
battery: battery 12 V
starter: starter, on engine
alternator: alternator, on engine
engine strap: ground strap, on engine / frame
main fuse: fusible link 80 A
F1: fuse 5 A
F2: fuse 20 A
"""


def sizes(rows: str) -> dict[str, float]:
    """Square millimetres by wire."""
    book = sound(rows)
    return {name: round(1e6 * wire.area_m2, 2) for name, wire in book.wires.items()}


def because(rows: str, wire: str) -> str:
    found = [a for a in sound(rows).assumptions if a.about == f"wire {wire}" and "mm2" in a.what]
    return found[0].because


def sound(rows: str) -> Book:
    book, problems = read_book(START + rows, "loader")
    assert book is not None, "\n".join(map(str, problems))
    return book


def test_cables_between_battery_starter_and_metal_are_thick() -> None:
    found = sizes("battery.+ > starter.30, wire 1\nbattery.- > frame, wire 2\n")
    assert (found["1"], found["2"]) == (25.0, 25.0)
    assert because("battery.- > frame, wire 2\n", "2") == "it carries the starter's current"


@pytest.mark.parametrize(
    "rows",
    ["G1: ground stud, on frame\nbattery.- > G1, wire 2\n",
     "S1: splice\nbattery.- > S1, wire 2\nS1 > frame, wire 2b\n",
     "Q1: isolator\nbattery.- > Q1.1, wire 2\nQ1.2 > frame, wire 2b\n",
     "G5: ground stud, on cab\nbattery.- > frame, wire 2\nG5 > frame, wire 2b\n"],
)  # fmt: skip
def test_on_the_way_back_they_stay_so_through_studs_splices_and_isolators(rows: str) -> None:
    """The last: a cab's way to the frame takes back whatever is bolted to the cab, as a strap does."""
    found = sizes(rows)
    assert {found[wire] for wire in ("2", "2b") if wire in found} == {25.0}


@pytest.mark.parametrize("stud", ["frame", "G1", "engine"])
def test_a_lamps_and_a_sensors_ground_wire_is_none_of_them(stud: str) -> None:
    """F1 of 5 A wants 0.75 mm2 or less, F2 of 20 A 2.5 mm2; a sensor hangs on no fuse."""
    rows = (
        "G1: ground stud, on frame\nbattery.- > G1, wire 2\nbattery.- > frame, wire 2b\n"
        "X5: plug 2 ways\n"
        f"F1 > lamp.1, wire 10\nlamp: lamp 21 W\nlamp.2 > {stud}, wire 11\n"
        f"F2 > pump.1, wire 12\npump: motor 150 W\npump.2 > X5.1 > {stud}, wire 13 / 14\n"
        "ECU: control unit\nECU.1: supply\nECU.2: ground\nECU.3: analogue input\n"
        f"ECU.2 > {stud}, wire 15\nsensor: temperature sensor\n"
        f"sensor.1 > ECU.3, wire 16\nsensor.2 > {stud}, wire 17\n"
    )
    found = sizes(rows)
    assert (found["2"], found["2b"]) == (25.0, 25.0)
    assert (found["10"], found["11"]) == (0.75, 0.75)
    assert found["13"] == found["14"] == found["12"] > 1.0
    assert because(rows, "14") == "F2 is 20 A"
    assert (found["15"], found["17"]) == (0.75, 0.75)


def test_what_only_starts_at_the_starters_post_goes_by_its_fuse() -> None:
    """Only the cable itself carries the starter's current, not what else is under its nut."""
    found = sizes(
        "battery.+ > starter.30, wire 1\nstarter.30 > main fuse.1, wire 3\n"
        "main fuse.2 > F1.1, wire 4\nstarter.30 > alternator.B+, wire 5\n"
        "battery.- > frame, wire 2\nF1 > lamp.1, wire 6\nlamp: lamp 21 W\nlamp.2 > frame, wire 7\n"
    )
    assert (found["1"], found["2"], found["5"]) == (25.0, 25.0, 25.0)
    assert found["3"] == 16.0
    assert found["7"] == 0.75


def test_two_ground_wires_of_one_part_are_no_starter_cable() -> None:
    found = sizes(
        "G1: ground stud, on frame\nbattery.- > G1, wire 2\n"
        "F1 > lamp.1, wire 10\nlamp: lamp 21 W\nlamp.2 > G1, wire 11\nlamp.2 > frame, wire 12\n"
    )
    assert (found["2"], found["11"], found["12"]) == (25.0, 0.75, 0.75)
