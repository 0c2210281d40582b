"""A harness taken apart: which side of an open plug, which neighbour, wires or sensor."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.checks.answer import findings_of
from backprobe.checks.draft import UNIT_IN_VAIN_S, VAIN_S, planned
from backprobe.checks.generate import from_scene
from backprobe.checks.layout import layout_of
from backprobe.checks.outcomes import places_of
from backprobe.checks.parted import parted
from backprobe.checks.safety import Live, allowed
from backprobe.checks.scene import scene_of
from backprobe.checks.worth import repair_seconds, repairs
from backprobe.defects.model import RUBBED, Atom, Defects
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import CodesFound
from backprobe.kinds import KINDS
from backprobe.suspects.weigh import weigh
from checks import small_machine as small

TEXT = """
machine press, 12 V
G1: battery
F1: fuse 10 A
GP1: ground stud, on frame
X1: plug 4 ways
ECU: control unit
pressure sensor: three-wire sensor

G1.- > GP1, 16 mm2
G1.+ > F1 > ECU.1, 1 mm2, RD
ECU.2 > GP1, 1 mm2, BN
ECU.10 > X1.1 > pressure sensor.3, 0.75 mm2, RDYE, wire 1 / 2
ECU.11 > X1.2 > pressure sensor.1, 0.75 mm2, BNYE, wire 3 / 4
ECU.12 > X1.3 > pressure sensor.2, 0.75 mm2, GN, wire 5 / 6

ECU.1: supply
ECU.2: ground
ECU.10: 5 V group A
ECU.11: ground
ECU.12: analogue input, pull down 100 kohm
group ECU A: 5 V, limit 100 mA
section engine run: X1 to pressure sensor, 1.2 m
code ECU 100/4 "pressure signal low": ECU.12 < 0.25 V
"""


@pytest.fixture(scope="module")
def press():
    book, problems = read_book(TEXT, "press.book")
    assert book is not None, problems
    return book, Circuit.of(book)


def found(press, *codes):
    book, circuit = press
    job = fold([CodesFound(id="c", unit="ECU", active=codes)])
    scene = scene_of(layout_of(book, KINDS), job, circuit.defects, weigh(book, circuit, job))
    checks = tuple(parted(scene))
    return {c.id: c for c in allowed(scene.layout, checks, Live(circuit))}, circuit


def test_both_sides_of_an_open_plug_are_read_alive_and_dead(press):
    checks, _ = found(press, "100/4")
    for side in "ab":
        live = checks[f"volts X1.3{side} battery minus | key on, engine stopped, X1 unplugged"]
        assert live.situation.unplugged == {"X1"}
        dead = [c for c in checks.values() if c.does == "ohms" and c.probe.p == f"X1.3{side}"]
        assert dead
        assert all(c.situation.battery_off and "ECU" in c.situation.unplugged for c in dead)


def test_each_side_is_followed_to_its_own_end(press):
    checks, _ = found(press, "100/4")
    ends = {(c.probe.p, c.probe.n) for c in checks.values() if c.does == "ohms"}
    assert ("X1.3a", "ECU.12") in ends or ("X1.3b", "ECU.12") in ends
    side = "b" if ("X1.3a", "ECU.12") in ends else "a"
    assert (f"X1.3{side}", "pressure sensor.2") in ends
    assert (f"X1.3{side}", "ECU.12") not in ends


def test_the_side_of_a_short_shows_at_the_open_plug(press):
    """By hand: with the plug open, the half that touches metal has a path, the other has none."""
    checks, circuit = found(press, "100/4")
    row = next(
        number
        for number, atom in enumerate(circuit.defects.atom_of)
        if circuit.defects.atoms[atom].id == "wire 6/to ground/engine run"
    )
    ohms = {
        c.probe.p: circuit.seen(c.situation, [c.probe]).mean[row, 0]
        for c in checks.values()
        if c.does == "ohms" and c.probe.n in ("frame", "engine") and c.probe.p.startswith("X1.3")
    }
    assert min(ohms.values()) < 1.0
    assert max(ohms.values()) > 1e6


def test_a_resistor_tells_wires_from_sensor(press):
    """The 5 V through 1 kohm against a pull-down of 100 kohm: 5 x 100 / 101 = 4.95 V."""
    checks, circuit = found(press, "100/4")
    up = next(
        c
        for c in checks.values()
        if c.situation.fitted and c.situation.fitted[0].p == "pressure sensor.2"
    )
    assert up.words.startswith(
        "1 kohm resistor from signal to its 5 V in the open plug of pressure sensor: volts at the signal"
    )
    seen = circuit.seen(up.situation, [up.probe]).mean[:, 0]
    assert seen[0] == pytest.approx(4.95, abs=0.02)
    for number, atom in enumerate(circuit.defects.atom_of):
        known = circuit.defects.atoms[atom]
        if known.owners == ("pressure sensor",) and known.kind not in ("plug off", "wet plug"):
            assert seen[number] == pytest.approx(seen[0], abs=0.2), known.words


def test_neighbours_are_measured_against_each_other_where_both_pass():
    """Wires 42 and 43 of the small machine, said to be rubbed through to each other."""
    layout = layout_of(small.small_book(), small.KINDS)
    signals = [
        w
        for w in layout.book.wires.values()
        if any(end.part == "X1" and end.pin in ("1", "2", "3") for end in (w.a, w.b))
    ]
    one = signals[0]
    two = next(w for w in signals if layout.net[w.a] != layout.net[one.a])
    touching = Atom(
        id="t",
        words="t",
        kind=RUBBED,
        group="hinge",
        owners=(f"wire {one.id}", f"wire {two.id}", "hinge"),
        rate=1.0,
        source="test",
    )
    plain = small.small_defects()
    defects: Defects = replace(plain, atoms=(plain.atoms[0], touching, *plain.atoms[2:]))
    job = fold([CodesFound(id="c", unit="ECU", active=("157/4",))])
    scene = scene_of(layout, job, defects, small.believe({1: 1.0}))
    pairs = {
        (layout.net_at(c.probe.p), layout.net_at(c.probe.n))
        for c in parted(scene)
        if c.does == "ohms"
    }
    assert (layout.net[one.a], layout.net[two.a]) in pairs


def test_an_ohmmeter_does_not_tell_one_open_from_another(press):
    """Two halves of a harness without any path leak differently in the network, a thousand
    megohm a node; no meter in a field shows that (common practice, no source)."""
    book, circuit = press
    job = fold([CodesFound(id="c", unit="ECU", active=("100/4",))])
    done = planned(book, circuit, job, weigh(book, circuit, job))
    rows = done.stories.rows.size
    checked = 0
    for check, shown in zip(done.checks, done.shown, strict=True):
        if check.does != "ohms":
            continue
        value = circuit.seen(check.situation, [check.probe]).mean[done.stories.rows, 0]
        no_path = shown.chance[:, :rows][:, value > 2e6]
        if no_path.shape[1] > 1:
            checked += 1
            assert np.ptp(no_path, axis=1).max() < 1e-9, check.words
    assert checked


def test_a_unit_is_not_replaced_while_its_lines_are_unproven():
    """A repair in vain of a unit costs far more than of a wire: at equal chances and minutes the
    wire is mended first, and a unit is handed on rather than swapped on an even guess."""
    groups = np.array([0.5, 0.5, 0.0])
    repair = np.array([900.0, 900.0])
    found = repairs(groups, repair, 1e9, None, 0.0, np.array([UNIT_IN_VAIN_S, VAIN_S]))
    assert found.order.tolist() == [1, 0]
    alone = repair_seconds(
        np.array([0.5, 0.5]), np.array([900.0]), 10800.0, None, 0.0, np.array([UNIT_IN_VAIN_S])
    )
    assert alone == pytest.approx(10800.0)


def test_a_fuse_is_pulled_rather_than_looked_at():
    layout = layout_of(small.small_book(), small.KINDS)
    job = fold([CodesFound(id="c", unit="ECU", active=("157/4",))])
    scene = scene_of(layout, job, small.small_defects(), small.believe({4: 0.9, 1: 0.1}))
    found = [c for c in from_scene(scene) if c.target == "F1"]
    assert any(c.does == "fuse" for c in found)
    assert not any(c.does == "look" for c in found)


def test_the_beeper_finds_the_neighbour_a_wire_is_rubbed_through_to(press):
    """One lead on the signal at the unit's open plug: metal is silent, the sensor's ground beeps, and
    both are findings of their own."""
    book, circuit = press
    checks, _ = found(press, "100/4")
    check = next(c for c in checks.values() if c.does == "beep" and c.probe.p == "ECU.12")
    places = places_of(check)
    assert places[0] in ("frame", "engine", "cab")
    assert {"ECU.10", "ECU.11"} <= set(places)
    row = next(
        number
        for number, atom in enumerate(circuit.defects.atom_of)
        if circuit.defects.atoms[atom].id.startswith("wire ")
        and circuit.defects.atoms[atom].kind == RUBBED
        and {"wire 4", "wire 6"} <= set(circuit.defects.atoms[atom].owners)
    )
    ohms = {
        place: circuit.seen(check.situation, [replace(check.probe, n=place)]).mean[row, 0]
        for place in places
    }
    sounding = [place for place in places if ohms[place] < 30.0]
    assert sounding == ["ECU.11"]
    told = findings_of(check, fold([]), word="beeps at ECU.11")
    assert [(f.n, f.value) for f in told][-1] == ("ECU.11", 0.0)
    assert all(f.value == np.inf for f in told[:-1])
    job = fold([CodesFound(id="c", unit="ECU", active=("100/4",)), *numbered(told)])
    before = weigh(book, circuit, fold([CodesFound(id="c", unit="ECU", active=("100/4",))]))
    after = weigh(book, circuit, job)
    atom = circuit.defects.atom_of[row]
    assert after.chance[after.atom == atom].sum() > 5 * before.chance[before.atom == atom].sum()
    metal = next(
        n for n, a in enumerate(circuit.defects.atoms) if a.id == "wire 6/to ground/engine run"
    )
    assert after.chance[after.atom == metal].sum() < 0.2 * before.chance[before.atom == metal].sum()


def numbered(findings):
    return [replace(finding, id=f"n{number}") for number, finding in enumerate(findings)]
