"""One factorisation: the network in one vector of discrete states, with its shared unknowns.

Columns of the inverse are solved when they are first needed and kept. SuperLU through scipy
with minimum-degree ordering of A'A (measured fastest for this matrix).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from backprobe.circuit.factor import Exact, Factor
from backprobe.circuit.net import GMIN, Flags, Floats, Ints, Net, States

if TYPE_CHECKING:
    from backprobe.circuit.ports import Ports

Variant = Literal["nominal", "contacts", "warm"]
VARIANTS: Final[tuple[Variant, ...]] = ("nominal", "contacts", "warm")
CONTACT_STEP: Final = 0.5
"""The "contacts" variant scales healthy contacts by exp(0.5)."""
WARM_STEP: Final = 25.0
"""The "warm" variant heats copper by 25 K."""
COPPER_PER_K: Final = 0.00393
"""Temperature coefficient of copper at 20 C (IEC 60028)."""


@dataclass(slots=True)
class Base:
    """A factorised network. `x` (N, 2): the solution, and its change per volt of battery emf; `ohm`
    (B,) of its branches. `absent` (N,) marks the currents of branches that do not conduct in these states;
    `turned`: what Turns.ports() made of it."""

    net: Net
    states: States
    ohm: Floats
    x: Floats
    absent: NDArray[np.bool_]
    factor: Factor
    exact: Exact
    _laid: Floats
    _place: Ints
    _count: int = 0
    turned: Ports | None = None

    def columns(self, wanted: Ints) -> tuple[Floats, Ints]:
        """Columns of the inverse: (N, c) and the place (N,) of each column among the c.

        `wanted` (any shape) lists the columns that must be there.
        """
        laid, place = self.laid(wanted)
        return laid.T, place

    def laid(self, wanted: Ints) -> tuple[Floats, Ints]:
        """The same as columns(), every column in one stretch of memory: (c, N)."""
        asked = np.zeros(self.net.size, bool)
        asked[wanted] = True
        new = (asked & (self._place < 0)).nonzero()[0]
        if new.size:
            known, self._count = self._count, self._count + new.size
            if self._count > len(self._laid):
                room = max(self._count, min(2 * known, self.net.size))
                grown = np.empty((room, self.net.size))
                grown[:known] = self._laid[:known]
                self._laid = grown
            new = new[self.factor.row[new].argsort()]  # those solved together begin at one row
            self._place[new] = np.arange(known, self._count)
            self.factor.units(new, self._laid[known : self._count])
        return self._laid[: self._count], self._place

    @property
    def weight(self) -> int:
        """Numbers kept, for the cache's bookkeeping: columns, solution, factors with their places."""
        kept = self._laid.size + self.x.size + self.exact.value.size
        return int(kept + self.factor.weight)


@dataclass(frozen=True, slots=True, kw_only=True)
class Skeleton:
    """The matrix of a net with every branch present, as compressed columns: `value` of each
    entry, the branch it vanishes with (`owner`, -1 for none), and where the ohms stand
    (`diagonal`). Columns stand in an order that keeps the factors sparse, found once; `rank` (N,)
    is the place of each unknown in it. `matrix` has the pattern; its numbers are whatever was
    factorised last. `battery` (B,) flags batteries, `ohm` holds the ohms of every variant, `source`
    (N, sources) what every current source injects."""

    matrix: csc_array
    value: Floats
    owner: Ints
    diagonal: Ints
    rank: Ints
    battery: Flags
    ohm: dict[Variant, Floats]
    source: Floats


def skeleton_of(net: Net) -> Skeleton:
    """The matrix pattern, made once per net."""
    nodes, size = len(net.nodes) - 1, net.size
    column, row = net.column[1:].tocoo(), net.row[:, 1:].tocoo()
    reach, branches = np.arange(nodes), np.arange(len(net.elements))
    i = np.concatenate([reach, column.coords[0], row.coords[0] + nodes, branches + nodes])
    j = np.concatenate([reach, column.coords[1] + nodes, row.coords[1], branches + nodes])
    value = np.concatenate([np.full(nodes, GMIN), column.data, row.data, np.zeros(len(branches))])
    owner = np.concatenate(
        [np.full(nodes, -1), column.coords[1], row.coords[0], np.full(len(branches), -1)]
    )
    rank = _sparse_rank(i, j, value, net.ohm, size)
    order = np.lexsort((i, rank[j]))
    place = np.empty(len(order), np.int64)
    place[order] = np.arange(len(order))
    starts = np.searchsorted(rank[j][order], np.arange(size + 1))
    indices, indptr = i[order].astype(np.int32), starts.astype(np.int32)
    matrix = csc_array((value[order], indices, indptr), shape=(size, size))
    matrix.has_sorted_indices = True
    source = np.zeros((size, len(net.sources)))
    for number, each in enumerate(net.sources):
        for name, sign in ((each.p, -1.0), (each.n, 1.0)):
            if net.node[name]:
                source[net.node[name] - 1, number] += sign * each.amps
    return Skeleton(
        matrix=matrix,
        value=value[order],
        owner=owner[order].astype(np.int64),
        diagonal=place[len(place) - len(branches) :],
        rank=rank,
        battery=np.array([element.battery for element in net.elements], bool),
        ohm={variant: _ohms(net, variant) for variant in VARIANTS},
        source=source,
    )


def _sparse_rank(i: Ints, j: Ints, value: Floats, ohm: Floats, size: int) -> Ints:
    """Column order by minimum degree of A'A, fewest fill-ins for this matrix (measured)."""
    full = value.copy()
    full[len(full) - len(ohm) :] = -np.maximum(ohm, 1.0)
    matrix = csc_array((full, (i, j)), shape=(size, size))
    return splu(matrix, permc_spec="MMD_ATA").perm_c.astype(np.int64)


def factorise(
    net: Net, states: States, variant: Variant = "nominal", skeleton: Skeleton | None = None
) -> Base:
    """Factorise the network in a state vector. The factor exists for every network whose
    branches have ohm > 0 or are sources in no loop of their own."""
    bones = skeleton or skeleton_of(net)
    present = net.present(states).astype(float)
    nodes = len(net.nodes) - 1
    value = np.where(bones.owner < 0, bones.value, bones.value * present[bones.owner])
    value[bones.diagonal] = -np.where(present > 0, bones.ohm[variant], 1.0)
    bones.matrix.data = value
    factor = Factor.of(bones.matrix, bones.rank)
    right = np.zeros((net.size, 2))
    right[nodes:, 0] = net.emf * present
    right[:, 0] += bones.source @ net.sources_on(states).astype(float)
    right[nodes:, 1] = bones.battery * present
    return Base(
        net=net,
        states=states.copy(),
        ohm=bones.ohm[variant],
        x=np.ascontiguousarray(factor.solve(right)),
        factor=factor,
        exact=Exact(
            begin=bones.matrix.indptr.astype(np.int64),
            at=bones.matrix.indices.astype(np.int64),
            value=value,
            rank=bones.rank,
            right=np.ascontiguousarray(right.T),
            lower=factor.lower.parts,
            upper=factor.upper.parts,
            pivot=factor.pivot,
            row=factor.row,
            column=factor.column,
        ),
        absent=np.concatenate([np.zeros(nodes, bool), present == 0]),
        _laid=np.empty((0, net.size)),
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
