"""A defect before it joins the arrays, and the ports physical changes turn into."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf

from backprobe.circuit.net import Net
from backprobe.circuit.ports import Port
from backprobe.defects.model import Atom, RepairGroup
from backprobe.kinds.records import Bridge, Change, Lift, Value

LEAST_OHM = 1e-3
"""A dead short is given this much, ohm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Severity:
    """One hypothesis of a sketch: its ports, its resistance, its spread, its weight."""

    ports: tuple[Port, ...]
    ohm: float
    spread: float
    weight: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sketch:
    """One atom with its severities and the group it is mended with."""

    atom: Atom
    group: RepairGroup
    severities: tuple[Severity, ...]


def series(net: Net, branch: str, ohm: float) -> Port:
    """`ohm` added to a branch; inf opens it. Zero is a port without effect."""
    place = ((net.current(branch), 1.0),)
    if ohm == 0.0:
        return Port(left=(), right=place, alpha=1.0)
    return Port(left=place, right=place, alpha=0.0 if ohm == inf else -1.0 / ohm)


def bridge(net: Net, p: str, n: str, ohm: float, emf: float = 0.0) -> Port:
    """Two nodes joined through `ohm`; inf is a port without effect."""
    pair = ((net.voltage(p), 1.0), (net.voltage(n), -1.0))
    if ohm == inf:
        return Port(left=(), right=pair, alpha=1.0)
    return Port(left=pair, right=pair, alpha=max(LEAST_OHM, ohm), emf=emf)


def lift(net: Net, branch: str, volts: float) -> Port:
    """Volts added to a branch's emf."""
    return Port(left=(), right=((net.current(branch), 1.0),), alpha=1.0, emf=volts)


def tapped(
    net: Net, wire: str, t: float, ohm: float, *, body: str = "", other: tuple[str, float] = ("", 0)
) -> Port:
    """A wire bare at the fraction t from its end a, touching a body or another bare wire."""
    left, own = _tap(net, wire, t, 1.0)
    if body:
        far: tuple[tuple[int, float], ...] = ((net.voltage(body), -1.0),)
        rest = 0.0
    else:
        far, rest = _tap(net, *other, -1.0)
    entries = left + far
    return Port(left=entries, right=entries, alpha=max(LEAST_OHM, ohm) + own + rest)


def _tap(net: Net, wire: str, t: float, sign: float) -> tuple[tuple[tuple[int, float], ...], float]:
    number = net.branch[wire]
    element = net.elements[number]
    beyond = (1.0 - t) * element.ohm
    return ((net.voltage(element.n), sign), (net.current(wire), sign * beyond)), beyond


def port_of(
    net: Net,
    change: Change,
    branch: Callable[[str], str],
    node: Callable[[str], str],
    number: Callable[[Value], float],
) -> Port | None:
    """The port of a kind's change; None when the branch it speaks of is not in the network."""
    if isinstance(change, Bridge):
        return bridge(net, node(change.p), node(change.n), number(change.ohm), number(change.emf))
    name = branch(change.branch)
    if name not in net.branch:
        return None
    if isinstance(change, Lift):
        return lift(net, name, number(change.emf))
    return series(net, name, number(change.ohm))


def single(ports: Sequence[Port]) -> tuple[Severity, ...]:
    """A defect that knows no degrees."""
    return (Severity(ports=tuple(ports), ohm=0.0, spread=1.0, weight=1.0),)
