"""Quantities read and shown."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.base.units import UNITS, Quantity, parse_quantity, show, tidy_quantity, unit_named

READ = {
    "4.7 kohm": (4700.0, "ohm"),
    "4,7kOhm": (4700.0, "ohm"),
    "4.7 kΩ": (4700.0, "ohm"),
    "3 mohm": (0.003, "ohm"),
    "3 Mohm": (3e6, "ohm"),
    "10A": (10.0, "A"),
    "100 mA": (0.1, "A"),
    "5 µA": (5e-6, "A"),
    "0.75 mm2": (0.75e-6, "m2"),
    "0,75 mm²": (0.75e-6, "m2"),
    "90 cm": (0.9, "m"),
    "4 min": (240.0, "s"),
    "2 h": (7200.0, "s"),
    "35 %": (0.35, "%"),
    "1800 bar": (1.8e8, "Pa"),
    "-40 C": (-40.0, "C"),
    "21 W": (21.0, "W"),
    "12": (12.0, "1"),
    "+0.5 V": (0.5, "V"),
    "100 Ah": (360_000.0, "As"),
}


@pytest.mark.parametrize("text", READ)
def test_a_quantity_is_read_into_si(text: str) -> None:
    assert parse_quantity(text) == Quantity(*READ[text])


@pytest.mark.parametrize(
    "text",
    ["", "ohm", "10 Q", "12:30", "#12", "1.2.3 V", "1,2,3", "10 A V", "4k7", "3 MOHM", "1e3 V"],
)
def test_what_is_no_quantity_is_not_guessed_at(text: str) -> None:
    assert parse_quantity(text) is None


def test_a_wrong_case_is_read_only_where_it_cannot_mean_another_unit() -> None:
    assert unit_named("ma") == unit_named("mA")
    assert unit_named("KOHM") == unit_named("kohm")
    assert unit_named("MOHM") is None


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (4700.0, "ohm", "4.7 kohm"),
        (12.6, "V", "12.6 V"),
        (0.75e-6, "m2", "0.75 mm2"),
        (0.085, "A", "85 mA"),
        (0.0, "V", "0 V"),
        (-0.05, "V", "-50 mV"),
        (0.62, "V", "0.62 V"),
        (0.0183, "ohm", "18.3 mohm"),
        (inf, "ohm", "open"),
        (240.0, "s", "4 min"),
        (90.0, "s", "1.5 min"),
        (2.0, "s", "2 s"),
        (0.9, "m", "0.9 m"),
        (1.8e8, "Pa", "1800 bar"),
        (0.35, "%", "35 %"),
        (12.0, "1", "12"),
        (999.6, "ohm", "1000 ohm"),
    ],
)
def test_a_value_is_shown_as_a_technician_writes_it(value: float, unit: str, text: str) -> None:
    assert show(value, unit) == text


NUMBERS = st.floats(min_value=1e-6, max_value=1e9).flatmap(lambda x: st.sampled_from([x, -x]))


@given(NUMBERS, st.sampled_from(["ohm", "V", "A", "W", "m", "s", "Pa", "Hz"]))
def test_what_is_shown_is_read_back_to_the_digits_shown(value: float, unit: str) -> None:
    back = parse_quantity(show(value, unit, digits=6))
    assert back is not None
    assert back.unit == unit
    assert back.value == pytest.approx(value, rel=1e-5)


@given(
    st.decimals(min_value=0, max_value=10_000, places=3).map(str),
    st.sampled_from([unit.spelling for unit in UNITS]),
    st.sampled_from([".", ","]),
    st.sampled_from(["", " ", "   "]),
)
def test_the_tidy_spelling_means_the_same_and_is_left_alone(
    number: str, unit: str, point: str, space: str
) -> None:
    text = number.replace(".", point) + space + unit
    tidy = tidy_quantity(text)
    assert tidy is not None
    assert tidy_quantity(tidy) == tidy
    assert parse_quantity(tidy) == parse_quantity(text)
