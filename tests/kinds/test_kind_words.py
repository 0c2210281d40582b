"""Finding a kind or a role by a person's words."""

from __future__ import annotations

import pytest

from backprobe.kinds import KINDS, ROLES, kind_named, role_named


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("fuse", "fuse"),
        ("Blade Fuse", "fuse"),
        ("rocker  switch", "switch"),
        ("ECU", "control unit"),
        ("ecu", "control unit"),
        ("metering valve", "PWM valve"),
        ("bus bar", "splice"),
        ("earth strap", "ground strap"),
        ("lift pump", "pump"),
        ("LED work light", "LED lamp"),
        ("suppressed relay", "suppressed relay"),
    ],
)
def test_words_find_their_kind(words: str, name: str) -> None:
    kind = kind_named(words)
    assert kind is not None
    assert kind.name == name


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("analog input", "analogue input"),
        ("low-side driver", "low side driver"),
        ("CAN H", "CAN high"),
        ("can low", "CAN low"),
        ("PWM low side driver", "PWM driver"),
        ("5 V group", "5 V group"),
    ],
)
def test_words_find_their_role(words: str, name: str) -> None:
    role = role_named(words)
    assert role is not None
    assert role.name == name


def test_unknown_words_find_nothing() -> None:
    assert kind_named("flux capacitor") is None
    assert kind_named("") is None
    assert role_named("fuse") is None


def test_every_word_of_every_record_finds_it() -> None:
    for kind in KINDS.values():
        assert all(kind_named(word.upper()) is kind for word in kind.words)
    for role in ROLES.values():
        assert all(role_named(word.lower()) is role for word in role.words)


def test_din_72552_terminals_are_known() -> None:
    """DIN 72552: relay 30 87 87a 85 86; key switch 30 15 50 19; starter 30 50; 31 is ground,
    61 the charge lamp, B+ and D+ the alternator."""
    assert set(KINDS["changeover relay"].pins) == {"30", "87", "87a", "85", "86"}
    assert set(KINDS["key switch"].pins) == {"30", "15", "50", "19"}
    assert {"30", "50"} <= set(KINDS["starter"].pins)
    assert KINDS["battery"].aliases["31"] == "-"
    assert KINDS["alternator"].aliases["61"] == "D+"
    assert KINDS["lamp"].aliases["31"] == "2"


def test_letters_are_classes_of_iec_81346_2() -> None:
    """IEC 81346-2 classes as listed publicly: F protection, K relay and unit, M motor and
    actuator coil, S manual switch, B sensor, X connection, G source, R resistor and diode."""
    wanted = {
        "fuse": "F",
        "relay": "K",
        "control unit": "K",
        "pump": "M",
        "solenoid": "M",
        "switch": "S",
        "three-wire sensor": "B",
        "plug": "X",
        "battery": "G",
        "diode": "R",
        "terminator": "R",
        "lamp": "E",
        "isolator": "Q",
    }
    assert {name: KINDS[name].letter for name in wanted} == wanted
