"""What is opened to mend wires, and what a repair ends besides."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.defects.model import RUBBED, TO_GROUND
from backprobe.defects.predict import Circuit
from backprobe.findings.model import Act
from backprobe.suspects.looks import change_of

TEXT = """
machine press, 12 V
G1: battery
F1: fuse 10 A, at fuse box
F2: fuse 10 A, at fuse box
F3: fuse 10 A, at fuse box
GP1: ground stud, on frame
X1: plug 6 ways
lamp 1: lamp 21 W, at lamp bar
lamp 2: lamp 21 W, at lamp bar
lamp 3: lamp 21 W, at lamp bar

G1.- > GP1, 16 mm2
G1.+ > splice 1 > F1.1 + F2.1 + F3.1, 4 mm2
F1.2 > X1.1 > lamp 1 > GP1, 1 mm2, RD, wire 11 / 12 / 13
F2.2 > X1.2 > lamp 2 > GP1, 1 mm2, BU, wire 21 / 22 / 23
F3.2 > X1.3 > lamp 3 > GP1, 1 mm2, GN, wire 31 / 32 / 33
splice 1: splice
section cab run: fuse box to X1, 1.0 m
section arm run: X1 to lamp bar, 2.0 m
"""


@pytest.fixture(scope="module")
def defects():
    book, problems = read_book(TEXT, "press.book")
    assert book is not None, problems
    return Circuit.of(book).defects


def ended(defects, target):
    change = change_of(defects, Act(act="repaired", target=target))
    return {
        defects.atoms[defects.atom_of[row]].id
        for row in range(defects.atom_of.size)
        if change.mended[row]
    }


def test_wires_rubbed_against_each_other_are_one_group_per_section(defects):
    pairs = [atom for atom in defects.atoms if atom.kind == RUBBED]
    assert {atom.group for atom in pairs} == {
        "rubbed wires in section cab run",
        "rubbed wires in section arm run",
    }
    group = next(g for g in defects.groups if g.key == "rubbed wires in section arm run")
    assert group.access == ("arm run",)


def test_mending_a_wire_ends_what_rubs_against_it(defects):
    wire = next(a for a in defects.atoms if a.id == "wire 12/to ground/arm run")
    gone = ended(defects, wire.group)
    assert "wire 12/to ground/arm run" in gone
    assert "wire 12/to wire 22/arm run" in gone
    assert "wire 22/to wire 32/arm run" not in gone
    assert "wire 22/to ground/arm run" not in gone


def test_opening_a_section_for_rubbed_wires_finds_every_bare_place_in_it(defects):
    gone = ended(defects, "rubbed wires in section arm run")
    inside = {
        atom.id
        for atom in defects.atoms
        if atom.kind in (RUBBED, TO_GROUND) and atom.owners[-1] == "arm run"
    }
    assert gone == inside
