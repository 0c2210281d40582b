"""A plug full of water pulls a 5 V supply down, and is thought of then."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.findings.model import CodesFound
from backprobe.kinds.rates import WET_CELLS
from backprobe.kinds.records import Bridge
from backprobe.shop.demo import book_text
from backprobe.shop.job import Job, start
from oracles.decode import changes_of
from oracles.solved_apart import Apart
from oracles.technician import Hidden

ON = Situation(key="on")


@cache
def dumper() -> Job:
    book, problems = read_book(book_text("tracked-dumper"), "dumper")
    assert book is not None, problems
    return start(book)


@pytest.mark.parametrize("ohm", [9.0, 12.0, 24.0])
def test_a_plug_so_wet_that_the_supply_gives_way_is_a_suspect(ohm: float) -> None:
    """Codes from the independent solver. 5 V across two gaps of less than 25 ohm each is more than
    the 100 mA of the group (Ohm's law)."""
    book, circuit = dumper().book, dumper().circuit
    defects = circuit.defects
    number = next(n for n, a in enumerate(defects.atoms) if a.id == "plug boost sensor/wet")
    first = int((defects.atom_of == number).argmax())
    gaps = changes_of(circuit.net, circuit.ports, circuit.cases, first)
    wet = tuple(replace(gap, ohm=ohm) for gap in gaps if isinstance(gap, Bridge))
    assert len(wet) == len(gaps) == 2
    apart = Apart(book, circuit.net, wet)
    codes = Hidden(book, (), apart).codes(ON)["ECU"]
    assert "3509/4" in codes
    belief = dumper().note(CodesFound(unit="ECU", active=codes, situation=ON)).belief
    best = float(belief.chance[1 : len(defects.atoms)].max())
    assert float(belief.chance[belief.atom == number].sum()) > 0.01 * best


def test_the_cells_of_water_lie_side_by_side() -> None:
    """By hand: no gap wider than half of an ohm's value, no overlap; 9 ohm to 20 kohm in all."""
    for one, two in pairwise(WET_CELLS):
        assert 1.0 < (two.ohm / two.spread) / (one.ohm * one.spread) < 1.5
    assert sum(cell.weight for cell in WET_CELLS) == pytest.approx(1.0)
    assert WET_CELLS[0].ohm / WET_CELLS[0].spread == pytest.approx(9.0, rel=0.05)
