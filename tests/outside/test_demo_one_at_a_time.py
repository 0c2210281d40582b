"""The demo machine's defects, end states and all voltages, against following each by hand."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book.situations import Lead, Situation
from backprobe.circuit.instruments import Tap, show, taps_of
from oracles import one_at_a_time
from oracles.decode import changes_of
from oracles.demo_machine import SITUATIONS, demo_circuit, pins, sample

PER_SITUATION = 125
NEAR = 1e-7
"""A move decided by less than this, V or A or share, may go either way in doubles."""


def compared(
    situation: Situation, seed: int, *, gone: bool = False, count: int = PER_SITUATION
) -> None:
    whole = demo_circuit()
    circuit = whole.within(sample(whole, count, seed))
    net, defects = circuit.net, circuit.defects
    settled = circuit.settled(situation, gone=gone)
    places = taps_of(net, [Tap(quantity="volts", p=node, n=net.nodes[0]) for node in net.nodes])
    shown = show(circuit._bases, settled, places, slopes=False).mean
    healthy = {at: net.states[k].words[settled.states[0, k]] for at, k in net.state.items()}
    wrong, near, moved, chatter, worst, where = [], 0, 0, 0, 0.0, ""
    touched, inside = pins(net.nodes), 0.0
    for hypothesis in range(settled.cases.count):
        words = {
            at: net.states[k].words[settled.states[hypothesis, k]] for at, k in net.state.items()
        }
        named = defects.atoms[defects.atom_of[hypothesis]].words
        changes = changes_of(net, circuit.ports, circuit.cases, hypothesis)
        end = one_at_a_time.lived(net, situation, changes, gone=gone)
        if end.margin < NEAR:
            near += 1
            continue
        if end.steady != settled.steady[hypothesis]:
            wrong.append(f"{named}: steady by hand {end.steady}")
        elif not end.steady:
            chatter += 1
        elif end.words != words:
            differ = {at: (words[at], end.words[at]) for at in words if words[at] != end.words[at]}
            wrong.append(f"{named}: {differ}")
        else:
            moved += words != healthy
            off = np.abs(shown[hypothesis] - [end.volts[node] for node in net.nodes])
            inside = max(inside, float(off[~touched].max()))
            if off[touched].max() > worst:
                worst, where = float(off[touched].max()), named
    print(
        f"{settled.cases.count} defects, {moved} change a state, {chatter} never settle, "
        f"{near} too near to call, {len(wrong)} mismatches, "
        f"worst at a pin {worst:.1e} V ({where}), inside parts {inside:.1e} V"
    )
    assert not wrong, "\n".join(wrong)
    assert near <= settled.cases.count / 20
    assert worst < 2e-6
    assert inside < 2e-5  # pieces that hang on leaks alone, where both ways lose digits


@pytest.mark.parametrize(("seed", "name"), list(enumerate(SITUATIONS)), ids=list(SITUATIONS))
def test_states_and_volts_of_every_sampled_defect(seed, name):
    compared(SITUATIONS[name], seed)


def test_what_a_defect_blew_before_stays_blown():
    """Lights were switched on, then key off and on: blown fuses are carried along."""
    lit = SITUATIONS["running, everything commanded"]
    compared(Situation(key="on", after=Situation(key="off", after=lit)), seed=11, count=80)


def test_what_a_defect_blew_stays_blown_when_the_defect_is_gone():
    lit = SITUATIONS["running, everything commanded"]
    compared(Situation(key="on", after=lit), seed=12, gone=True, count=80)


def test_a_fitted_lamp_and_a_jumper_move_states_of_their_own():
    """A 55 W lamp on the ECU's feed, a jumper that feeds the lights past their relay."""
    leads = (
        Lead(kind="lamp 55 W", p="bus ECU", n="battery minus"),
        Lead(kind="jumper", p="bus F5", n="X7.1"),
    )
    compared(Situation(key="on", fitted=leads), seed=13, count=80)


def test_plugs_off_and_fuses_out():
    """X10 unplugged and F5 pulled, running."""
    situation = Situation(
        key="run",
        on=SITUATIONS["running, everything commanded"].on,
        unplugged=frozenset({"X10", "rail sensor"}),
        pulled=frozenset({"F5", "K4"}),
    )
    compared(situation, seed=14, count=80)


def test_battery_minus_off():
    compared(Situation(key="off", battery_off=True), seed=15, count=60)


@pytest.mark.parametrize("seed", range(3))
def test_any_set_of_plugs_fuses_and_leads(seed):
    """Plugs off, fuses and relays out, lamps and jumpers between places, drawn at random."""
    rng = np.random.default_rng(seed)
    parts = demo_circuit().book.parts
    plugs = [name for name, part in parts.items() if part.kind in ("plug", "three-wire sensor")]
    out = [name for name, part in parts.items() if part.kind in ("fuse", "relay")]
    feeds = [f"{name}.2" for name, part in parts.items() if part.kind == "fuse"]
    places = [place for place in feeds if place in demo_circuit().net.node]

    def drawn(names: list[str], most: int) -> frozenset[str]:
        size = int(rng.integers(0, most + 1))
        return frozenset(str(name) for name in rng.choice(names, size=size, replace=False))

    leads = []
    for kind in rng.choice(["lamp 21 W", "lamp 55 W", "jumper"], size=2):
        a, b = (str(place) for place in rng.choice(places, size=2, replace=False))
        leads.append(Lead(kind=str(kind), p=a, n="battery minus" if "lamp" in kind else b))
    situation = Situation(
        key=("on", "run", "on")[seed],
        on=SITUATIONS["key on, lights and horn"].on,
        unplugged=drawn(plugs, 3),
        pulled=drawn(out, 3),
        fitted=tuple(leads),
    )
    compared(situation, seed=20 + seed, count=25)
