"""What a machine's jobs begin with, worked out while the complaint is still being written down.

The code lists of every unit, key on and engine running, are the first that is weighed; what they need
of the circuit takes seconds on a large machine, and depends on the book alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from backprobe.book.situations import Situation
from backprobe.defects.predict import Circuit
from backprobe.findings.model import CodesFound
from backprobe.shop.outlook import engine, state_of, usual_life
from backprobe.suspects.evidence import ask


def worked_ahead(circuit: Circuit) -> Iterator[None]:
    """Works on at every step: a situation of the day before, then a unit in one key position.
    Nobody waits for it longer than a step."""
    past: Situation | None = None
    for situation in usual_life(circuit.book):
        past = replace(situation, after=past)
        with engine():
            circuit.settled(past)
        yield
    units = dict.fromkeys(unit for unit, _ in circuit.book.codes)
    for situation in (Situation(key="on"), Situation(key="run")):
        for unit in units:
            listed = CodesFound(unit=unit, situation=situation, complete=True)
            with engine():
                ask(circuit.book, circuit, state_of(circuit.book, (listed,)))
            yield
