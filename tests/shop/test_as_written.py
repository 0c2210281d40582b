"""A book that can be read and is wrong all the same: what its healthy machine does."""

from __future__ import annotations

import re

import pytest

from backprobe.book import read_book
from backprobe.defects.predict import Circuit
from backprobe.shop.as_written import as_written
from backprobe.shop.demo import BOOKS, book_text
from oracles.machines import machine

DUMPER = book_text("tracked-dumper")


def odd(text):
    book, problems = read_book(text, "changed")
    assert book is not None, problems
    return {problem.slug: problem for problem in as_written(Circuit.of(book))}


@pytest.mark.parametrize("name", BOOKS)
def test_nothing_is_odd_about_the_demo_machines(name):
    assert not odd(book_text(name))


@pytest.mark.parametrize("seed", [1, 2])
def test_nothing_is_odd_about_generated_machines(seed):
    assert not as_written(Circuit.of(machine(160, seed).book))


def test_two_pins_of_the_key_switch_changed_over_leave_the_units_dead():
    """DIN 72552: 30 from the battery, 50 to the starter."""
    other = {"30": "50", "50": "30"}
    changed = re.sub(r"(?<=key switch\.)(30|50)(?= >|,)", lambda m: other[m[1]], DUMPER)
    assert changed != DUMPER
    found = odd(changed)["healthy-unit-dead"]
    assert "has no supply on a healthy machine: key on" in found.what
    assert found.weight == "warning"


def test_a_fuse_far_too_small_opens():
    small = re.sub(r"(?m)^(F\d+: fuse )\d+ A", r"\g<1>1 A", DUMPER)
    assert small != DUMPER
    assert "opens on a healthy machine" in odd(small)["healthy-fuse-blows"].what


def test_a_code_whose_limit_is_on_the_wrong_side_is_set():
    code = next(line for line in DUMPER.splitlines() if line.startswith("code ECU 157/4 "))
    assert "<" in code
    found = odd(DUMPER.replace(code, code.replace("<", ">")))
    assert "sets 157/4 on a healthy machine" in found["healthy-code-set"].what


@pytest.mark.parametrize("line", ["X1: plug 3 ways", "J1: splice", "F1: fuse 10 A"])
def test_a_first_save_without_a_wire_is_looked_at_too(line):
    assert not odd(f"machine x, 12 V\n{line}\n")
