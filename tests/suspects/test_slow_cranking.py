"""A lug or strap of some 30 mohm: the engine turns slowly, and 4 V are lost at 130 A."""

from __future__ import annotations

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Reading
from backprobe.suspects.weigh import weigh

TEXT = """
machine loader, 12 V
battery: battery
K1: relay
K2: relay
key switch: key switch
strap: ground strap, on engine / frame
starter: starter, on engine
glow plug 1: glow plug, on engine, count 4
battery.- > frame, 50 mm2, 0.6 m
battery.+ > starter.30, 50 mm2, 1.4 m
battery.+ > SP, 10 mm2, 1.8 m
SP: splice
SP > key switch.30, 4 mm2, 0.5 m
key switch.50 > K1.86, 1 mm2, 0.5 m
K1.85 > frame, 1 mm2, 0.5 m
SP > K1.30, 6 mm2, 0.5 m
K1.87 > starter.50, 4 mm2, 2 m
key switch.15 > K2.86, 1 mm2, 0.5 m
K2.85 > frame, 1 mm2, 0.5 m
SP > K2.30, 6 mm2, 0.5 m
K2.87 > glow plug 1, 6 mm2, 1.5 m
"""
ON, CRANK = Situation(key="on"), Situation(key="crank")


def test_a_strap_of_thirty_milliohm_leads() -> None:
    """By hand: four glow plugs of 1.35 ohm take 33 A through 30 mohm, 1.0 V at the block with the key on;
    starter 50 mohm, cables 2, strap 30, battery 8: 125 A, with 25 A of glow plugs and solenoid 4.6 V at
    the block; the frame stays where 0.4 mohm of cable and lugs hold it."""
    book, problems = read_book(TEXT, "loader")
    assert book is not None, problems
    circuit = Circuit.of(book)
    found = (
        Reading(id="f1", p="engine", value=1.0, situation=ON),
        Reading(id="f2", p="engine", value=4.6, situation=CRANK),
        Reading(id="f3", p="frame", value=0.06, situation=CRANK),
    )
    belief = weigh(book, circuit, fold(found))
    share: dict[str, float] = {}
    for atom, chance in zip(belief.atom, belief.chance, strict=True):
        group = circuit.defects.atoms[atom].group if atom >= 0 else "elsewhere"
        share[group] = share.get(group, 0.0) + float(chance)
    assert share.get("strap", 0.0) > 0.9, share
