"""What a function hangs on: what every way of its current leads through."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.model import Pin
from backprobe.checks.hanging import Hanging
from backprobe.checks.layout import layout_of
from backprobe.kinds import KINDS
from backprobe.shop.demo import book_text


@pytest.fixture(scope="module")
def hanging() -> Hanging:
    book, _ = read_book(book_text("tracked-dumper"), "dumper")
    assert book is not None
    return Hanging(layout_of(book, KINDS))


MAIN = {"battery", "G5", "isolator", "B1"}
FEED = MAIN | {"FL2", "bus 30", "F1", "key switch", "X4"}
KEYED = FEED | {"bus 15"}
LOCKS = {"neutral switch", "park lock switch", "seat switch"}
UNIT = {"ECU", "K1", "F2", "F8", "G2", "bus ECU"}


@pytest.mark.parametrize(
    ("part", "besides"),
    [
        # its fuse, its ground and the strap of what that is bolted to; not what else is on the fuse
        ("display", KEYED | {"F5", "bus F5", "SP3", "G4", "cab strap"}),
        ("horn", KEYED | {"F6", "S1", "G2"}),
        # the coil of its relay hangs on things of its own
        ("starter", FEED | {"F11", "K3", "G2", "engine strap"} | LOCKS),
        # the unit switches it, so it hangs on what the unit hangs on
        ("lift pump", KEYED | UNIT | {"F3", "K4"}),
        # a sensor is fed and grounded through the unit
        ("rail sensor", KEYED | UNIT | {"X10", "SP1", "SPG1"}),
    ],
)
def test_a_part_hangs_on_its_fuses_switches_and_grounds(
    hanging: Hanging, part: str, besides: set[str]
) -> None:
    assert hanging.parts([part]) == besides | {part}


def test_without_any_of_them_no_current_comes(hanging: Hanging) -> None:
    assert hanging.parts(["alternator"]) == MAIN | {"alternator", "FL1", "engine strap"}
    assert hanging.parts(["no such part"]) == set()


def test_what_is_at_a_pin_of_a_unit(hanging: Hanging) -> None:
    assert hanging.at(Pin("ECU", "61")) == ("ECU", "K4")
    assert set(hanging.at(Pin("ECU", "21"))) >= {"ECU", "rail sensor", "X10"}
    assert hanging.at(Pin("ECU", "99")) == ()
