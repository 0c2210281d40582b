"""A machine that stood: whatever low voltage the battery is found at, the battery is charged first."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Failing, Reading
from backprobe.shop.demo import book_text
from backprobe.suspects.weigh import weigh

POST = Probe(kind="volts", p="battery.+")


@pytest.fixture(scope="module")
def dumper():
    book, problems = read_book(book_text("tracked-dumper"))
    assert book is not None, problems
    return book, Circuit.of(book)


def of(circuit, atom):
    number = next(n for n, one in enumerate(circuit.defects.atoms) if one.id == atom)
    return np.flatnonzero(circuit.defects.atom_of == number)


@pytest.mark.parametrize("volts", [0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 11.5])
def test_a_battery_low_at_rest_is_the_first_suspect_by_one_reading(dumper, volts):
    """Key off, no load draws it down but a hard short: a battery left standing may rest anywhere below
    the 11.89 V of an empty one (BCI table; below it common practice, no source)."""
    book, circuit = dumper
    off = Situation(key="off")
    job = fold(
        [
            Failing(id="f", answer="yes", situation=off),
            Reading(id="r", p="battery.+", value=volts, situation=off),
        ]
    )
    chance = weigh(book, circuit, job).hypothesis
    flat = chance[of(circuit, "battery/discharged")].sum()
    others = np.bincount(circuit.defects.atom_of, chance)[1:]
    others = np.delete(others, circuit.defects.atom_of[of(circuit, "battery/discharged")[0]] - 1)
    assert flat > 0.35
    assert flat > 3.0 * others.max()


def test_the_flatter_it_rests_the_less_is_left_of_it_under_load(dumper):
    """BCI table: 12.06 V a quarter charged, 11.89 V empty, 12.6 V the sound one of the book."""
    _, circuit = dumper
    rows = of(circuit, "battery/discharged")
    rest = circuit.seen(Situation(key="off"), [POST]).mean[:, 0]
    load = circuit.seen(Situation(key="on", on=frozenset({"S2"})), [POST]).mean[:, 0]
    assert rest[0] == pytest.approx(12.6, abs=0.01)
    assert rest[rows[0]] == pytest.approx(12.06, abs=0.1)
    assert (np.diff(rest[rows]) <= 1e-6).all()
    assert rest[rows[-1]] < 1.0
    low = rest[rows] < 11.89
    assert (load[rows][low] < rest[rows][low]).all()
    assert (load[0] - load[rows] > rest[0] - rest[rows]).all()


def test_a_shorted_cell_takes_one_of_six(dumper):
    """12.6 V / 6 cells."""
    _, circuit = dumper
    rest = circuit.seen(Situation(key="off"), [POST]).mean[:, 0]
    assert rest[0] - rest[of(circuit, "battery/shorted cell")] == pytest.approx(2.1, abs=0.01)
