"""Fuses in fitted leads: a jumper whose own fuse opens is as not there.

The worst overloaded fuse goes first, as everywhere: the currents are those that flow while every
fuse of the machine still holds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from backprobe.circuit.bases import Bases
from backprobe.circuit.limits import Limits
from backprobe.circuit.net import Flags, Ints, States
from backprobe.circuit.ports import Cases, Ports, read
from backprobe.circuit.settle import settle

OPENS_AT = 1.35
"""Share of its rating at which a blade fuse opens (ISO 8820-3: within 600 s)."""


def opened_leads(
    bases: Bases,
    limits: Limits,
    ports: Ports,
    cases: Cases,
    start: Sequence[tuple[States, Ints]],
    leads: Ints,
    rated: Sequence[float],
) -> Flags:
    """(H, leads) whose fuse opens. `leads`: port numbers that every hypothesis has; `rated`: the
    amperes of the fuse in each."""
    whole = replace(limits, above=np.where(limits.pace == 1, np.inf, limits.above))
    settled = settle(bases, whole, ports, cases, start)
    fuses = np.flatnonzero(limits.pace == 1)
    opens: Flags = np.zeros((cases.count, len(leads)), bool)
    for base, there, blocks in settled.solved(bases):
        for block in blocks:
            seen, _ = read(base, there, block, limits.at[fuses], limits.value[fuses])
            holding = settled.states[block.cases][:, limits.state[fuses]] == limits.leaves[fuses]
            others = np.abs(seen[..., 0]) / limits.above[fuses] * holding
            worst = others.max(axis=1, initial=0.0)
            for k, (lead, amps) in enumerate(zip(leads, rated, strict=True)):
                row, column = np.nonzero(block.ports == lead)
                share = np.abs(block.current[row, column, 0]) / (OPENS_AT * amps)
                opens[block.cases[row], k] = (share > 1.0) & (share >= worst[row])
    return opens


def without(cases: Cases, leads: Ints, opened: Flags, nothing: int) -> Cases:
    """The cases with the opened leads' ports replaced by `nothing`, a port without effect."""
    ports = cases.ports.copy()
    owner = np.repeat(np.arange(cases.count), np.diff(cases.start))
    for k, lead in enumerate(leads):
        ports[(ports == lead) & opened[owner, k]] = nothing
    return Cases(start=cases.start, ports=ports)
