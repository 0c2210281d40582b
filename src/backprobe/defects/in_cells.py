"""Severities between those of the ladder: the ports of a hypothesis anywhere in its cell."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from backprobe.circuit.net import Flags, Floats, Ints, Net
from backprobe.circuit.ports import Cases, Ports
from backprobe.defects.model import Defects
from backprobe.defects.settled_once import Memory

STEPS = 7
"""Severities a cell is solved at, evenly in ln(ohm) from its mildest to its worst, its own among them."""
AT = np.linspace(-1.0, 1.0, STEPS)


@dataclass(slots=True, eq=False)
class Cells:
    """How the ports (P,) of a machine go with the severity of their hypotheses.

    `reach`: ln of the factor to either end of the cell; `series`: it is ohms added to a branch; `own`:
    the ohms of its own that a bridge has besides copper; `drifts`: volts that are themselves the
    severity. `memory`: hypotheses met at a step of theirs.
    """

    nominal: Ports
    reach: Floats
    series: Flags
    own: Floats
    drifts: Flags
    memory: Memory = field(default_factory=Memory)
    _ports: Ports | None = None

    @staticmethod
    def of(net: Net, ports: Ports, cases: Cases, defects: Defects) -> Cells:
        """The cells of all hypotheses of a machine, each port belonging to one."""
        owner = np.repeat(np.arange(cases.count), np.diff(cases.start))
        reach = np.zeros(ports.count)
        reach[cases.ports] = np.log(np.maximum(defects.spread, 1.0))[owner]
        amps = ports.left_at >= len(net.nodes) - 1
        volts = (ports.left_at >= 0) & ~amps
        joins = volts.any(axis=1)
        series = np.asarray(amps.any(axis=1) & ~joins)
        copper = np.abs(np.where(amps, ports.left, 0.0)).sum(axis=1)
        lifts = ~series & ~joins & (ports.emf != 0.0)
        lone = np.ones(cases.count, bool)
        np.logical_and.at(lone, owner, lifts[cases.ports])
        drifts = np.zeros(ports.count, bool)
        drifts[cases.ports] = lone[owner]
        return Cells(
            nominal=ports,
            reach=reach,
            series=series,
            own=np.where(joins, ports.alpha - copper, 0.0),
            drifts=drifts,
        )

    @property
    def ports(self) -> Ports:
        """All ports at the first step, then all at the second, and so on."""
        if self._ports is None:
            first, *others = (self._at(float(at)) for at in AT)
            for other in others:
                first = first.plus(other)
            self._ports = first
        return self._ports

    def _at(self, at: float) -> Ports:
        """All ports so far, from -1 to 1, through their cells."""
        times = np.exp(at * self.reach)
        alpha, emf = self.nominal.alpha, self.nominal.emf
        return replace(
            self.nominal,
            alpha=np.where(self.series, alpha / times, alpha + self.own * (times - 1.0)),
            emf=emf * np.where(self.drifts, times, 1.0),
        )

    def cases(self, cases: Cases, rows: Ints) -> Cases:
        """Hypothesis 0, and each of some others at every step."""
        step = np.tile(np.arange(STEPS), rows.size)
        found = cases.only(np.append(0, np.repeat(rows, STEPS)))
        size = np.diff(found.start)
        shift = np.repeat(np.append(0, step * self.nominal.count), size)
        return Cases(start=found.start, ports=found.ports + shift)

    @staticmethod
    def named(ident: Ints) -> Ints:
        """Names of hypothesis 0 and then of each of some others at every step."""
        each = 1 + ident[:, None] * STEPS + np.arange(STEPS)
        return np.append(0, each.ravel())


def solved_at(defects: Defects) -> Defects:
    """The defects of hypothesis 0 and of others at every step, exact severities all."""
    at = np.append(0.0, np.tile(AT, defects.spread.size // STEPS))
    ohm = defects.ohm * np.maximum(defects.spread, 1.0) ** at
    return replace(defects, ohm=ohm, spread=np.ones(at.size))


def loose_volts(ports: Ports, cases: Cases, atom_of: Ints, ohm: Floats) -> Floats:
    """(H,) from how low to how high a source may lie that is given with the ohms of a severity, as a
    drained battery's volts are: up to those of the severities on either side of it. 0 where volts are all
    there is."""
    owner = np.repeat(np.arange(cases.count), np.diff(cases.start))
    volts, joined = np.zeros(cases.count), np.zeros(cases.count, bool)
    own = ports.emf[cases.ports]
    volts[owner[own != 0.0]] = own[own != 0.0]
    joined[owner[(ports.left_at[cases.ports] >= 0).any(axis=1)]] = True
    order = np.lexsort((ohm, atom_of))
    gap = np.abs(np.diff(volts[order])) * (np.diff(atom_of[order]) == 0)
    found = np.zeros(cases.count)
    found[order[:-1]] += gap
    found[order[1:]] += gap
    return np.where(joined, found, 0.0)
