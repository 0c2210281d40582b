"""Who hears whom when a line of the bus is held: what a car maker's CAN tables say."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Lead, Situation
from backprobe.defects.predict import Circuit
from backprobe.suspects.codes import _heard
from backprobe.suspects.view import View

BUS = """book format 1
machine bench, 12 V
battery: battery 12 V
ECU: control unit, on frame
display: display, on frame
battery.- > frame, 35 mm2, 0.3 m, wire minus
battery.+ > ECU.1, 1 mm2, 0.5 m, wire 1
battery.+ > display.1, 1 mm2, 0.5 m, wire 2
ECU.2 > frame, 1 mm2, 0.5 m, wire 3
display.2 > frame, 1 mm2, 0.5 m, wire 4
ECU.7 > display.7, 0.5 mm2, 1 m, wire 5
ECU.8 > display.8, 0.5 mm2, 1 m, wire 6
ECU.1: supply
ECU.2: ground
ECU.7: CAN high, terminated yes
ECU.8: CAN low
display.1: supply
display.2: ground
display.7: CAN high, terminated yes
display.8: CAN low
"""


def chance(*leads: Lead) -> float:
    """That messages of the ECU arrive at the display."""
    book, problems = read_book(BUS)
    assert book is not None, problems
    circuit = Circuit.of(book).within(np.zeros(1, np.int64))
    view = View(book, circuit)
    situation = Situation(key="on", fitted=leads)
    _heard(view, "display", "ECU", situation, gone=False)  # asks
    view.fetch()
    return float(_heard(view, "display", "ECU", situation, gone=False)[0, 0])


def jumper(p: str, n: str) -> Lead:
    return Lead(kind="jumper", p=p, n=n)


def test_a_healthy_bus_carries():
    assert chance() > 0.99


@pytest.mark.parametrize(
    "lead",
    [
        jumper("ECU.7", "battery minus"),
        jumper("ECU.7", "battery.+"),
        jumper("ECU.8", "battery.+"),
    ],
    ids=["high to ground", "high to battery", "low to battery"],
)
def test_a_line_held_where_it_cannot_be_driven_silences_all(lead):
    """A car maker's CAN table: high to ground, either line to the battery: all dead."""
    assert chance(lead) < 0.05


def test_the_low_line_on_ground_lets_traffic_limp():
    """Another maker's page on CAN low to ground: traffic may go on."""
    assert chance(jumper("ECU.8", "battery minus")) > 0.5
