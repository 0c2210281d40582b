"""A machine that is worked on no more leaves no circuit behind."""

from __future__ import annotations

import gc

from backprobe.book import read_book
from backprobe.defects.predict import Circuit
from backprobe.findings.model import Works
from backprobe.shop.fitting import unfit

BOOK = """
machine press, 12 V
G1: battery
F1: fuse 10 A
lamp 1: lamp 21 W
GP1: ground stud, on frame
G1.+ > F1 > lamp 1 > GP1 > G1.-, 1.0 mm2, RD, wire 1 / 2 / 3 / 4
"""


def test_names_are_kept_no_longer_than_their_circuit() -> None:
    """A circuit remembers hundreds of megabytes by the end of a job."""
    book, problems = read_book(BOOK, "press")
    assert book is not None, problems
    circuit = Circuit.of(book)
    assert not unfit(circuit, [Works(target="lamp 1", works=True)])
    assert [p.slug for p in unfit(circuit, [Works(target="horn 7", works=True)])]
    marks = circuit.defects.atoms
    held = [one for one in gc.get_objects() if isinstance(one, Circuit)]
    assert any(one.defects.atoms is marks for one in held)
    del circuit, held
    gc.collect()
    held = [one for one in gc.get_objects() if isinstance(one, Circuit)]
    assert not any(one.defects.atoms is marks for one in held)
