"""What is assumed of many wires alike is told once, and none of them is lost."""

from __future__ import annotations

from backprobe.book.model import Assumption
from backprobe.shop.assumed import told_together

LENGTH = ("1.5 m", "nothing is known of where it runs")


def assumed(about, what, because):
    return Assumption(about=about, what=what, because=because)


def test_many_wires_alike_are_one_line_that_names_them_all():
    battery = assumed("battery", "a battery", "its name says so")
    wires = [assumed(f"wire {k}", *LENGTH) for k in range(25)]
    first, together = told_together([battery, *wires])
    assert first == battery
    assert (together.about, together.what) == ("25 wires", "1.5 m")
    assert together.because == f"{LENGTH[1]}: {', '.join(map(str, range(25)))}"


def test_a_few_wires_and_other_grounds_stay_apart():
    few = [assumed(f"wire {k}", *LENGTH) for k in range(3)]
    other = assumed("wire 9", "1.5 m", "both ends are at the dash")
    assert told_together([*few, other]) == (*few, other)


def test_the_minutes_of_many_parts_are_one_line_apart_from_the_wires():
    minutes = ("open 2 min, close 1.5 min", "nothing is known of its place")
    told = told_together([assumed(name, *minutes) for name in "abcde"])
    assert [(one.about, one.because) for one in told] == [
        ("5 parts", "nothing is known of its place: a, b, c, d, e")
    ]
