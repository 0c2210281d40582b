"""A compact tractor recorded with one sensor really unplugged, label and frames published.

Source: the TractorHacking/CAN-data recordings (MIT licence), LeftSensorUnplugged-CheckEngine: the
engine unit reports SPN 100 FMI 4, "voltage low", for an input whose plug is off. How that input is
wired is not published; the small book assumes a pull-down. So "open" and "short to ground" must
both stay in the top group, and following the proposals must tell them apart.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.findings.model import CodesFound, Works
from backprobe.logs import codes_found, read_recording
from backprobe.shop.demo.books import book_text
from backprobe.shop.job import Job, start
from oracles.technician import Machine, follow

PLUG = "plug at oil pressure sender"
WIRE = "wire 7 (oil pressure sender to engine unit)"


@cache
def tractor() -> Job:
    book, problems = read_book(book_text("unplugged-sensor"), "unplugged-sensor.book")
    assert book is not None, problems
    return start(book)


def with_the_code(codes: tuple[CodesFound, ...]) -> Job:
    cranks = Works(target="engine cranks", works=True, situation=Situation(key="crank"))
    return tractor().note(*codes, cranks)


@pytest.fixture
def recorded(recordings: Path) -> Job:
    recording = read_recording(recordings / "LeftSensorUnplugged-CheckEngine-1of3.csv")
    found = codes_found(recording, {0: "engine unit"}, situation=Situation(key="run"))
    assert [f.active for f in found] == [("100/4",)]
    return with_the_code(found)


def test_the_recorded_code_leaves_open_and_short_side_by_side(recorded: Job) -> None:
    leading = [suspect.group for suspect in recorded.suspects[:3]]
    assert PLUG in leading
    assert WIRE in leading
    names = {name for s in recorded.suspects[:3] for name, _ in s.names if s.group in (PLUG, WIRE)}
    assert any("is off" in name for name in names)
    assert any("rubbed through to ground" in name for name in names)


@pytest.mark.parametrize(
    ("truth", "group"), [("plug oil pressure sender/off", PLUG), ("wire 7/to ground/run", WIRE)]
)
def test_following_the_proposals_tells_open_from_short(
    recorded: Job, truth: str, group: str
) -> None:
    circuit = recorded.circuit
    atom = next(k for k, a in enumerate(circuit.defects.atoms) if a.id == truth)
    hypothesis = int(np.flatnonzero(circuit.defects.atom_of == atom)[0])
    walked = follow(recorded, Machine(circuit, hypothesis, seed=1), most=8)
    assert walked.right, walked.done
    assert walked.leading[0][0] == group
