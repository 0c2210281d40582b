"""A lamp in place of every fuse of the demo machine, against a network in which the lamp's ohms are tried until
they fit its volts; the engine takes the rest of the machine for a resistance."""

from __future__ import annotations

import pytest

from backprobe.book import read_book
from backprobe.book.situations import Lead, Situation
from backprobe.defects.model import TEMPERATURE_SD, Probe
from backprobe.defects.predict import Circuit
from backprobe.shop.demo import book_text
from oracles.solved_apart import Apart


@pytest.fixture(scope="module")
def dumper() -> Circuit:
    book, problems = read_book(book_text("tracked-dumper"))
    assert book is not None, problems
    return Circuit.of(book)


@pytest.mark.parametrize("on", [frozenset(), frozenset({"S1", "S2", "S3", "S4", "S5", "S6", "S7"})])
def test_a_lamp_shows_what_its_own_warmth_leaves_it(dumper: Circuit, on: frozenset[str]) -> None:
    apart = Apart(book=dumper.book, net=dumper.net)
    lit = 0
    for name, part in dumper.book.parts.items():
        if part.kind != "fuse":
            continue
        ends = f"{name}.1", f"{name}.2"
        fitted = (Lead(kind="lamp 55 W", p=ends[0], n=ends[1]),)
        situation = Situation(key="on", on=on, pulled=frozenset({name}), fitted=fitted)
        probe = Probe(kind="volts", p=ends[0], n=ends[1])
        seen = dumper.seen(situation, [probe])
        volts, sure = seen.mean[0, 0], abs(seen.slope[0, 0, 2]) * TEMPERATURE_SD
        true = apart.again().read(situation, probe, gone=False)
        assert volts == pytest.approx(true, rel=0.04, abs=0.01), name
        assert abs(volts - true) <= sure + 0.01, name
        lit += true > 0.1
    assert lit >= 5
