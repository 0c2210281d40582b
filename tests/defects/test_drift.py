"""How contacts and warm copper move the healthy machine: first order against solving it again.

A law, no outside source: for small resistances a derivative and a difference are one. Contacts are
moved by half of themselves and more, and coils by a tenth, so they agree to that only.
"""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book.situations import Lead, Situation
from backprobe.circuit.drift import drift
from backprobe.circuit.instruments import show, taps_of
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from oracles.machines import machine

LAMP = Lead(kind="lamp 21 W", p="battery.+", n="battery.-")
SITUATIONS = [
    Situation(key="run"),
    Situation(key="crank"),
    Situation(key="on", fitted=(LAMP,)),
    Situation(key="on", unplugged=frozenset({"U1"})),
]


@pytest.mark.parametrize("situation", SITUATIONS, ids=["run", "crank", "lamp", "unplugged"])
@pytest.mark.parametrize("seed", [1, 6])
def test_first_order_is_what_solving_again_gives(situation: Situation, seed: int) -> None:
    made = machine(160, seed=seed)
    circuit = Circuit.of(made.book).within(np.zeros(1, np.int64))
    settled = circuit.settled(situation)
    probes = [Probe(kind="volts", p=node) for node in circuit.net.nodes if node != "0"]
    taps = taps_of(circuit.net, [circuit._tap(probe) for probe in probes])
    found = drift(circuit._bases, settled.lean())
    assert found is not None
    shown = show(circuit._bases, settled, taps)
    live = shown.source[0] < 1e4  # the meter's own load moves what hangs on leaks
    volts = (taps.value * found.x[np.maximum(taps.at, 0)]).sum(axis=1)
    gain = (taps.value[..., None] * found.gain[np.maximum(taps.at, 0)]).sum(axis=1)
    slope = shown.slope[0, :, 1:]
    assert volts[live] == pytest.approx(shown.mean[0, live], abs=2e-2)
    for k in (0, 1):
        size = np.abs(slope[live, k]).max()
        assert size > 0.0
        assert gain[live, k] == pytest.approx(slope[live, k], abs=0.15 * size)
