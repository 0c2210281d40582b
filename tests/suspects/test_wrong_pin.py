"""The pin beside the right one: a coin per pin and visit, and a way out that names the pin."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.defects.model import Probe
from backprobe.findings.fold import fold
from backprobe.findings.model import Reading
from backprobe.suspects.emission import BESIDE_PIN, WRONG_PLACE, emission
from backprobe.suspects.evidence import Segment
from backprobe.suspects.factor import Factor, Slip
from backprobe.suspects.readings import beside
from backprobe.suspects.verdict import judge_with_pairs
from oracles.machines import machine


def column(*values: float) -> np.ndarray:
    return np.array(values)[:, None]


def reading(place: str, told: np.ndarray, *slips: np.ndarray) -> Factor:
    return Factor(
        finding=place,
        present=told,
        gone=column(1.0, 1.0),
        background=0.0,
        lead=place,
        slips=tuple(Slip(place=str(k), present=s, gone=s) for k, s in enumerate(slips)),
    )


def test_who_counts_the_pins_wrong_does_so_at_every_reading_of_the_visit() -> None:
    """By hand: both readings at X1.3 are of X1.2 (half), or of X1.4, or right; the one at X1.9 has
    a coin of its own; all may be anywhere. Two hypotheses."""
    first, second, other = column(0.02, 9.0), column(0.02, 5.0), column(3.0, 0.5)
    low, high = (column(8.0, 1.0), column(0.1, 0.2)), (column(7.0, 2.0), column(0.3, 0.4))
    segment = Segment(
        redraw=True,
        condition="",
        factors=(
            reading("X1.3", first, low[0], low[1]),
            reading("X1.9", other, column(2.0, 2.0)),
            reading("X1.3", second, high[0], high[1]),
        ),
    )
    miscounted = (low[0] * high[0] + low[1] * high[1]) / 2.0
    at_three = (1.0 - BESIDE_PIN) * first * second + BESIDE_PIN * miscounted
    at_nine = (1.0 - BESIDE_PIN) * other + BESIDE_PIN * 2.0
    wanted = (1.0 - WRONG_PLACE) * at_three * at_nine + WRONG_PLACE
    got = emission(segment, shows=True, jumps=None)
    assert got == pytest.approx(wanted, rel=1e-12)


WHOLE = machine(100, seed=1)


def test_pins_beside_are_the_wired_ones_of_the_same_plug() -> None:
    assert beside(WHOLE.book, "sensor 1.2") == ("sensor 1.1", "sensor 1.3")
    assert beside(WHOLE.book, "sensor 1.3") == ("sensor 1.2",)
    assert beside(WHOLE.book, "battery.+") == ()
    assert beside(WHOLE.book, "frame") == ()


def test_a_miscounted_pin_is_named_and_turns_nothing() -> None:
    """A broken wire whose pins are read right, and a sensor's pin 2 noted as its pin 3: neither the
    sensor's ground nor a second fault takes the lead."""
    circuit, run = WHOLE.circuit, WHOLE.situations["run"]
    atoms = circuit.defects.atoms
    truth = next(
        h for h, a in enumerate(circuit.defects.atom_of) if atoms[a].id == "wire 18/open/run"
    )
    places = ("K1.87", "K1.86", "K1.85", "F2.2", "F1.2", "S1.1", "lamp 1.1", "sensor 1.2")
    volts = circuit.seen(run, [Probe(kind="volts", p=p) for p in places]).mean[truth]
    right = [
        Reading(id=p, situation=run, p=p, value=float(v))
        for p, v in list(zip(places, volts, strict=True))[:-1]
    ]
    slip = Reading(id="w", situation=run, p="sensor 1.3", value=float(volts[-1]))
    before = judge_with_pairs(circuit, fold(right)).verdict
    after = judge_with_pairs(circuit, fold([*right, slip])).verdict
    assert after.suspects[0].group == before.suspects[0].group
    assert after.suspects[0].chance > 0.75 * before.suspects[0].chance
    ways = [way for odd in after.contradictions if odd.finding == "w" for way in odd.ways_out]
    assert ways[0] == "perhaps sensor 1.2 was probed instead of sensor 1.3: it reads so there"
