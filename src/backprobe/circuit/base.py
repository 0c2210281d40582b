"""One factorisation: the network in one vector of discrete states, with its shared unknowns.

Columns of the inverse are solved when they are first needed and kept. SuperLU through scipy
with minimum-degree ordering of A'A (measured fastest for this matrix).
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array, diags_array, eye_array, hstack, vstack
from scipy.sparse.linalg import SuperLU, splu

from backprobe.circuit.net import GMIN, Floats, Ints, Net, States

BLOCK: Final = 32
"""Columns solved at a time: ten times faster than all at once at 1250 unknowns (measured)."""
Variant = Literal["nominal", "contacts", "warm"]
CONTACT_STEP: Final = 0.5
"""The "contacts" variant scales healthy contacts by exp(0.5)."""
WARM_STEP: Final = 25.0
"""The "warm" variant heats copper by 25 K."""
COPPER_PER_K: Final = 0.00393
"""Temperature coefficient of copper at 20 C (IEC 60028)."""


@dataclass(slots=True)
class Base:
    """A factorised network. `x` (N, 2): the solution, and its change per volt of battery emf.
    `absent` (N,) marks the currents of branches that do not conduct in these states."""

    net: Net
    states: States
    lu: SuperLU
    x: Floats
    absent: NDArray[np.bool_]
    _solved: Floats
    _place: Ints

    def columns(self, wanted: Ints) -> tuple[Floats, Ints]:
        """Columns of the inverse: (N, c) and the place (N,) of each column among the c.

        `wanted` (any shape) lists the columns that must be there; -1 is passed over.
        """
        new = np.unique(wanted[wanted >= 0])
        new = new[self._place[new] < 0]
        if new.size:
            self._place[new] = self._solved.shape[1] + np.arange(new.size)
            parts = [self._solved]
            for first in range(0, new.size, BLOCK):
                some = new[first : first + BLOCK]
                unit = np.zeros((self.net.size, some.size), order="F")
                unit[some, np.arange(some.size)] = 1.0
                parts.append(self.lu.solve(unit))
            self._solved = np.concatenate(parts, axis=1)
        return self._solved, self._place

    @property
    def weight(self) -> int:
        """Numbers kept, for the cache's bookkeeping."""
        return int(self._solved.size)


def factorise(net: Net, states: States, variant: Variant = "nominal") -> Base:
    """Factorise the network in a state vector. The factor exists for every network whose
    branches have ohm > 0 or are sources in no loop of their own."""
    present = net.present(states).astype(float)
    nodes = len(net.nodes) - 1
    ohm = np.where(present > 0, _ohms(net, variant), 1.0)
    keep = diags_array(present)
    matrix = vstack(
        [
            hstack([GMIN * eye_array(nodes), net.column[1:] @ keep]),
            hstack([keep @ net.row[:, 1:], -diags_array(ohm)]),
        ]
    )
    lu = splu(csc_array(matrix), permc_spec="MMD_ATA")
    right = np.zeros((net.size, 2))
    right[nodes:, 0] = net.emf * present
    on = net.sources_on(states)
    for source, live in zip(net.sources, on, strict=True):
        if live:
            for name, sign in ((source.p, -1.0), (source.n, 1.0)):
                index = net.node[name] - 1
                if index >= 0:
                    right[index, 0] += sign * source.amps
    for number, element in enumerate(net.elements):
        if element.battery and present[number]:
            right[nodes + number, 1] = 1.0
    x = lu.solve(right)
    return Base(
        net=net,
        states=states.copy(),
        lu=lu,
        x=x,
        absent=np.concatenate([np.zeros(nodes, bool), present == 0]),
        _solved=np.zeros((net.size, 0)),
        _place=np.full(net.size, -1, np.int64),
    )


def _ohms(net: Net, variant: Variant) -> Floats:
    if variant == "nominal":
        return net.ohm
    if variant == "contacts":
        touched = np.array([element.contact for element in net.elements])
        return np.where(touched, net.ohm * np.exp(CONTACT_STEP), net.ohm)
    touched = np.array([element.warms for element in net.elements])
    return np.where(touched, net.ohm * (1.0 + COPPER_PER_K * WARM_STEP), net.ohm)


@dataclass(slots=True)
class Bases:
    """Factorisations by state vector and variant; the least used are dropped beyond `limit`
    kept numbers (8 bytes each)."""

    net: Net
    limit: int = 60_000_000
    _kept: OrderedDict[tuple[bytes, Variant], Base] = field(default_factory=OrderedDict)

    def get(self, states: States, variant: Variant = "nominal") -> Base:
        """The factorisation in this state vector, made when it is first asked for."""
        key = (states.tobytes(), variant)
        base = self._kept.get(key)
        if base is None:
            base = self._kept[key] = factorise(self.net, states, variant)
            while len(self._kept) > 1 and sum(b.weight for b in self._kept.values()) > self.limit:
                self._kept.popitem(last=False)
        else:
            self._kept.move_to_end(key)
        return base
