"""The demo books: read clean, complete, and built as a careful machine maker would."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.model import Book, Pin
from backprobe.kinds import ROLES
from backprobe.shop.demo import BOOKS, book_text

CARRIES_A = {
    0.5: 11.0, 0.75: 14.0, 1.0: 16.5, 1.5: 21.0, 2.5: 29.0, 4.0: 39.0, 6.0: 50.0, 10.0: 70.0,
    16.0: 80.0,
}  # fmt: skip
"""Current a thin-wall wire carries, mm2 to A: MK Global catalogue of ISO 6722 class B wire to
10 mm2; for 16 mm2 five amperes per mm2, the rule of thumb of kewet.de's electrical notes."""

COLOURS = {
    "BK", "BN", "RD", "OG", "YE", "GN", "BU", "VT", "GY", "WH", "PK", "GD", "TQ", "SR",
}  # fmt: skip
"""IEC 60757 colour codes; two-colour codes are joined."""

FEEDS = ("fuse", "fusible link")
SAME_PLACE = {"fuse box", "main stud", "seat box", "battery box", "console panel", "console top"}


def read(name: str) -> Book:
    """A demo book that must be readable."""
    book, problems = read_book(book_text(name), file=f"{name}.book")
    assert book is not None, "\n".join(map(str, problems))
    return book


@pytest.fixture(scope="module")
def dumper() -> Book:
    return read("tracked-dumper")


@pytest.mark.parametrize("name", BOOKS)
def test_a_demo_book_reads_without_a_single_remark(name: str) -> None:
    _, problems = read_book(book_text(name), file=f"{name}.book")
    assert [str(problem) for problem in problems] == []


def test_an_unknown_demo_book_is_told_with_the_known_ones() -> None:
    words = "no demo book 'dumper'; there are: tracked-dumper, generic, unplugged-sensor"
    with pytest.raises(ValueError, match=f"^{words}$"):
        book_text("dumper")


def test_the_dumper_is_a_complete_machine(dumper: Book) -> None:
    kinds = {part.kind for part in dumper.parts.values()}
    assert 140 <= len(dumper.wires) <= 170
    assert kinds >= {
        "battery", "isolator", "fusible link", "fuse", "key switch", "relay", "seat switch",
        "starter", "alternator", "glow plug", "plug", "splice", "ground stud", "ground strap",
        "lamp", "LED lamp", "horn", "solenoid", "PWM valve", "three-wire sensor", "hall sensor",
        "inductive sensor", "thermistor", "terminator", "control unit",
    }  # fmt: skip
    assert set(dumper.groups) == {("ECU", "A"), ("ECU", "B")}
    assert {role.pin.part for role in dumper.roles.values() if "CAN" in role.role} == {
        "ECU", "display",
    }  # fmt: skip
    assert sum(part.kind == "terminator" for part in dumper.parts.values()) == 2


def test_nothing_about_the_dumpers_wires_is_assumed(dumper: Book) -> None:
    """Sizes are typed; lengths are typed or follow from the loom."""
    assert [wire.id for wire in dumper.wires.values() if wire.assumed] == []


def test_wire_colours_are_those_of_the_standard(dumper: Book) -> None:
    odd = [
        wire.colour
        for wire in dumper.wires.values()
        if not {wire.colour[i : i + 2] for i in range(0, len(wire.colour), 2)} <= COLOURS
    ]
    assert odd == []


def test_every_wire_runs_in_the_loom_or_is_a_short_link_in_one_box(dumper: Book) -> None:
    loose = [wire for wire in dumper.wires.values() if not wire.route]
    assert all(wire.length_m <= 0.6 for wire in loose)
    far = {
        wire.id
        for wire in loose
        if not any(
            dumper.parts[wire.a.part].where.startswith(place)
            and dumper.parts[wire.b.part].where.startswith(place)
            for place in (*SAME_PLACE, "console foot", "glow rail", "head right", "head left",
                          "front cross member", "valve block", "travel levers", "console right")
        )
    }  # fmt: skip
    assert far == set()
    assert len(loose) < len(dumper.wires) / 3


def test_every_fuse_is_small_enough_for_the_thinnest_wire_behind_it(dumper: Book) -> None:
    """Walked here through splices, plugs and switches up to the next fuse or load."""
    through = {"splice", "plug", "switch", "seat switch", "normally closed switch", "key switch"}
    touching: dict[str, list[str]] = {}
    for wire in dumper.wires.values():
        for end in (wire.a, wire.b):
            touching.setdefault(end.part, []).append(wire.id)
    seen_wires = 0
    for fuse in (p for p in dumper.parts.values() if p.kind in FEEDS):
        rating = float(dumper.value(fuse.name, "amps"))
        todo = [w.id for w in dumper.wires.values() if (w.a.part, w.a.pin) == (fuse.name, "2")]
        done: set[str] = set()
        while todo:
            ident = todo.pop()
            if ident in done:
                continue
            done.add(ident)
            wire = dumper.wires[ident]
            size = round(wire.area_m2 * 1e6, 3)
            assert CARRIES_A[size] >= rating, f"{fuse.name} {rating} A feeds wire {ident} {size}"
            part = wire.b.part
            if dumper.parts[part].kind in through and part not in ("main stud", "B1"):
                same = dumper.parts[part].kind == "plug"
                todo += [
                    other
                    for other in touching[part]
                    if dumper.wires[other].a.part == part
                    and (not same or dumper.wires[other].a.pin == wire.b.pin)
                ]
        assert done, f"{fuse.name} feeds nothing"
        seen_wires += len(done)
    assert seen_wires > 50


def test_every_rule_looks_at_something_its_unit_senses_or_drives(dumper: Book) -> None:
    looked = 0
    for rule in dumper.codes.values():
        for test in rule.tests:
            if test.kind in ("volts", "amps"):
                assert test.pin is not None
                role = ROLES[dumper.roles[test.pin].role]
                assert role.senses or test.kind == "amps", rule.code
                assert any(test.pin in (Pin(w.a.part, w.a.pin), Pin(w.b.part, w.b.pin))
                           for w in dumper.wires.values()), rule.code  # fmt: skip
            elif test.kind == "rail":
                assert (rule.unit, test.other) in dumper.groups
            looked += 1
    assert looked >= 35


def test_every_weak_spot_is_on_a_section_that_holds_wires(dumper: Book) -> None:
    used = {section for wire in dumper.wires.values() for section in wire.route}
    assert {spot.section for spot in dumper.spots.values()} <= used
    assert set(dumper.sections) == used


def test_metering_valve_and_cam_sensor_share_no_feed(dumper: Book) -> None:
    """The valve hangs on a fuse, the cam sensor on the unit's own 5 V group B."""
    joined = plain_net(dumper, Pin("cam sensor", "3"))
    assert Pin("ECU", "54") in joined
    assert {dumper.parts[pin.part].kind for pin in joined} == {
        "splice", "plug", "control unit", "three-wire sensor", "hall sensor",
    }  # fmt: skip
    valve = plain_net(dumper, Pin("metering valve", "1"))
    assert Pin("F4", "2") in valve
    assert joined.isdisjoint(valve)


def plain_net(book: Book, start: Pin) -> set[Pin]:
    """All pins joined to one by plain wire."""
    net, todo = set(), [start]
    while todo:
        pin = todo.pop()
        if pin in net:
            continue
        net.add(pin)
        for wire in book.wires.values():
            ends = [Pin(wire.a.part, wire.a.pin), Pin(wire.b.part, wire.b.pin)]
            if pin in ends:
                todo += ends
    return net


def test_everything_in_the_generic_book_is_marked_as_guessed() -> None:
    book = read("generic")
    origins = [
        *(part.origin for part in book.parts.values()),
        *(wire.origin for wire in book.wires.values()),
        *(role.origin for role in book.roles.values()),
        *(group.origin for group in book.groups.values()),
        *(rule.origin for rule in book.codes.values()),
        *(function.origin for function in book.functions.values()),
    ]
    assert len(origins) > 80
    assert {origin.said for origin in origins} == {"guessed"}


def test_the_small_book_says_its_wiring_is_assumed_and_pulls_the_input_down() -> None:
    book = read("unplugged-sensor")
    assert "THE WIRING BELOW IS ASSUMED" in book_text("unplugged-sensor")
    role = book.roles[Pin("engine unit", "5")]
    assert role.attrs["pull down"] == 100e3
    assert role.origin.said == "guessed"
