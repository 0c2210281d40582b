"""What may not matter in a book does not matter: names, the order of lines, the way of writing.
And what the engine reads from a book is what a sum by hand gives."""

from __future__ import annotations

import random
from math import pi

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from oracles.decode import changes_of
from oracles.one_at_a_time import Tap

HEAD = "book format 1\nmachine bench, 12 V\n"
BODY = """\
battery: battery 12 V
G1: ground stud, on frame
F9: fuse 15 A
K2: relay 12 V
X1: plug 4 ways
S3: rocker switch
L1: lamp 21 W
M1: pump 5 A
battery.- > frame, 35 mm2, 0.5 m, wire 1
battery.+ > F9, 2.5 mm2, 0.5 m, wire 2
F9 > X1.1 > S3, 1.5 mm2, 2 m, wire 9 / 10
S3 > K2.86, 1.0 mm2, 1 m, wire 12
K2.85 > G1, 1.0 mm2, 1 m, wire 13
F9.2 > K2.30, 1.5 mm2, 1 m, wire 14
K2.87 > X1.2 > L1.1 + M1.1, 1.5 mm2, 1 m, wire 15 / 16 / 17
L1.2 > X1.3 > G1, 1.0 mm2, 1 m, wire 18 / 19
M1.2 > G1, 1.0 mm2, 1 m, wire 20
"""
NAMES = {"L1": "Q77", "M1": "blower", "F9": "fuse nine", "K2": "KX", "X1": "CN-H05",
         "S3": "SW", "G1": "E4"}  # fmt: skip
LIT = Situation(key="on", on=frozenset({"S3"}))
PLACES = ("F9.1", "F9.2", "X1.1", "K2.86", "K2.87", "L1.1", "L1.2", "M1.1", "M1.2")


def circuit_of(text: str) -> Circuit:
    book, problems = read_book(text, "bench.book")
    assert book is not None, "\n".join(str(problem) for problem in problems)
    return Circuit.of(book)


def renamed(text: str) -> str:
    for old, new in NAMES.items():
        text = text.replace(old, new)
    return text


def readings(circuit: Circuit, situation: Situation, places: tuple[str, ...]) -> np.ndarray:
    return circuit.seen(situation, [Probe(kind="volts", p=place) for place in places]).mean


def test_renaming_parts_changes_no_reading_of_any_defect():
    plain = readings(circuit_of(HEAD + BODY), LIT, PLACES)
    other = circuit_of(HEAD + renamed(BODY))
    situation = Situation(key="on", on=frozenset({NAMES["S3"]}))
    places = tuple(renamed(place) for place in PLACES)
    assert other.defects.weight.shape[0] == plain.shape[0] > 100
    assert readings(other, situation, places) == pytest.approx(plain, abs=1e-9)


@pytest.mark.parametrize("seed", range(3))
def test_the_order_of_lines_changes_no_reading_of_any_defect(seed):
    lines = BODY.splitlines()
    random.Random(seed).shuffle(lines)
    first, second = circuit_of(HEAD + BODY), circuit_of(HEAD + "\n".join(lines) + "\n")

    def by_name(circuit: Circuit) -> dict[tuple[str, float], list[float]]:
        defects = circuit.defects
        seen = readings(circuit, LIT, PLACES)
        names = [(defects.atoms[a].id, float(ohm)) for a, ohm in zip(defects.atom_of, defects.ohm)]
        return {name: list(row) for name, row in zip(names, seen)}

    one, two = by_name(first), by_name(second)
    assert one.keys() == two.keys()
    for name, row in one.items():
        assert two[name] == pytest.approx(row, abs=1e-9), name


def test_gauge_and_metric_area_of_the_same_size_read_alike():
    """18 AWG is 1.0237 mm across (ASTM B258)."""
    mm2 = pi * 1.0237**2 / 4
    text = HEAD + BODY.replace("1.5 mm2, 2 m", "18 AWG, 2 m")
    same = HEAD + BODY.replace("1.5 mm2, 2 m", f"{mm2:.4f} mm2, 2 m")
    one, two = (readings(circuit_of(t), LIT, PLACES) for t in (text, same))
    assert one == pytest.approx(two, abs=1e-4)


def test_the_drop_along_a_wire_is_its_copper_times_its_current():
    """17.241 uohm mm per mm2 (IEC 60028) and 5 % for the lay of the strands: 1 m of 1.5 mm2 is
    12.07 mohm; wire 15 carries the lamp and the pump, the drop from K2.87 to X1.2 is that."""
    circuit = circuit_of(HEAD + BODY).within(np.zeros(1, np.int64))
    probes = [
        Probe(kind="volts", p="K2.87", n="X1.2"),
        Probe(kind="amps", p="15"),
        Probe(kind="amps", p="L1/filament"),
        Probe(kind="amps", p="17"),
        Probe(kind="volts", p="L1:1", n="L1:2"),
    ]
    drop, whole, lamp, pump, across = circuit.seen(LIT, probes).mean[0]
    assert abs(drop) == pytest.approx(abs(whole) * 17.241e-3 * 1.05 / 1.5, rel=1e-6)
    assert abs(whole) == pytest.approx(abs(lamp) + abs(pump), rel=1e-6)
    law = 21.0 / 12.0 * (abs(across) / 12.0) ** 0.55  # 12 V 21 W; rerating of lamps, from memory
    assert abs(lamp) == pytest.approx(law, rel=0.01)


@pytest.mark.parametrize(
    ("situation", "hot", "dead"),
    [
        (Situation(key="on", unplugged=frozenset({"X1"})), ["F9.2", "X1.1a"], ["X1.1b", "S3.1"]),
        (Situation(key="on", pulled=frozenset({"F9"})), ["F9.1"], ["F9.2", "X1.1a"]),
        (Situation(key="on", unplugged=frozenset({"S3"})), ["S3.1"], ["S3.2", "K2.86"]),
        (Situation(key="on"), ["S3.1", "K2.30"], ["S3.2", "K2.87"]),
        (LIT, ["S3.2", "K2.86", "K2.87", "L1.1"], ["L1.2"]),
        (Situation(key="on", on=LIT.on, pulled=frozenset({"K2"})), ["S3.2", "K2.30"], ["K2.87"]),
    ],
    ids=["plug off", "fuse out", "switch off its plug", "switched off", "on", "relay out"],
)  # fmt: skip
def test_what_a_hand_opens_is_dead_behind_and_hot_before(situation, hot, dead):
    """Against the negative post, as a technician measures. With the minus cable lifted the frame
    itself stands at battery voltage through the loads that are on."""
    circuit = circuit_of(HEAD + BODY).within(np.zeros(1, np.int64))
    assert (readings(circuit, situation, tuple(hot)) > 12.0).all()
    assert (np.abs(readings(circuit, situation, tuple(dead))) < 0.15).all()


def test_no_current_flows_with_the_battery_minus_off():
    circuit = circuit_of(HEAD + BODY).within(np.zeros(1, np.int64))
    off = Situation(key="on", on=LIT.on, battery_off=True)
    amps = circuit.seen(off, [Probe(kind="amps", p="L1/filament"), Probe(kind="amps", p="2")]).mean
    assert np.abs(amps).max() < 1e-6


LOOM = """\
battery: battery 12 V
G1: ground stud, on frame
F9: fuse 15 A
L1: lamp 21 W
L2: lamp 21 W
battery.- > frame, 35 mm2, 0.5 m, wire 1
battery.+ > F9.1, 2.5 mm2, 0.5 m, wire 2
F9.2 > L1.1, 1.0 mm2, wire 3
L2.1 > F9.2, 1.0 mm2, wire 4
L1.2 > G1, 1.0 mm2, 1 m, wire 5
L2.2 > G1, 1.0 mm2, 1 m, wire 6
section first: F9 to FORK, 1.0 m
section second: L1 to FORK, 1.0 m
section third: FORK to L2, 3.0 m
spot pin: in first at 0.5 m, hinge
spot clip: in second at 0.2 m, edge
"""


@pytest.mark.parametrize(
    ("atom", "metres", "length"),
    [
        ("wire 3/to ground/first", 0.5, 2.0),  # from F9: 0.5 m of 1.0 m + 1.0 m
        ("wire 3/to ground/second", 1.8, 2.0),  # the spot is 0.2 m from L1, the far end
        ("wire 4/to ground/first", 3.5, 4.0),  # drawn from L2: 3.0 m and then back along first
    ],
)
def test_a_wire_rubs_through_where_the_spot_is(atom, metres, length):
    """Distance from the wire's first end, summed by hand along its sections."""
    circuit = circuit_of(HEAD + LOOM)
    defects = circuit.defects
    found = [h for h, a in enumerate(defects.atom_of) if defects.atoms[a].id == atom]
    assert found, sorted({a.id for a in defects.atoms})
    for hypothesis in found:
        (tap,) = changes_of(circuit.net, circuit.ports, circuit.cases, hypothesis)
        assert isinstance(tap, Tap)
        assert tap.branch == atom.split("/", maxsplit=1)[0]
        assert tap.to == "frame"
        assert tap.t == pytest.approx(metres / length, abs=1e-9)
        wire = circuit.net.elements[circuit.net.branch[tap.branch]]
        assert wire.ohm == pytest.approx(17.241e-9 * 1.05 * length / 1e-6, rel=1e-9)
