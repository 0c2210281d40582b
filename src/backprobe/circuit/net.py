"""The network: nodes, branches, discrete states and the moves between them, as flat arrays.

Unknowns are x = [v; i]: the voltage of every node but the reference (battery minus), then the
current of every branch. The equations are

    at every node    gmin v + sum of currents leaving it = injected current
    at every branch  (row . v) - ohm i = emf

(modified nodal analysis, Ho, Ruehli and Brennan 1975, with one current per branch). A branch that
is absent in a state has its column and row emptied and reads -i = 0. Row and column differ where
a regulator senses one place and takes its current from another.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import inf
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from backprobe.circuit.compiled import compiled

REFERENCE = "battery minus"
GMIN = 1e-9
"""Leakage of every node to the reference, S: a floating pin then reads 0 V."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
States = NDArray[np.int8]
Flags = NDArray[np.bool_]
Input = Literal["key", "operated", "mated"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StateOf:
    """A discrete state of a part or pin. `driven`: "key" takes the situation's key; "operated"
    when `owner` is commanded, or by `keys` and `needs`; "mated" is "no" while one of
    `parted_by` is unplugged or pulled; "" when the circuit moves it."""

    owner: str
    name: str
    words: tuple[str, ...]
    rest: str
    driven: Input | Literal[""] = ""
    keys: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    parted_by: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """A branch before it becomes rows and columns. `when`: (state number, allowed words)."""

    name: str
    p: str
    n: str
    ohm: float = 0.0
    emf: float = 0.0
    when: tuple[tuple[int, tuple[str, ...]], ...] = ()
    row: tuple[tuple[str, float], ...] = ()
    column: tuple[tuple[str, float], ...] = ()
    contact: bool = False
    warms: bool = False
    battery: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A current source of `amps`, out of node p and into node n."""

    name: str
    p: str
    n: str
    amps: float
    when: tuple[tuple[int, tuple[str, ...]], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """A move of a circuit-set state (kinds.records.Move), with names resolved.

    Reads the voltage from node p to n, or the current of `branch` when that is given.
    """

    state: int
    leaves: str
    to: str
    p: str = ""
    n: str = ""
    branch: str = ""
    above: float = inf
    below: float = -inf
    size: bool = False
    pace: int = 2
    lasting: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Net:
    """A network ready to be factorised. N = nodes - 1 + branches unknowns.

    `row` (B, nodes) and `column` (nodes, B) hold the coefficients with the reference node first;
    `node` and `branch` find numbers by name; `alias` maps printed names to node names.
    """

    nodes: tuple[str, ...]
    elements: tuple[Element, ...]
    sources: tuple[Source, ...]
    states: tuple[StateOf, ...]
    shifts: tuple[Shift, ...]
    node: Mapping[str, int]
    branch: Mapping[str, int]
    state: Mapping[tuple[str, str], int]
    alias: Mapping[str, str]
    ohm: Floats
    emf: Floats
    row: csr_array
    column: csr_array
    branch_when: tuple[Ints, Ints, Ints]
    source_when: tuple[Ints, Ints, Ints]
    resting: States = field(repr=False)

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return len(self.nodes) - 1 + len(self.elements)

    def voltage(self, name: str) -> int:
        """Index of a node's voltage in x by node or printed name, -1 for the reference.
        KeyError when there is no such node."""
        return self.node[self.alias.get(name, name)] - 1

    def current(self, name: str) -> int:
        """Index of a branch's current in x. KeyError when there is no such branch."""
        return len(self.nodes) - 1 + self.branch[name]

    def word(self, state: int, word: str) -> int:
        """Number of a state's word."""
        return self.states[state].words.index(word)

    def present(self, states: States) -> Flags:
        """(B,) which branches conduct in a state vector."""
        return allowed(self.branch_when, states[None], len(self.elements)).ravel()

    def sources_on(self, states: States) -> Flags:
        """Which current sources are on in a state vector."""
        return allowed(self.source_when, states[None], len(self.sources)).ravel()


def build_net(
    elements: Sequence[Element],
    *,
    sources: Sequence[Source] = (),
    states: Sequence[StateOf] = (),
    shifts: Sequence[Shift] = (),
    alias: Mapping[str, str] | None = None,
    reference: str = REFERENCE,
) -> Net:
    """A Net from its elements. Nodes are numbered in order of appearance, `reference` first.

    ValueError names a branch that stands twice.
    """
    names: dict[str, int] = {reference: 0}
    for element in elements:
        for name in (element.p, element.n, *(n for n, _ in element.row + element.column)):
            names.setdefault(name, len(names))
    for source in sources:
        names.setdefault(source.p, len(names))
        names.setdefault(source.n, len(names))
    branch: dict[str, int] = {}
    for number, element in enumerate(elements):
        if element.name in branch:
            raise ValueError(f"branch {element.name!r} stands twice")
        branch[element.name] = number
    size = len(elements)
    rows: list[tuple[int, int, float]] = []
    columns: list[tuple[int, int, float]] = []
    for b, element in enumerate(elements):
        both = ((element.p, 1.0), (element.n, -1.0))
        rows += [(b, names[node], value) for node, value in element.row or both]
        columns += [(names[node], b, value) for node, value in element.column or both]
    return Net(
        nodes=tuple(names),
        elements=tuple(elements),
        sources=tuple(sources),
        states=tuple(states),
        shifts=tuple(shifts),
        node=names,
        branch=branch,
        state={(state.owner, state.name): number for number, state in enumerate(states)},
        alias=dict(alias or {}),
        ohm=np.array([element.ohm for element in elements], float),
        emf=np.array([element.emf for element in elements], float),
        row=_sparse(rows, (size, len(names))),
        column=_sparse(columns, (len(names), size)),
        branch_when=_conditions([element.when for element in elements], states),
        source_when=_conditions([source.when for source in sources], states),
        resting=np.array([s.words.index(s.rest) for s in states], np.int8),
    )


def _sparse(entries: list[tuple[int, int, float]], shape: tuple[int, int]) -> csr_array:
    i, j, value = zip(*entries, strict=True) if entries else ((), (), ())
    return csr_array((np.array(value, float), (np.array(i, int), np.array(j, int))), shape=shape)


def _conditions(
    whens: Sequence[tuple[tuple[int, tuple[str, ...]], ...]], states: Sequence[StateOf]
) -> tuple[Ints, Ints, Ints]:
    """Conditions as (owner number, state number, bit mask of allowed words)."""
    owner, state, mask = [], [], []
    for number, when in enumerate(whens):
        for which, words in when:
            owner.append(number)
            state.append(which)
            mask.append(sum(1 << states[which].words.index(word) for word in words))
    return np.array(owner, np.int64), np.array(state, np.int64), np.array(mask, np.int64)


def allowed(when: tuple[Ints, Ints, Ints], states: States, size: int) -> Flags:
    """(g, size) whether each owner's conditions hold in state vectors (g, S)."""
    result = np.ones((len(states), size), bool)
    _denied(*when, np.ascontiguousarray(states), result)
    return result


@compiled
def _denied(owner: Ints, state: Ints, mask: Ints, states: States, result: Flags) -> None:
    """Whose conditions do not hold."""
    for g in range(len(states)):
        for c in range(len(owner)):
            if not (mask[c] >> states[g, state[c]]) & 1:
                result[g, owner[c]] = False
