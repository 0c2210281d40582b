"""A short that pulls a 5 V supply down a little is told from a supply that drifted."""

from __future__ import annotations

from dataclasses import replace

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.model import Probe
from backprobe.findings.model import CodesFound, Reading
from backprobe.shop.demo import book_text
from backprobe.shop.job import start
from oracles.decode import changes_of
from oracles.solved_apart import Apart
from oracles.technician import Hidden

ON = Situation(key="on")
OFF_PLUG = Situation(key="on", unplugged=frozenset({"X10"}))
SHORT, DRIFTED = "wire 41d/to ground/boost sensor lead", "ECU group A/5 V drifted"


def test_a_rubbed_wire_between_two_severities_of_a_supply_is_not_the_unit() -> None:
    """Readings from the independent solver: 49 ohm to ground leave 3.8 V of a supply that gives 100 mA, and stand
    between a severity at which it gives way and one at which it does not. With its plug off it is sound."""
    book, problems = read_book(book_text("tracked-dumper"), "dumper")
    assert book is not None, problems
    job = start(book)
    circuit, defects = job.circuit, job.circuit.defects
    number = next(n for n, atom in enumerate(defects.atoms) if atom.id == SHORT)
    first = int((defects.atom_of == number).argmax())
    taps = changes_of(circuit.net, circuit.ports, circuit.cases, first)
    apart = Apart(book, circuit.net, tuple(replace(tap, ohm=49.0) for tap in taps))
    codes = Hidden(book, (), apart).codes(ON)["ECU"]
    assert "3509/4" in codes
    told = [CodesFound(unit="ECU", active=codes, situation=ON)]
    places = ("rail sensor.2", "boost sensor.3", "fuel pressure sensor.3", "boost sensor.2")
    for situation, p in (*((ON, place) for place in places), (OFF_PLUG, "X10.3a")):
        volts = apart.read(situation, Probe(kind="volts", p=p), gone=False)
        told.append(Reading(situation=situation, p=p, value=round(volts, 2)))
    belief = job.note(*told).belief
    short = float(belief.chance[belief.atom == number].sum())
    unit = next(n for n, atom in enumerate(defects.atoms) if atom.id == DRIFTED)
    assert short > 0.003
    assert float(belief.chance[belief.atom == unit].sum()) < short
