"""Codes by the book's rule alone: each condition looked up in the readings, yes or no.

The product weighs codes with chances; this is the plain reading of docs/wiring-book.md.
"""

from __future__ import annotations

import numpy as np

from backprobe.book.model import Book, Test
from backprobe.book.situations import Situation
from backprobe.defects.model import Predictor, Probe


def codes_set(book: Book, circuit: Predictor, situation: Situation) -> list[frozenset[str]]:
    """The codes every hypothesis sets in a situation, as "ECU 157/4"."""
    count = len(circuit.defects.atom_of)
    active: list[set[str]] = [set() for _ in range(count)]
    for rule in book.codes.values():
        if situation.key not in rule.when or not set(rule.commands) <= situation.on:
            continue
        holds = circuit.state(situation, rule.unit, "power") == 1
        for test in rule.tests:
            holds = holds & _holds(circuit, rule.unit, test, situation)
        for hypothesis in np.flatnonzero(holds):
            active[hypothesis].add(f"{rule.unit} {rule.code}")
    return [frozenset(codes) for codes in active]


def _holds(circuit: Predictor, unit: str, test: Test, situation: Situation) -> np.ndarray:
    ground = f"{unit}:ground"
    match test.kind:
        case "amps":
            probe = Probe(kind="amps", p=f"{test.pin}/drive", n="")
        case "volts":
            assert test.pin is not None
            probe = Probe(kind="inner", p=f"{unit}:{test.pin.name}", n=ground)
        case "rail":
            probe = Probe(kind="inner", p=f"{unit}:group {test.other}", n=ground)
        case "supply":
            probe = Probe(kind="inner", p=f"{unit}:supply", n=ground)
        case _:
            raise ValueError(f"no plain reading of {test.kind!r}")
    amount = circuit.seen(situation, [probe]).mean[:, 0]
    if test.kind == "amps":
        amount = np.abs(amount)
    low = amount < test.low if test.low is not None else np.zeros(amount.shape, bool)
    high = amount > test.high if test.high is not None else np.zeros(amount.shape, bool)
    return low | high
