"""A small circuit on the bench: written as a list, solved by the product's own engine.

    circuit = Bench(battery("0", "1", 9.0), resistor("R1", "1", "2", 100.0), ...)
    circuit.volts("1", "2"), circuit.amps("R1"), circuit.volts("1", "2", opened("R2"))

Node "0" is the reference. Changes are physical changes in the words of kinds.records; each is put
to the engine as one port, so a faulted reading goes the way every defect goes.
"""

from __future__ import annotations

from math import isinf

import numpy as np

from backprobe.circuit.base import Base, factorise
from backprobe.circuit.net import Element, Net, Source, build_net
from backprobe.circuit.ports import Cases, Port, Ports, read, solve
from backprobe.kinds.records import Bridge, Change, Lift, Series


def resistor(name: str, p: str, n: str, ohm: float) -> Element:
    return Element(name=name, p=p, n=n, ohm=ohm)


def battery(minus: str, plus: str, volts: float, ohm: float = 0.0, name: str = "E") -> Element:
    """A source with v(plus) - v(minus) = volts + ohm i, i from plus through it to minus."""
    return Element(name=name, p=plus, n=minus, emf=volts, ohm=ohm, battery=True)


def opened(branch: str) -> Series:
    return Series(branch=branch, ohm=float("inf"))


def shorted(p: str, n: str, ohm: float = 0.0) -> Bridge:
    return Bridge(p=p, n=n, ohm=ohm)


class Bench:
    """A circuit of elements and its engine."""

    def __init__(self, *elements: Element, sources: tuple[Source, ...] = ()) -> None:
        self.net: Net = build_net(elements, sources=sources, reference="0")
        self.base: Base = factorise(self.net, self.net.resting)

    def port(self, change: Change) -> Port:
        """A change as the engine's port."""
        match change:
            case Series(branch=name, ohm=float() | int() as ohm):
                at = ((self.net.current(name), 1.0),)
                alpha = 0.0 if isinf(ohm) else -np.inf if ohm == 0 else -1.0 / ohm
                return Port(left=at, right=at, alpha=alpha)
            case Bridge(p=p, n=n, ohm=float() | int() as ohm, emf=float() | int() as emf):
                ends = ((self.net.voltage(p), 1.0), (self.net.voltage(n), -1.0))
                return Port(left=ends, right=ends, alpha=ohm, emf=emf)
            case Lift(branch=name, emf=float() | int() as emf):
                at = ((self.net.current(name), 1.0),)
                return Port(left=(), right=at, alpha=1.0, emf=emf)
        raise TypeError(change)

    def _read(self, vector: list[tuple[int, float]], changes: tuple[Change, ...]) -> float:
        ports = Ports.of([self.port(change) for change in changes])
        cases = Cases.of([range(len(changes))])
        (block,) = solve(self.base, ports, cases, np.array([0]))
        at = np.array([[place for place, _ in vector]])
        value = np.array([[size if place >= 0 else 0.0 for place, size in vector]])
        seen, _ = read(self.base, ports, block, at, value)
        return float(seen[0, 0, 0])

    def volts(self, p: str, n: str = "0", *changes: Change) -> float:
        """v(p) - v(n)."""
        ends = [(self.net.voltage(p), 1.0), (self.net.voltage(n), -1.0)]
        return self._read(ends, changes)

    def amps(self, branch: str, *changes: Change) -> float:
        """The current of a branch, p to n."""
        return self._read([(self.net.current(branch), 1.0)], changes)
