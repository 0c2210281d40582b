"""What nobody typed is filled in, marked, listed, and makes a circuit that works."""

from __future__ import annotations

import pytest

from backprobe.book import attributes_of, group_attributes, read_book, role_attributes
from backprobe.book.guess import kind_from_name
from backprobe.book.model import Book, Pin
from backprobe.book.situations import Situation
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from book.reading import between, slugs, sound

CARD = """
F1 feeds ECU
F2 feeds lift pump
F3: fuse 15 A, at fuse box
F3 feeds work light left, work light right
F4 feeds horn
group ECU A feeds rail pressure sensor, boost pressure sensor
"""


def whats(book: Book, about: str) -> list[str]:
    return [a.what for a in book.assumptions if a.about == about]


def volts(book: Book, key: str, *places: str) -> list[float]:
    circuit = Circuit.of(book)
    probes = [Probe(kind="volts", p=place) for place in places]
    situation = Situation(key=key)  # type: ignore[arg-type]
    return [float(v) for v in circuit.seen(situation, probes).mean[0]]


def test_a_fuse_card_makes_a_circuit_in_which_everything_has_its_volts() -> None:
    book = sound(CARD)
    places = ("work light left.1", "lift pump.1", "ECU.supply", "rail pressure sensor.3")
    lit = volts(book, "on", *places)
    assert all(11.0 < v < 12.7 for v in lit[:3])
    assert lit[3] == pytest.approx(5.0, abs=0.1)
    assert all(v < 0.1 for v in volts(book, "off", *places))


def test_a_horn_is_live_without_the_key_and_a_work_light_is_not() -> None:
    book = sound(CARD)
    horn, light = volts(book, "off", "F4.2", "F3.2")
    assert (horn > 12.0, light < 0.1) == (True, True)


def test_everything_assumed_is_marked_and_listed() -> None:
    book = sound(CARD)
    listed = {a.about for a in book.assumptions}
    for part in book.parts.values():
        assert part.origin.assumed == (part.name != "F3")
        assert part.name in listed or part.kind == "plug"
    for wire in book.wires.values():
        assert {"size", "length"} <= set(wire.assumed)
        assert f"wire {wire.id}" in listed
    assert all(a.what and a.because for a in book.assumptions)


def test_what_several_parts_share_on_a_card_can_fail_as_one() -> None:
    book = sound(CARD)
    shared = between(book, "F3", "F3 splice")
    assert shared.area_m2 == pytest.approx(1.0e-6)
    assert whats(book, f"wire {shared.id}") == ["1 mm2", "1.5 m"]
    between(book, "F3 splice", "work light left")
    between(book, "F3 splice", "work light right")


def test_a_typed_line_always_wins() -> None:
    typed = """
battery: battery
key switch: key switch
FL: fusible link 40 A
G1: ground stud, on frame
battery.+ > FL > key switch.30, 6 mm2, 1 m
battery.- > frame, 25 mm2, 1 m
key switch.15 > F3.1, 2.5 mm2, 1 m
F3: fuse 15 A
lamp A: lamp
F3 > lamp A > G1, 1.5 mm2, 1 m
"""
    book = sound(typed)
    assert not [wire for wire in book.wires.values() if wire.origin.assumed]
    assert not [part for part in book.parts.values() if part.origin.assumed]
    assert all("open" in a.what for a in book.assumptions)


def test_the_metal_in_use_is_strapped_to_battery_minus() -> None:
    book = sound("F1: fuse 10 A\nglow plug: glow plug\nF1 > glow plug, 1.5 mm2")
    assert book.parts["glow plug"].body == "engine"
    strap = book.parts["engine strap"]
    assert (strap.body, strap.attrs["second body"]) == ("frame", "engine")
    assert whats(book, "engine strap")[0] == "a ground strap"
    again = sound(
        "S1: ground strap, on engine / frame\nF1: fuse 10 A\nglow plug: glow plug\n"
        "F1 > glow plug, 1.5 mm2"
    )
    assert "engine strap" not in again.parts


def test_a_battery_grounded_at_the_engine_needs_no_engine_strap() -> None:
    book = sound("battery: battery\nstarter: starter\nbattery.- > engine\nbattery.+ > starter.30")
    assert [p.name for p in book.parts.values() if p.kind == "ground strap"] == []


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("rail pressure sensor", "three-wire sensor"),
        ("coolant temperature sensor", "thermistor"),
        ("work light left", "lamp"),
        ("beacon", "lamp"),
        ("LED work light", "LED lamp"),
        ("lift pump", "pump"),
        ("cab blower", "fan"),
        ("travel valve", "solenoid"),
        ("fuel metering valve", "PWM valve"),
        ("starter relay", "relay"),
        ("starter", "starter"),
        ("seat switch", "seat switch"),
        ("engine controller", "control unit"),
        ("display", "display"),
        ("horn", "horn"),
        ("F12", "fuse"),
        ("X14", "plug"),
        ("CN-H05", "plug"),
        ("K3", "relay"),
        ("G2", "ground stud"),
        ("J5", "splice"),
        ("main fuse", "fusible link"),
    ],
)
def test_the_kind_of_a_part_from_its_name(name: str, kind: str) -> None:
    guess = kind_from_name(name)
    assert guess is not None
    assert guess[0].name == kind
    assert guess[1]


@pytest.mark.parametrize("name", ["thingummy", "left one", "12", "Karl", "misc"])
def test_a_name_that_tells_nothing_is_not_guessed_at(name: str) -> None:
    assert kind_from_name(name) is None


def test_minutes_come_from_the_words_of_the_place() -> None:
    book = sound("X1: plug 2 ways, at above the belly pan\nX2: plug 2 ways, open 4 min")
    assert (book.parts["X1"].open_s, book.parts["X1"].close_s) == (1200.0, 900.0)
    assert (book.parts["X2"].open_s, book.parts["X2"].close_s) == (240.0, 180.0)
    assert whats(book, "X1") == ["open 20 min, close 15 min"]


def test_sensors_of_a_group_return_to_one_pin_and_report_each_to_its_own() -> None:
    book = sound(CARD)
    grounds = {w.b for w in book.wires.values() if w.a.pin == "1" and "sensor" in w.a.part}
    signals = {w.b for w in book.wires.values() if w.a.pin == "2" and "sensor" in w.a.part}
    assert (len(grounds), len(signals)) == (1, 2)
    assert book.roles[Pin("ECU", "rail pressure sensor signal")].role == "analogue input"


def test_values_are_what_was_typed_over_the_defaults_of_the_kind() -> None:
    book = sound(
        "machine m, 24 V\nF1: fuse 7.5 A\nK3: relay\nECU.47: 5 V group A\n"
        "ECU.31: digital input, pull up 2.2 kohm\ngroup ECU A: 8 V, limit 50 mA, latches\n"
    )
    assert attributes_of(book, "F1")["amps"] == 7.5
    assert attributes_of(book, "K3")["volts"] == 24.0
    assert book.value("K3", "suppressed") == "no"
    assert role_attributes(book, Pin("ECU", "31"))["pull up"] == 2200.0
    assert role_attributes(book, Pin("ECU", "31"))["to"] == "logic"
    assert group_attributes(book, "ECU", "A") == {"volts": 8.0, "limit": 0.05, "latches": "yes"}
    with pytest.raises(KeyError):
        book.value("F1", "colour")


VARIANTS = """machine m, 12 V, variants cab / canopy
F1: fuse 10 A, only cab
F1: fuse 15 A, only canopy
lamp A: lamp
F1 > lamp A > frame, only cab
"""


def test_a_fact_of_one_variant_holds_for_it_alone() -> None:
    cab, canopy = sound(VARIANTS, "cab"), sound(VARIANTS, "CANOPY")
    assert (cab.value("F1", "amps"), canopy.value("F1", "amps")) == (10.0, 15.0)
    assert (len(cab.wires) > 0, len(canopy.wires)) == (True, 0)


def test_without_a_choice_the_first_variant_is_assumed() -> None:
    book = sound(VARIANTS)
    assert book.value("F1", "amps") == 10.0
    assert whats(book, "m") == ["variant cab"]


def test_where_a_fact_comes_from_is_kept() -> None:
    book = sound("F1: fuse 10 A, from diagram page 9 ?\nF2: fuse 5 A\nx-note: mirror bracket rubs")
    origin = book.parts["F1"].origin
    assert (origin.said, origin.doubtful, origin.assumed) == ("diagram page 9", True, False)
    assert origin.at is not None
    assert origin.at.line == 2
    assert not book.parts["F2"].origin.doubtful
    assert book.extras == ("x-note: mirror bracket rubs",)


def test_a_newer_format_is_not_read_at_all() -> None:
    book, problems = read_book("book format 7\nwhat comes then is another language\n")
    assert (book, [p.slug for p in problems]) == (None, ["newer-format"])


def test_a_half_typed_book_is_still_given() -> None:
    book, problems = read_book(
        "machine m, 12 V\nF1 > X1.3\nlift pump.2 > X1.4\nECU.31: analogue input"
    )
    assert book is not None
    assert {p.weight for p in problems} <= {"warning", "note"}
    assert slugs("F1: fuse 10 A\nX1: plug 4 ways\nF1 > X1.3") == []
