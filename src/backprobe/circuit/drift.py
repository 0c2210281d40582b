"""How contacts and copper move one hypothesis, to first order.

With i the currents and d(ohm) what an unknown adds to every ohm, the network's equations
A x = b give A dx = d(ohm) i for the branches that conduct (implicit differentiation); a branch that
is a port (circuit.turned) takes it in its own equation, L' dx - alpha dy = d(alpha) y.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np

from backprobe.circuit.base import CONTACT_STEP, WARM_STEP, Base, Variant
from backprobe.circuit.bases import Bases
from backprobe.circuit.net import Floats, Ints, States
from backprobe.circuit.ports import Ports, matrix_of
from backprobe.circuit.settled import Settled

STEPS: Final[tuple[tuple[Variant, float], ...]] = (("contacts", CONTACT_STEP), ("warm", WARM_STEP))
LEFT = 1e-9
"""Least share of its own transfer a port must be left with."""


class Drift(NamedTuple):
    """A hypothesis' solution (N,), and what it gains with the logarithm of contacts and with a
    kelvin of copper (N, 2)."""

    x: Floats
    gain: Floats


def drift(bases: Bases, settled: Settled) -> Drift | None:
    """That of the one hypothesis in `settled`; None where the digits do not suffice."""
    own = settled.cases.ports
    ports = settled.ports.only(own[own >= 0])
    (group,) = settled.groups(bases.turns, beside=False)
    found = _drift(bases, group.states, ports, np.flatnonzero(group.turned[0]))
    return found or _drift(bases, settled.states[0], ports, np.zeros(0, np.int64))


def _drift(bases: Bases, states: States, own: Ports, turned: Ints) -> Drift | None:
    """drift() on the factorisation of one pattern, of which something is turned."""
    base = bases.get(states)
    ports = own.plus(bases.turns.ports(base).only(turned)) if turned.size else own
    more, still = _more(bases), base.x[:, 0]
    nodes = base.net.size - len(base.ohm)
    if not ports.count:
        amps = np.where(base.absent[nodes:], 0.0, still[nodes:])
        return Drift(still, _solved(base, more * amps[:, None]))
    columns, matrix = _laid(base, ports)
    inverse = np.linalg.inv(matrix)
    with np.errstate(divide="ignore", invalid="ignore"):
        left = 1.0 / np.abs(np.diag(inverse) * np.diag(matrix))
    if not left.min() > LEFT:
        return None
    current = inverse @ (_at(ports, still[:, None]) - ports.emf[:, None])
    x = still - (columns @ current)[:, 0]
    amps = np.where(base.absent[nodes:], 0.0, x[nodes:])
    free = _solved(base, more * amps[:, None])
    branch, place = _turned_on(bases, base, turned, own.count)
    owed = np.zeros((ports.count, 2))
    owed[place] = more[branch] * current[place]
    return Drift(x, free - columns @ (inverse @ (_at(ports, free) - owed)))


def _more(bases: Bases) -> Floats:
    """(B, 2) ohms that every branch gains with either unknown, as over the steps of base."""
    nominal = bases.ohms("nominal")
    return np.stack([(bases.ohms(name) - nominal) / step for name, step in STEPS], axis=1)


def _turned_on(bases: Bases, base: Base, turned: Ints, before: int) -> tuple[Ints, Ints]:
    """Branches that are turned on, and the port of each."""
    branch = bases.turns.branch
    some = np.flatnonzero(turned < branch.size)
    number = branch[turned[some]]
    on = base.absent[base.net.size - len(base.ohm) :][number]
    return number[on], before + some[on]


def _solved(base: Base, ohm_amps: Floats) -> Floats:
    """What volts (B, 2) added to the branches do to everything (N, 2)."""
    right = np.zeros((base.net.size, 2))
    right[base.net.size - len(base.ohm) :] = ohm_amps
    return base.factor.solve(right)


def _laid(base: Base, ports: Ports) -> tuple[Floats, Floats]:
    """What an ampere through every port does to everything, M^-1 R (N, k), and C (k, k)."""
    at = np.maximum(ports.right_at, 0)
    solved, place = base.laid(at)
    columns = np.einsum("kw,kwn->nk", ports.right, solved[place[at]])
    numbers = np.arange(ports.count)[None]
    matrix = matrix_of(solved.T, place, ports, numbers)[0]
    matrix[numbers[0], numbers[0]] += ports.alpha
    return columns, matrix


def _at(ports: Ports, x: Floats) -> Floats:
    """L' x (k, c)."""
    at: Floats = np.einsum("kw,kwc->kc", ports.left, x[np.maximum(ports.left_at, 0)])
    return at
