"""ngspice in its shared library, one deck, many defects: the fastest batch found.

The healthy circuit in its settled states is a deck of plain resistors. Defects are conditional
sources in it, one per port, each live while an index stands at its number; a DC sweep of the index
then solves one defect per point without setting the circuit up again, and a nested sweep of two
indices solves all pairs of two blocks. What was tried, at 400 nodes, microseconds per pair:

    alter and op in a control loop                                      over 1000
    both indices voltages (three iterations a point: sources see them one iteration late)    57
    the inner index the temperature, which sources see at once (two iterations a point)      42

The sources are evaluated at every point, so a deck holds few of them and what must be solved is
spread over many decks: 24 defects by 24 for pairs, 48 for singles. A leak to ground that the
options put on every diagonal costs nothing; 400 resistors would. No consequences, no meter.
"""

from __future__ import annotations

import ctypes
from collections.abc import Sequence
from ctypes import POINTER, c_bool, c_char_p, c_double, c_int, c_short, c_void_p
from ctypes.util import find_library
from itertools import pairwise
from math import isinf

import numpy as np
from numpy.typing import NDArray

from backprobe.kinds.records import Bridge, Change, Lift, Series
from oracles.one_at_a_time import Tap
from oracles.plain import Element, Plain

Changes = Sequence[Change | Tap]
Floats = NDArray[np.float64]

MISSING = "the shared library of ngspice is not installed (apt-get install libngspice0)"
OPTIONS = ".options gmin=1e-20 gshunt=1e-9 noacct nomod"


class _VectorInfo(ctypes.Structure):
    _fields_ = (
        ("name", c_char_p),
        ("type", c_int),
        ("flags", c_short),
        ("real", POINTER(c_double)),
        ("complex", c_void_p),
        ("length", c_int),
    )


class Simulator:
    """ngspice as a library. One circuit at a time."""

    def __init__(self, path: str) -> None:
        self._lib = ctypes.CDLL(path)
        self._lib.ngGet_Vec_Info.restype = POINTER(_VectorInfo)
        self._lib.ngGet_Vec_Info.argtypes = [c_char_p]
        said = ctypes.CFUNCTYPE(c_int, c_char_p, c_int, c_void_p)
        left = ctypes.CFUNCTYPE(c_int, c_int, c_bool, c_bool, c_int, c_void_p)
        self.heard: list[str] = []
        self._callbacks = (said(self._hear), said(lambda *_: 0), left(lambda *_: 0))
        print_, status, exit_ = self._callbacks
        none = c_void_p(None)
        self._lib.ngSpice_Init(print_, status, exit_, none, none, none, none)

    def _hear(self, text: bytes, _number: int, _data: object) -> int:
        self.heard.append(text.decode(errors="replace"))
        return 0

    def load(self, deck: Sequence[str]) -> None:
        """Take in a deck, one string per line, `.end` last."""
        lines = (c_char_p * (len(deck) + 1))(*[line.encode() for line in deck], None)
        if self._lib.ngSpice_Circ(lines):
            raise RuntimeError("\n".join(self.heard[-20:]))

    def run(self, command: str) -> None:
        """One command. RuntimeError with what was said when it fails."""
        if self._lib.ngSpice_Command(c_char_p(command.encode())):
            raise RuntimeError("\n".join(self.heard[-20:]))

    def vector(self, name: str) -> Floats:
        """A vector of the last analysis, copied."""
        info = self._lib.ngGet_Vec_Info(name.encode())
        if not info:
            raise KeyError(name)
        found = info.contents
        return np.ctypeslib.as_array(found.real, (found.length,)).copy()

    def drop(self) -> None:
        """Forget results and circuit."""
        self.run("destroy all")
        self.run("remcirc")
        self.heard.clear()


def simulator() -> Simulator | None:
    """Ngspice in its shared library, when it is there."""
    path = find_library("ngspice")
    return Simulator(path) if path else None


class Deck:
    """The deck of a circuit with conditional defects. `first` and `second` are defects in two
    blocks, numbered from 1; index 0 is healthy. `second` empty: one index."""

    def __init__(
        self, circuit: Plain, first: Sequence[Changes], second: Sequence[Changes] = ()
    ) -> None:
        self.node = {name: f"n{k}" for k, name in enumerate(circuit.nodes)}
        self.node[circuit.ground] = "0"
        self.first, self.second = len(first), len(second)
        self._tapped: dict[str, set[float]] = {}
        for change in [c for changes in (*first, *second) for c in changes]:
            if isinstance(change, Tap):
                self._tapped.setdefault(change.branch, set()).add(change.t)
                if change.to_t is not None:
                    self._tapped.setdefault(change.to, set()).add(change.to_t)
        self._elements = {element.name: element for element in circuit.elements}
        self._number = {name: k for k, name in enumerate(self._elements)}
        self._altered: dict[str, list[tuple[str, float, float]]] = {}
        bridges = []
        for index, block in (("temper", first), ("V(b)", second)):
            for number, changes in enumerate(block, 1):
                for change in changes:
                    bridges += self._conditional(f"abs({index}-{number})<0.5", change)
        self.lines = ["* conditional defects"]
        touched = {node for e in circuit.elements for node, _ in e.left + e.right}
        for node in sorted(set(circuit.nodes) - touched - {circuit.ground}):
            self.lines.append(f"Rl{self.node[node]} {self.node[node]} 0 1e9")
        for element in circuit.elements:
            self.lines += self._element(element)
        for k, source in enumerate(circuit.sources):
            p, n = self.node[source.p], self.node[source.n]
            self.lines.append(f"Ij{k} {p} {n} DC {source.amps:.17g}")
        self.lines += [f"Bt{k} {line}" for k, line in enumerate(bridges)]
        if second:
            self.lines.append("Vb b 0 DC 0")

    @property
    def points(self) -> int:
        """Solves of one sweep."""
        return self.first * max(1, self.second)

    def ready(self, saved: Sequence[str]) -> list[str]:
        """The lines of the deck, with the nodes to be kept."""
        sweep = f".dc TEMP 1 {self.first} 1"
        if self.second:
            sweep += f" Vb 1 {self.second} 1"
        keep = ".save " + " ".join(f"v({self.node[name]})" for name in saved)
        return [*self.lines, sweep, keep, OPTIONS, ".end"]

    def _middle(self, wire: str, t: float) -> str:
        return f"t{self._number[wire]}_{sorted(self._tapped[wire]).index(t)}"

    def _element(self, element: Element) -> list[str]:
        k = self._number[element.name]
        p, n = self.node[element.p], self.node[element.n]
        if not element.ordinary:
            return self._controlled(k, element)
        if element.ohm <= 0.0:
            return [f"V{k} {p} {n} DC {element.emf:.17g}"]
        places = sorted(self._tapped.get(element.name, ()))
        nodes = [p, *(self._middle(element.name, t) for t in places), n]
        ends = [0.0, *places, 1.0]
        ohms = [max(1e-9, element.ohm * (u - t)) for t, u in pairwise(ends)]
        lines = [f"R{k}_{j} {nodes[j]} {nodes[j + 1]} {ohm:.17g}" for j, ohm in enumerate(ohms)]
        p, ohm = nodes[-2], ohms[-1]
        if element.name in self._altered:
            text = _amps(p, n, 1.0 / ohm, element.emf)
            for live, more, emf in reversed(self._altered[element.name]):
                kept = 0.0 if isinf(more) else 1.0 / (ohm + more)
                text = f"{live} ? {_amps(p, n, kept, element.emf + emf)} : ({text})"
            return [*lines[:-1], f"B{k} {p} {n} I='{text}'"]
        if element.emf:
            lines.append(f"I{k} {n} {p} DC {element.emf / ohm:.17g}")
        return lines

    def _controlled(self, k: int, element: Element) -> list[str]:
        """Row and column apart: the current is the voltage of a node of its own."""
        lines = [f"I{k}e i{k} 0 DC {-element.emf:.17g}"]
        if element.ohm:
            lines.append(f"G{k}r i{k} 0 i{k} 0 {-element.ohm:.17g}")
        for j, (name, size) in enumerate(element.left):
            lines.append(f"G{k}v{j} i{k} 0 {self.node[name]} 0 {size:.17g}")
        for j, (name, size) in enumerate(element.right):
            lines.append(f"G{k}i{j} {self.node[name]} 0 i{k} 0 {size:.17g}")
        return lines

    def _conditional(self, live: str, change: Change | Tap) -> list[str]:
        """A source for what joins two places; what lies in a branch is written with it."""
        match change:
            case Tap(branch=wire, t=t, to=to, to_t=to_t, ohm=ohm):
                p = self._middle(wire, t)
                n = self.node[to] if to_t is None else self._middle(to, to_t)
                return [f"{p} {n} I='{live} ? {_amps(p, n, 1 / max(ohm, 1e-4), 0.0)} : 0'"]
            case Bridge(p=p, n=n, ohm=float() | int() as ohm, emf=float() | int() as emf):
                p, n, siemens = self.node[p], self.node[n], 1 / max(float(ohm), 1e-4)
                return [f"{p} {n} I='{live} ? {_amps(p, n, siemens, float(emf))} : 0'"]
            case Series(branch=branch, ohm=float() | int() as ohm):
                self._altered.setdefault(branch, []).append((live, float(ohm), 0.0))
                return []
            case Lift(branch=branch, emf=float() | int() as emf):
                self._altered.setdefault(branch, []).append((live, 0.0, float(emf)))
                return []
        raise TypeError(change)


def _amps(p: str, n: str, siemens: float, emf: float) -> str:
    """Current from p to n as ngspice writes it."""
    if not siemens or p == n:
        return "0"
    volts = f"V({n})*-1" if p == "0" else f"V({p})" if n == "0" else f"V({p},{n})"
    return f"({volts}-({emf:.17g}))*{siemens:.17g}" if emf else f"{volts}*{siemens:.17g}"
