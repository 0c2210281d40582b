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
    the ohms of its own that a bridge has besides copper; `lower`, `upper`: volts it has more at either
    end; `drifts`: volts that are themselves the severity. `memory`: hypotheses met at a step of theirs.
    """

    nominal: Ports
    reach: Floats
    series: Flags
    own: Floats
    lower: Floats
    upper: Floats
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
        lower, upper = _volts_beside(ports, cases, defects)
        return Cells(
            nominal=ports,
            reach=reach,
            series=series,
            own=np.where(joins, ports.alpha - copper, 0.0),
            lower=np.where(drifts, 0.0, lower),
            upper=np.where(drifts, 0.0, upper),
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
        beside = self.upper if at > 0.0 else self.lower
        return replace(
            self.nominal,
            alpha=np.where(self.series, alpha / times, alpha + self.own * (times - 1.0)),
            emf=emf * np.where(self.drifts, times, 1.0) + abs(at) * beside,
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


def _volts_beside(ports: Ports, cases: Cases, defects: Defects) -> tuple[Floats, Floats]:
    """Volts that every port has more at the lower and at the upper end of its cell: some of the way to
    those of the severities beside it, where these are made of the same ports."""
    order = np.lexsort((defects.ohm, defects.atom_of))
    lower, upper = np.zeros(ports.count), np.zeros(ports.count)
    for found, mine, beside in ((lower, order[1:], order[:-1]), (upper, order[:-1], order[1:])):
        size, reach = np.diff(cases.start)[mine], np.log(np.maximum(defects.spread[mine], 1.0))
        with np.errstate(divide="ignore", invalid="ignore"):
            step = np.abs(np.log(defects.ohm[beside] / defects.ohm[mine]))
        like = defects.atom_of[mine] == defects.atom_of[beside]
        like &= (size == np.diff(cases.start)[beside]) & (reach > 0.0)
        like &= np.isfinite(step) & (step > 0.0)
        way = np.repeat(np.minimum(reach[like] / step[like], 1.0), size[like])
        own, other = cases.only(mine[like]).ports, cases.only(beside[like]).ports
        found[own] = way * (ports.emf[other] - ports.emf[own])
    return lower, upper
