"""Pairs scattered over many patterns of states, a few in each: solved one small system per pair.

Every pair brings its pattern's switched branches, the ports held in it and its own two ports as one
list of ports on the reference of a Transfer; the systems of many pairs are solved side by side.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np

from backprobe.circuit.net import Flags, Floats, Ints, States, allowed
from backprobe.circuit.transfer import Held, Transfer

SOME = 512
"""Systems solved side by side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Crowd:
    """Pairs `which` (m,) solved: columns of z their ports stand in, `right` (m, k); `matrix`
    (m, k, k); port currents `y` (m, k, 2), for the solution and per battery volt; `left` (m, k):
    rows of z; `live` (m, k): ports there are, `held`: held ones; `present` (m, B); `change` (m, sources)."""

    which: Ints
    left: Ints
    right: Ints
    live: Flags
    held: Flags
    matrix: Floats
    y: Floats
    present: Flags
    change: Floats

    def part(self, some: slice | Ints) -> Crowd:
        """Some of them."""
        return Crowd(**{f.name: getattr(self, f.name)[some] for f in fields(self)})

    def read(self, transfer: Transfer, rows: Floats) -> Floats:
        """Left vectors given as rows over the columns of z (f, columns): (m, 2, f)."""
        sources = transfer.vectors.count + len(transfer.toggles) + np.arange(self.change.shape[1])
        each = np.ascontiguousarray(rows.T)[self.right]
        values: Floats = rows[:, -2:].T - np.matmul(self.y.transpose(0, 2, 1), each)
        values[:, 0] += self.change @ rows[:, sources].T
        return values


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Patterns as arrays: `states` (g, S), `event` (g,)."""

    states: States
    event: Ints


def crowds(
    transfer: Transfer,
    held: tuple[Held, ...],
    places: Places,
    group: Ints,
    ports: tuple[Ints, Floats, Floats],
) -> Iterator[Crowd]:
    """Solve pairs. `group` (m,): which place each stands in; `ports`: vectors, alphas and emfs of
    the two ports of each, (m, 2)."""
    net, vectors = transfer.net, transfer.vectors
    vector, alpha, emf = ports
    present = allowed(net.branch_when, places.states, len(net.elements))
    moved = present[:, transfer.toggles] != transfer.present[transfer.toggles]
    counts = moved.sum(axis=1)
    order = np.argsort(~moved, axis=1, kind="stable")
    events = np.array([len(item.vector) for item in held], np.int64)[places.event]
    wide = max(events.max(initial=0), 0)
    kept = np.zeros((len(places.event), wide), np.int64)
    kept_alpha, kept_emf = np.ones(kept.shape), np.zeros(kept.shape)
    for number in np.unique(places.event):
        item, mine = held[number], places.event == number
        kept[mine, : len(item.vector)] = item.vector
        kept_alpha[mine, : len(item.vector)] = item.alpha
        kept_emf[mine, : len(item.vector)] = item.emf
    sources = allowed(net.source_when, places.states, len(net.sources)).astype(float)
    sources -= net.sources_on(transfer.base.states).astype(float)
    size = counts + events
    by_size = np.argsort(size[group], kind="stable")
    watches = len(transfer.limits.at)
    for first in range(0, len(group), SOME):
        which = by_size[first : first + SOME]
        g = group[which]
        r, h = int(counts[g].max()), int(events[g].max(initial=0))
        toggle = order[g, :r]
        branch = transfer.toggles[toggle]
        on = present[g[:, None], branch]
        live = np.concatenate(
            [
                np.arange(r) < counts[g, None],
                np.arange(h) < events[g, None],
                np.ones((len(g), 2), bool),
            ],
            axis=1,
        )
        own = np.concatenate([kept[g, :h], vector[which]], axis=1)
        switch = vectors.switch[own]
        live[:, r:] &= (switch < 0) | present[g[:, None], np.maximum(switch, 0)]
        left = np.concatenate([vectors.count + watches + toggle, own], axis=1)
        right = np.concatenate([vectors.count + toggle, own], axis=1)
        diagonal = np.concatenate(
            [np.where(on, net.ohm[branch], 0.0), kept_alpha[g, :h], alpha[which]], axis=1
        )
        volts = np.concatenate(
            [np.where(on, net.emf[branch], 0.0), kept_emf[g, :h], emf[which]], axis=1
        )
        matrix = transfer.z[left[:, :, None], right[:, None, :]]
        matrix *= live[:, :, None] & live[:, None, :]
        reach = np.arange(left.shape[1])
        matrix[:, reach, reach] += np.where(live, diagonal, 1.0)
        change = sources[g]
        columns = vectors.count + len(transfer.toggles) + np.arange(change.shape[1])
        drive = transfer.z[left[:, :, None], np.array([-2, -1])]
        drive[..., 0] += np.einsum("mks,ms->mk", transfer.z[left[:, :, None], columns], change)
        drive[:, :r, 1] -= on & transfer.shape.battery[branch]
        drive *= live[..., None]
        drive[..., 0] -= np.where(live, volts, 0.0)
        y = np.linalg.solve(matrix, drive)
        yield Crowd(
            which=which,
            left=left,
            right=right,
            live=live,
            held=np.broadcast_to((reach >= r) & (reach < r + h), live.shape),
            matrix=matrix,
            y=y * live[..., None],
            present=present[g],
            change=change,
        )
