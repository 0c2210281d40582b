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
    assert abs(lamp) == pytest.approx(abs(across) / (12.0**2 / 21.0), rel=1e-6)  # 12 V 21 W
