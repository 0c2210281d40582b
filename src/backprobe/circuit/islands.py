"""Opens that leave a piece of wire hanging on its leak alone, to full precision.

Where two opens stand in one path, what is left of C22 after the first is the leak of the piece
between them: 1e-9 S, the difference of two numbers of 1 S and more, and its digits are gone. The
sum of all that leaks out of the piece has no such difference. With w the network's answer to one
volt in the second open, and u = 1 on one side of it and 0 on the other,

    sum over nodes of u (gmin w + branch currents + port currents) = 0          (Kirchhoff)

holds for any u, and gives the current of the opened branch term by term.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from backprobe.circuit.net import GMIN, Floats, Ints
from backprobe.circuit.pair_solve import Defective, Solved
from backprobe.circuit.transfer import LOST, Pattern


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A solution without its branch currents: `volts` (nodes, f) with the reference node first,
    currents of the pattern's held ports `held` (h, f) and of the leading defect's port `lead`
    (f,)."""

    volts: Floats
    held: Floats
    lead: Floats

    def less(self, other: Field, times: Floats) -> Field:
        """The field minus so many times the other, whose port the leading one is."""
        return Field(
            volts=self.volts - other.volts * times,
            held=self.held - other.held * times,
            lead=times,
        )


def mended(d: Defective, pattern: Pattern, sol: Solved, lead: Ints, second: Ints) -> Solved:
    """Solved pairs with the opens that hang on leaks solved anew; the others as they are."""
    vectors = pattern.transfer.vectors
    branch = vectors.branch[pattern.ports]
    before = np.abs(pattern.transfer.z.diagonal()[pattern.ports]) * LOST

    def lost(at: Ints, who: Ints, left: Floats) -> Ints:
        opened = (branch[at] >= 0) & (d.alpha[who] == 0.0) & ~pattern.dead[at]
        return np.flatnonzero(opened & (np.abs(left) < before[at]))

    some = lost(sol.lead_at, lead, sol.own)
    if some.size:
        at, other = sol.lead_at[some], sol.second_at[some]
        none = np.full(len(at), pattern.transfer.vectors.empty)
        # A unit at the second port is a current of -1 through it, by the sign ports have.
        unit = replace(_answer(pattern, other), lead=-np.ones(len(at)))
        own, drive, forth = _cut(
            pattern,
            branch[at],
            (_answer(pattern, at), none),
            (_rest(pattern, len(at)), none),
            (unit, pattern.ports[other]),
        )
        c, alone = sol.c.copy(), sol.y1 + sol.c * sol.y2
        c[some] = forth / own
        alone[some] = drive / own
        far = sol.y2 * sol.pivot + sol.back * (sol.y1 + sol.c * sol.y2 - alone)
        pivot = sol.pivot + sol.back * (sol.c - c)
        y2 = far / pivot
        whole = sol.own.copy()
        whole[some] = own
        sol = replace(sol, own=whole, c=c, pivot=pivot, y2=y2, y1=alone - c * y2)
    some = lost(sol.second_at, second, sol.pivot)
    if some.size:
        first, at, c = sol.lead_at[some], sol.second_at[some], sol.c[some]
        alone = sol.y1[some] + c * sol.y2[some]
        near = _answer(pattern, first)
        answer = _answer(pattern, at).less(near, c)
        rest = _rest(pattern, len(at)).less(near, alone)
        pivot, y1, y2 = sol.pivot.copy(), sol.y1.copy(), sol.y2.copy()
        opened = (branch[first] >= 0) & (d.alpha[lead[some]] == 0.0)
        vector = pattern.ports[first]
        pivot[some], far = _cut(
            pattern,
            branch[at],
            (answer, vector),
            (rest, vector),
            opened=np.where(opened, branch[first], -1),
        )
        y2[some] = far / pivot[some]
        y1[some] = alone - c * y2[some]
        sol = replace(sol, pivot=pivot, y1=y1, y2=y2)
    return sol


def _answer(pattern: Pattern, at: Ints) -> Field:
    """The pattern's answer to one unit at some of its ports (f,)."""
    transfer = pattern.transfer
    nodes = len(transfer.net.nodes)
    full, into = transfer.full[: nodes - 1], pattern.into[:, at]
    volts = np.zeros((nodes, len(at)))
    volts[1:] = full[:, pattern.ports[at]] - full[:, pattern.right] @ into
    held = into[len(into) - len(pattern.held_here) :]
    return Field(volts=volts, held=held, lead=np.zeros(len(at)))


def _rest(pattern: Pattern, count: int) -> Field:
    """The pattern's solution, for `count` pairs."""
    transfer = pattern.transfer
    nodes, t = len(transfer.net.nodes), transfer
    source = t.vectors.count + len(t.toggles) + np.arange(len(pattern.change))
    full, flow = transfer.full[: nodes - 1], pattern.flow[:, 0]
    volts = full[:, -2] + full[:, source] @ pattern.change - full[:, pattern.right] @ flow
    volts = np.concatenate([np.zeros(1), volts])
    held = flow[len(flow) - len(pattern.held_here) :]
    return Field(
        volts=np.repeat(volts[:, None], count, axis=1),
        held=np.repeat(held[:, None], count, axis=1),
        lead=np.zeros(count),
    )


def _cut(
    pattern: Pattern,
    branch: Ints,
    answer: tuple[Field, Ints],
    rest: tuple[Field, Ints],
    *others: tuple[Field, Ints],
    opened: Ints | None = None,
) -> list[Floats]:
    """Currents (f,) of the branches being opened: in the answer to one volt there, in the
    solution without it, in other answers; each with the vectors (f,) of the port whose current it
    names. `opened` (f,): the branch the leading defect opens, -1 for none."""
    transfer, net = pattern.transfer, pattern.transfer.net
    count = len(branch)
    reach = np.arange(count)
    ends = [net.elements[b] for b in branch]
    volts = answer[0].volts
    top = volts[[net.node[e.p] for e in ends], reach]
    bottom = volts[[net.node[e.n] for e in ends], reach]
    middle = (top + bottom) / 2.0
    side = (volts > middle).astype(float) - (middle < 0.0)
    counts = np.repeat(net.present(pattern.states)[:, None], count, axis=1)
    counts[branch, reach] = False
    if opened is not None:
        counts[opened[opened >= 0], reach[opened >= 0]] = False
    held = pattern.held.vector[pattern.held_here]
    shut = transfer.vectors.branch[held[pattern.held.alpha[pattern.held_here] == 0.0]]
    counts[shut[shut >= 0]] = False
    across = transfer.shape.leaving @ side
    weight = np.where(counts, across, 0.0) / np.where(net.ohm > 0.0, net.ohm, np.inf)[:, None]
    live = net.sources_on(pattern.states)
    fed = sum(
        (
            source.amps * (side[net.node[source.n]] - side[net.node[source.p]])
            for source, on in zip(net.sources, live)
            if on
        ),
        start=np.zeros(count),
    )
    result = []
    still, none = np.zeros((1, 1)), np.zeros(count)
    for (field, lead), emf, given in (
        (answer, still, none),
        (rest, net.emf[:, None], fed),
        *((other, still, none) for other in others),
    ):
        at_nodes, at_branches = _injected(pattern, field, held, lead)
        drop = transfer.shape.row @ field.volts[1:] + at_branches - emf
        leaving = GMIN * (side * field.volts)[1:].sum(axis=0) + (side * at_nodes).sum(axis=0)
        result.append((given - leaving - (weight * drop).sum(axis=0)) / across[branch, reach])
    return result


def _injected(pattern: Pattern, field: Field, held: Ints, lead: Ints) -> tuple[Floats, Floats]:
    """What the ports' currents take out of every node (nodes, f), and add to the volts of every
    branch (B, f)."""
    net, vectors = pattern.transfer.net, pattern.transfer.vectors
    nodes = len(net.nodes)
    total = np.zeros((nodes + len(net.elements), len(lead)))
    reach = np.arange(len(lead))
    for vector, current in zip(held, field.held):
        for at, value in zip(vectors.right_at[vector], vectors.right[vector]):
            total[at + 1] += value * current if at >= 0 else 0.0
    for at, value in zip(vectors.right_at[lead].T, vectors.right[lead].T):
        here = at >= 0
        total[at[here] + 1, reach[here]] += value[here] * field.lead[here]
    return total[:nodes], total[nodes:]
