"""A circuit as a plain list of elements: what the oracles solve. No engine code is used here.

v(p) - v(n) = emf + ohm * i for an ordinary element; an element with a `row` has the sum
coefficient * v(node) on the left instead, and its current leaves each node of `column` with the
stated coefficient. Nodes leak to the ground node through `leak` siemens. SI units.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import isinf

from backprobe.kinds.records import Bridge, Change, Lift, Series

Terms = tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """A two-terminal element, or with `row` and `column` a controlled one. V, ohm."""

    name: str
    p: str
    n: str
    ohm: float = 0.0
    emf: float = 0.0
    row: Terms = ()
    column: Terms = ()

    @property
    def left(self) -> Terms:
        """The nodes whose voltages its equation sums."""
        return self.row or ((self.p, 1.0), (self.n, -1.0))

    @property
    def right(self) -> Terms:
        """The nodes its current leaves."""
        return self.column or ((self.p, 1.0), (self.n, -1.0))

    @property
    def ordinary(self) -> bool:
        """True for a resistor with an emf, both of them between p and n."""
        return not self.row and not self.column


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A current source: `amps` out of node p, into node n."""

    name: str
    p: str
    n: str
    amps: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Plain:
    """A circuit in one set of states. `nodes` includes the ground node; `leaks` are those that
    leak to it (all but the ground when None)."""

    ground: str
    nodes: tuple[str, ...]
    elements: tuple[Element, ...]
    sources: tuple[Source, ...] = ()
    leak: float = 1e-12
    leaks: frozenset[str] | None = None

    def leak_at(self, node: str) -> float:
        """Siemens from a node to ground."""
        if node == self.ground or (self.leaks is not None and node not in self.leaks):
            return 0.0
        return self.leak

    def changed(self, changes: Iterable[Change]) -> Plain:
        """The circuit after physical changes: an infinite series resistance removes the element,
        a bridge is one more resistor. A change of an absent element changes nothing."""
        elements = {element.name: element for element in self.elements}
        for count, change in enumerate(changes):
            match change:
                case Series(branch=name, ohm=ohm):
                    if name in elements and isinf(_number(ohm)):
                        del elements[name]
                    elif name in elements:
                        old = elements[name]
                        elements[name] = replace(old, ohm=old.ohm + _number(ohm))
                case Lift(branch=name, emf=emf):
                    if name in elements:
                        old = elements[name]
                        elements[name] = replace(old, emf=old.emf + _number(emf))
                case Bridge(p=p, n=n, ohm=ohm, emf=emf):
                    if not isinf(_number(ohm)):
                        name = f"bridge {count}"
                        elements[name] = Element(
                            name=name, p=p, n=n, ohm=_number(ohm), emf=_number(emf)
                        )
        return replace(self, elements=tuple(elements.values()))


def _number(value: object) -> float:
    assert isinstance(value, int | float), f"{value!r} is not resolved to a number"
    return float(value)
