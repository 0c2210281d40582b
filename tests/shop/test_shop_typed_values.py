"""Readings as they are typed, taken in the unit the check asks for."""

from __future__ import annotations

from math import inf

import pytest

from backprobe.book.situations import Situation
from backprobe.checks.model import Check
from backprobe.shop.answer import value_of


def check(does: str) -> Check:
    return Check(id="c", does=does, target="X14", words="", situation=Situation())  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("does", "typed", "value"),
    [
        ("volts", "12,3", 12.3),
        ("volts", "85 mV", 0.085),
        ("millivolts", "4.5", 0.0045),
        ("ohms", "4.7 kohm", 4700.0),
        ("ohms", "OL", inf),
    ],
)
def test_a_bare_number_takes_the_unit_of_the_check(does: str, typed: str, value: float) -> None:
    assert value_of(typed, check(does)) == pytest.approx(value)


@pytest.mark.parametrize("typed", ["nan", "inf", "-infinity", "twelve", "", "12 A"])
def test_what_no_meter_shows_is_no_reading(typed: str) -> None:
    assert value_of(typed, check("volts")) is None
