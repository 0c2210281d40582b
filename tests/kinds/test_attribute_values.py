"""Defaults and formulas of attributes."""

from __future__ import annotations

import pytest

from backprobe.kinds.records import SEVERITY, SEVERITY_EMF, Attribute, Cell
from backprobe.kinds.values import complete, num, number


def attribute(name: str, default: object, unit: str = "ohm") -> Attribute:
    return Attribute(name=name, unit=unit, default=default, meaning="m", source="s")  # type: ignore[arg-type]


def test_typed_values_win_over_defaults() -> None:
    assert complete([attribute("ohm", 5.0)], {"ohm": 7.0}) == {"ohm": 7.0}


def test_defaults_fill_in_numbers_words_and_other_attributes() -> None:
    table = [
        attribute("volts", 12.0, "V"),
        attribute("kind", "slow", "word"),
        attribute("again", "volts", "V"),
        attribute("ohm", lambda a: num(a, "volts") / 2.0),
        attribute("extra", None),
    ]
    assert complete(table, {}) == {"volts": 12.0, "kind": "slow", "again": 12.0, "ohm": 6.0}


def test_the_machines_voltage_is_the_default_of_volts_only() -> None:
    table = [attribute("volts", 12.0, "V"), attribute("ohm", 3.0)]
    assert complete(table, {}, volts=24.0) == {"volts": 24.0, "ohm": 3.0}
    assert complete(table, {"volts": 12.0}, volts=24.0)["volts"] == 12.0


def test_a_formula_sees_what_was_typed_below_it() -> None:
    table = [attribute("ohm", lambda a: 2.0 * num(a, "watts")), attribute("watts", 1.0, "W")]
    assert complete(table, {"watts": 5.0})["ohm"] == 10.0


def test_what_no_table_knows_is_kept() -> None:
    assert complete([], {"colour": "RD"}) == {"colour": "RD"}


def test_a_severity_must_be_given_where_it_is_asked_for() -> None:
    cell = Cell(ohm=3.0, spread=1.0, weight=1.0, emf=lambda a: -0.5 * num(a, "volts"))
    assert number(SEVERITY, {}, cell) == 3.0
    assert number(SEVERITY_EMF, {"volts": 24.0}, cell) == -12.0
    for word in (SEVERITY, SEVERITY_EMF):
        with pytest.raises(ValueError, match=r"^this value needs a severity$"):
            number(word, {})


def test_an_attribute_that_is_not_there_is_an_error() -> None:
    with pytest.raises(KeyError):
        number("ohm", {})
