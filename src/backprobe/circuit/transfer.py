"""From any port to any port: the dense transfer matrix of one reference pattern of states, and any
other pattern as a low-rank change of it.

Z = A' M^-1 B, with left vectors A (ports, what the moves watch, branches that switch) and right
vectors B (ports, branches that switch, current sources, the solution). A pattern differs from the
reference by branches switched off and on; each is a port too (signs as in circuit.ports):

    switched off    l = r = e_b                  alpha = 0
    switched on     l = row_b, r = column_b      alpha = ohm_b, emf = emf_b

and then Z' = Z - Z[:, D] C^-1 Z[D, :]. A branch absent from the reference has no current there; once
switched on its current is its own port's, which an extra -1 in that port's column (and row) says.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_array, csr_array, hstack

from backprobe.circuit.base import Base
from backprobe.circuit.bases import Bases
from backprobe.circuit.compiled import compiled
from backprobe.circuit.limits import Limits
from backprobe.circuit.net import Flags, Floats, Ints, Net, States
from backprobe.circuit.parting import distinct
from backprobe.circuit.ports import WIDTH, Ports


@dataclass(frozen=True, slots=True, kw_only=True)
class Vectors:
    """The distinct vector pairs of ports: `of` (P,) finds each port's. The last has no entries: a
    port that changes nothing. `branch` (V,) is the branch a vector is the current of, else -1;
    `switch` (V,) the same where that branch can be absent."""

    left_at: Ints
    left: Floats
    right_at: Ints
    right: Floats
    of: Ints
    branch: Ints
    switch: Ints

    @property
    def count(self) -> int:
        """How many vectors there are, the empty one among them."""
        return len(self.switch)

    @property
    def empty(self) -> int:
        """The number of the empty one."""
        return self.count - 1


def vectors_of(net: Net, ports: Ports, used: Ints | None = None) -> Vectors:
    """The distinct vectors of these ports; only of the `used` ones (the others count as empty)."""
    some = np.arange(ports.count) if used is None else np.unique(used)
    rows = np.concatenate([ports.left_at, ports.left, ports.right_at, ports.right], axis=1)
    own = rows[some] + 0.0  # of the two zeros only one
    different, found = distinct(own.view(np.int8).reshape(len(own), own.shape[1] * own.itemsize))
    of = np.full(ports.count, len(different), np.int64)
    of[some] = found
    none = np.repeat([-1.0, 0.0, -1.0, 0.0], WIDTH)[None]
    entries = np.concatenate([different.view(float), none])
    left_at, left, right_at, right = np.split(entries, 4, axis=1)
    nodes = len(net.nodes) - 1
    alone = (left_at[:, 0] >= nodes) & (left_at[:, 1] < 0)
    branch = np.where(alone, left_at[:, 0].astype(np.int64) - nodes, 0)
    return Vectors(
        left_at=left_at.astype(np.int64),
        left=left,
        right_at=right_at.astype(np.int64),
        right=right,
        of=of,
        branch=np.where(alone, branch, -1),
        switch=np.where(alone & switched(net)[branch], branch, -1),
    )


def switched(net: Net) -> Flags:
    """(B,) branches that some state makes absent."""
    return np.array([bool(element.when) for element in net.elements], bool)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """What never changes of a net: `column` (nodes - 1, B) and its transpose with the reference
    node, `leaving` (B, nodes); `row` (B, nodes - 1); branches that `switches`, that are a
    `battery`; `sources` (N, sources), what each feeds into every unknown's equation."""

    column: csc_array
    leaving: csr_array
    row: csr_array
    switches: Flags
    battery: Flags
    sources: csr_array

    @staticmethod
    def of(net: Net) -> Shape:
        """Gathered once."""
        sources = np.zeros((net.size, len(net.sources)))
        for number, source in enumerate(net.sources):
            for name, sign in ((source.p, -1.0), (source.n, 1.0)):
                if net.node[name]:
                    sources[net.node[name] - 1, number] += sign * source.amps
        return Shape(
            column=net.column[1:].tocsc(),
            leaving=net.column.T.tocsr(),
            row=net.row[:, 1:].tocsr(),
            switches=switched(net),
            battery=np.array([element.battery for element in net.elements], bool),
            sources=csr_array(sources),
        )


@dataclass(slots=True)
class Transfer:
    """The reference pattern. `full` (N, columns): right vectors solved at every unknown: ports (V),
    switching branches (T), sources, the solution, its change per battery volt; `own` (T, N): left
    vectors of the switching branches."""

    net: Net
    vectors: Vectors
    limits: Limits
    bases: Bases
    base: Base
    present: Flags
    live: Flags
    toggles: Ints
    toggle_of: Ints
    watch_switch: Ints
    shape: Shape
    own: csr_array
    full: Floats

    @staticmethod
    def of(
        bases: Bases,
        limits: Limits,
        vectors: Vectors,
        states: States,
    ) -> Transfer:
        """Factorise the reference and solve every right vector once."""
        shape = Shape.of(bases.net)
        net = bases.net
        base = bases.get(states)
        nodes, size = len(net.nodes) - 1, net.size
        present = net.present(states)
        toggles = np.flatnonzero(shape.switches)
        toggle_of = np.full(len(net.elements), -1, np.int64)
        toggle_of[toggles] = np.arange(len(toggles))
        here = present[toggles]
        right = np.zeros((size, len(toggles)))
        left = np.zeros((len(toggles), size))
        if len(toggles):
            right[:nodes, ~here] = shape.column[:, toggles[~here]].toarray()
            right[nodes + toggles[here], np.flatnonzero(here)] = 1.0
            left[~here, :nodes] = shape.row[toggles[~here]].toarray()
            left[np.flatnonzero(here), nodes + toggles[here]] = 1.0
        live = ~base.absent
        ports = sparse(vectors.right_at, vectors.right, live, size).T
        wanted = csr_array(hstack([ports, csr_array(right), shape.sources]))
        rows = np.unique(wanted.nonzero()[0]).astype(np.int64)
        inverse, place = base.columns(rows)
        full = np.empty((size, wanted.shape[1] + 2))
        full[:, :-2] = (wanted[rows].T @ inverse[:, place[rows]].T).T
        full[:, -2:] = base.x
        return Transfer(
            net=net,
            vectors=vectors,
            limits=limits,
            bases=bases,
            base=base,
            present=present,
            live=live,
            toggles=toggles,
            toggle_of=toggle_of,
            watch_switch=_watched(net, limits, toggle_of),
            shape=shape,
            own=csr_array(left),
            full=full,
        )

    def read(self, at: Ints, value: Floats, seen: Floats, drive: Floats) -> None:
        """Left vectors (f, w) read off every thing into `seen` (f, things), off the solution and its
        change into `drive` (f, 2); with the extra entries."""
        _product(sparse(at, value, self.live, self.net.size), self.full, seen, drive)
        for k in range(at.shape[1]):
            owner, toggle = self._absent(at[:, k])
            seen[owner, self.vectors.count + toggle] -= value[owner, k]

    def read_switches(self, seen: Floats, drive: Floats) -> None:
        """The same of the switching branches (T)."""
        _product(self.own, self.full, seen, drive)
        # The current of a branch switched on is its port's: extra entries in its row.
        for k in range(WIDTH):
            owner, toggle = self._absent(self.vectors.right_at[:, k])
            seen[toggle, owner] -= self.vectors.right[owner, k]

    def _absent(self, at: Ints) -> tuple[Ints, Ints]:
        """Which vectors are the current of a switching branch that is not there, and of which."""
        branch = at - (len(self.net.nodes) - 1)
        owner = np.flatnonzero((branch >= 0) & ~self.live[np.maximum(at, 0)])
        toggle = self.toggle_of[branch[owner]]
        return owner[toggle >= 0], toggle[toggle >= 0]

    def columns(self, at: Ints, value: Floats) -> tuple[Floats, Floats]:
        """Right vectors over nodes (f, w): read by every port and switching branch (V + T, f), and at
        every unknown (N, f)."""
        inverse, place = self.base.columns(np.maximum(at, 0))
        everywhere = np.zeros((self.net.size, len(at)))
        for k in range(at.shape[1]):
            everywhere += inverse[:, place[np.maximum(at[:, k], 0)]] * value[:, k]
        nodes = len(self.net.nodes) - 1
        here = self.present[self.toggles]
        left = np.concatenate(
            [
                sparse(self.vectors.left_at, self.vectors.left, self.live, self.net.size)
                @ everywhere,
                np.where(
                    here[:, None],
                    everywhere[nodes + self.toggles],
                    self.shape.row[self.toggles] @ everywhere[:nodes],
                ),
            ]
        )
        return left, everywhere

    @property
    def things(self) -> int:
        """How many ports, switching branches and sources there are."""
        return self.vectors.count + len(self.toggles) + len(self.net.sources)


def _product(left: csr_array, full: Floats, seen: Floats, drive: Floats) -> None:
    """Rows times `full` (N, n + 2): the first n into `seen`, the last two into `drive`."""
    begin, at = left.indptr.astype(np.int64), left.indices.astype(np.int64)
    _multiplied(begin, at, left.data, full, seen, drive)


@compiled
def _multiplied(
    begin: Ints, at: Ints, value: Floats, full: Floats, seen: Floats, drive: Floats
) -> None:
    many = seen.shape[1]
    for i in range(len(begin) - 1):
        seen[i], drive[i] = 0.0, 0.0
        for k in range(begin[i], begin[i + 1]):
            row, share = full[at[k]], value[k]
            for c in range(many):
                seen[i, c] += share * row[c]
            for c in range(2):
                drive[i, c] += share * row[many + c]


def sparse(at: Ints, value: Floats, live: Flags, size: int) -> csr_array:
    """Sparse vectors (f, w) as a matrix (f, N) without the entries where nothing is live."""
    keep = (at >= 0) & live[np.maximum(at, 0)] & (value != 0)
    row = np.broadcast_to(np.arange(len(at))[:, None], at.shape)
    return csr_array((value[keep], (row[keep], at[keep])), shape=(len(at), size))


def _watched(net: Net, limits: Limits, toggle_of: Ints) -> Ints:
    """(K,) the branch a watch reads the current of when it can be absent, else -1."""
    branch = limits.at[:, 0] - (len(net.nodes) - 1)
    can = (branch >= 0) & (toggle_of[np.maximum(branch, 0)] >= 0)
    return np.where(can, branch, -1)
