"""All defects of a book as arrays: atoms, hypotheses, ports."""

from __future__ import annotations

import numpy as np

from backprobe.book.model import Book
from backprobe.circuit.net import Net
from backprobe.circuit.ports import Cases, Port, Ports
from backprobe.defects.in_cells import loose_volts
from backprobe.defects.model import Atom, Defects, RepairGroup
from backprobe.defects.of_contacts import contact_defects
from backprobe.defects.of_parts import part_defects
from backprobe.defects.of_wires import wire_defects
from backprobe.defects.sketch import Severity, Sketch

HEALTHY = Sketch(
    atom=Atom(
        id="healthy",
        words="nothing wrong with the circuit",
        kind="healthy",
        group="healthy",
        owners=(),
        rate=0.0,
        source="",
        sometimes=0.0,
    ),
    group=RepairGroup(key="healthy", words="nothing to mend", mend_s=0.0, access=()),
    severities=(Severity(ports=(), ohm=0.0, spread=1.0, weight=1.0),),
)


def enumerate_defects(book: Book, net: Net) -> tuple[Defects, Ports, Cases]:
    """Atoms of every part, contact, wire and section; hypothesis 0 is healthy."""
    sketches = [
        HEALTHY,
        *part_defects(book, net),
        *contact_defects(book, net),
        *wire_defects(book, net),
    ]
    groups = {sketch.group.key: sketch.group for sketch in sketches}
    ports: list[Port] = []
    lists: list[list[int]] = []
    atom_of, weight, ohm, spread = [], [], [], []
    for number, sketch in enumerate(sketches):
        total = sum(severity.weight for severity in sketch.severities)
        for severity in sketch.severities:
            lists.append(list(range(len(ports), len(ports) + len(severity.ports))))
            ports.extend(severity.ports)
            atom_of.append(number)
            weight.append(severity.weight / total)
            ohm.append(severity.ohm)
            spread.append(severity.spread)
    made, cases, of, ohms = (
        Ports.of(ports),
        Cases.of(lists),
        np.array(atom_of),
        np.array(ohm, float),
    )
    defects = Defects(
        atoms=tuple(sketch.atom for sketch in sketches),
        groups=tuple(groups.values()),
        atom_of=of.astype(np.int64),
        weight=np.array(weight, float),
        ohm=ohms,
        spread=np.array(spread, float),
        loose=loose_volts(made, cases, of, ohms),
    )
    return defects, made, cases
