"""From any port and turn to any other, and to what limits watch: one dense table for compiled code.

A turn is a branch switched, or a current source turned on or off, away from the table's own pattern
of states; it is a port as any defect is (circuit.transfer). With z = l' M^-1 r the table of
another pattern is, D being what is turned and C = alpha + z[D, D],

    z' = z - z[:, D] C^-1 z[D, :]      z'[D, :] = C^-1 z[D, :]      z'[:, D] = -z[:, D] C^-1

and z'[D, D] = C^-1: a turned port turned back has a current of none, so its alpha and emf are 0
there (principal pivot transform; Tsatsomeros, Linear Algebra and its Applications 307, 2000).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from backprobe.circuit.net import Flags, Floats, Ints, Net, States
from backprobe.circuit.transfer import Transfer


class Table(NamedTuple):
    """One pattern of states seen from its n things: the ports' vectors, then the turns. `z` (n, n) and
    `turned`, the same with rows and columns exchanged, `own` (n,) its diagonal; `watch` (n, K): what one unit of a thing's
    current takes off what limits watch, and `watched` (K, n), the same; `none` (n, 0); `level` (K,); `drive` (n, 2): what drives a thing, and its
    change per battery volt; of the turns, `there` in this pattern, and `alpha`, `emf`, `swing`."""

    z: Floats
    turned: Floats
    own: Floats
    watch: Floats
    watched: Floats
    none: Floats
    level: Floats
    drive: Floats
    there: Flags
    alpha: Floats
    emf: Floats
    swing: Floats


class Conditions(NamedTuple):
    """When turns are there: turn t where all of `begin[t]`:`begin[t + 1]` allow, by a bit of `mask`
    for every word of `state`."""

    begin: Ints
    state: Ints
    mask: Ints


def table_of(transfer: Transfer, watched: Ints) -> Table:
    """The table of a transfer's own pattern; `watched` (K,): limits that watch different things."""
    t, net = transfer, transfer.net
    ports, toggles = t.vectors.count, len(t.toggles)
    sources = len(net.sources)
    things, many = ports + toggles, ports + toggles + sources
    z, drive = np.empty((many, many)), np.zeros((many, 2))
    z[things:] = 0.0
    t.read(t.vectors.left_at, t.vectors.left, z[:ports], drive[:ports])
    t.read_switches(z[ports:things], drive[ports:things])
    watch, level = np.empty((len(watched), many)), np.empty((len(watched), 2))
    t.read(t.limits.at[watched], t.limits.value[watched], watch, level)
    here = t.present[t.toggles]
    on = net.sources_on(t.base.states)
    none = np.zeros(sources)
    return Table(
        z=z,
        turned=np.ascontiguousarray(z.T),
        own=z.diagonal().copy(),
        watch=np.ascontiguousarray(watch.T),
        watched=watch,
        none=np.zeros((many, 0)),
        level=level[:, 0].copy(),
        drive=drive,
        there=np.concatenate([here, on]),
        alpha=np.concatenate([np.where(here, 0.0, net.ohm[t.toggles]), none + 1.0]),
        # A source turned on is a current of -1 through its port, whatever drives it.
        emf=np.concatenate([np.where(here, 0.0, net.emf[t.toggles]), np.where(on, -1.0, 1.0)]),
        swing=np.concatenate([np.where(~here & t.shape.battery[t.toggles], 1.0, 0.0), none]),
    )


def conditions_of(net: Net, toggles: Ints) -> Conditions:
    """When the toggles (T,) and then the sources are there."""
    place = np.full(len(net.elements), -1, np.int64)
    place[toggles] = np.arange(len(toggles))
    owner, state, mask = (
        np.concatenate(parts) for parts in zip(net.branch_when, net.source_when, strict=True)
    )
    owner[: len(net.branch_when[0])] = place[net.branch_when[0]]
    owner[len(net.branch_when[0]) :] += len(toggles)
    order = np.argsort(owner, kind="stable")
    begin = np.searchsorted(owner[order], np.arange(len(toggles) + len(net.sources) + 1))
    return Conditions(begin.astype(np.int64), state[order], mask[order])


SOUND = 1e6
"""Condition of what is turned at once up to which a table is swept: beyond, three things that leave
each other hanging on leaks lose so many digits that what hangs there reads as anything."""


def sound(table: Table, turns: Ints) -> bool:
    """Whether turning these leaves a table its digits."""
    at = len(table.z) - len(table.there) + turns
    core = table.z[np.ix_(at, at)] + np.diag(table.alpha[turns])
    return not turns.size or bool(np.linalg.cond(core) < SOUND)


def swept(table: Table, turns: Ints, room: tuple[Floats, Floats]) -> Table:
    """The table of another pattern, which has these `turns` turned; `room`: (n, n) twice, for it to
    stand in."""
    if not turns.size:
        return table
    at = len(table.z) - len(table.there) + turns
    there, alpha = table.there.copy(), table.alpha.copy()
    emf, swing = table.emf.copy(), table.swing.copy()
    into = np.linalg.inv(table.z[np.ix_(at, at)] + np.diag(alpha[turns]))
    back = into @ table.z[at]
    forth = table.turned[at]
    z, turned = room
    for whole, plain, one, two in ((z, table.z, forth, back), (turned, table.turned, back, forth)):
        np.matmul(one.T, two, out=whole)
        np.subtract(plain, whole, out=whole)
    out = -into.T @ forth
    z[at], turned[at] = back, out
    z[:, at], turned[:, at] = out.T, back.T
    z[np.ix_(at, at)], turned[np.ix_(at, at)] = into, into.T
    flow = into @ (table.drive[at] - np.stack([emf[turns], swing[turns]], axis=1))
    drive = table.drive - forth.T @ flow
    drive[at] = flow
    watch = table.watch - back.T @ table.watch[at]
    watch[at] = -into.T @ table.watch[at]
    there[turns] ^= True
    alpha[turns] = emf[turns] = swing[turns] = 0.0
    return Table(
        z=z,
        turned=turned,
        own=z.diagonal().copy(),
        watch=watch,
        watched=np.ascontiguousarray(watch.T),
        none=table.none,
        level=table.level - flow[:, 0] @ table.watch[at],
        drive=drive,
        there=there,
        alpha=alpha,
        emf=emf,
        swing=swing,
    )


def turned_between(table: Table, cond: Conditions, states: States) -> Ints:
    """The turns that lead from a table's pattern to another."""
    against = ((cond.mask >> states[cond.state]) & 1) == 0
    owner = np.repeat(np.arange(len(table.there)), np.diff(cond.begin))
    there = np.bincount(owner, weights=against, minlength=len(table.there)) == 0
    return np.flatnonzero(there != table.there)
