"""Ports read back as what they stand for, so that the oracles can write the circuit out in full.

The engine keeps a defect as numbers only. The table at the head of backprobe.circuit.ports says
what each form means; read backwards, a form that means nothing physical is an error here.
"""

from __future__ import annotations

from math import inf

from backprobe.circuit.net import Net
from backprobe.circuit.ports import Cases, Ports
from backprobe.kinds.records import Bridge, Change, Lift, Series
from oracles.one_at_a_time import Tap

Entries = list[tuple[int, float]]


def changes_of(net: Net, ports: Ports, cases: Cases, hypothesis: int) -> list[Change | Tap]:
    """The physical changes of one hypothesis. ValueError when a port makes no sense."""
    first, last = cases.start[hypothesis], cases.start[hypothesis + 1]
    found = [_change(net, ports, int(number)) for number in cases.ports[first:last]]
    return [change for change in found if change is not None]


def _change(net: Net, ports: Ports, number: int) -> Change | Tap | None:
    left = _entries(ports.left_at[number], ports.left[number])
    right = _entries(ports.right_at[number], ports.right[number])
    alpha, emf = float(ports.alpha[number]), float(ports.emf[number])
    volts = len(net.nodes) - 1
    if not left:
        if emf == 0.0:
            return None
        (place, size), = right  # fmt: skip
        if place < volts or alpha == 0.0:
            raise ValueError(f"port {number}: volts added to a node")
        return Lift(branch=net.elements[place - volts].name, emf=emf * size / alpha)
    if left != right:
        raise ValueError(f"port {number}: left and right differ")
    nodes = [(place, size) for place, size in left if place < volts]
    wires = [(place - volts, size) for place, size in left if place >= volts]
    if not nodes and len(wires) == 1 and wires[0][1] == 1.0:
        return Series(branch=net.elements[wires[0][0]].name, ohm=-1 / alpha if alpha else inf)
    if not wires:
        p = next((net.nodes[place + 1] for place, size in nodes if size > 0), net.nodes[0])
        n = next((net.nodes[place + 1] for place, size in nodes if size < 0), net.nodes[0])
        return Bridge(p=p, n=n, ohm=alpha, emf=emf)
    return _tap(net, nodes, wires, alpha)


def _tap(net: Net, nodes: Entries, wires: Entries, alpha: float) -> Tap:
    """A wire bare somewhere; what it touches is a node, or another bare wire."""
    ohm = alpha
    ends: dict[float, tuple[str, float]] = {}
    left_over = list(nodes)
    for number, size in wires:
        wire, sign = net.elements[number], 1.0 if size > 0 else -1.0
        far = net.node[wire.n] - 1
        if far >= 0:
            left_over.remove((far, sign))
        ohm -= abs(size)
        ends[sign] = (wire.name, 1.0 - abs(size) / wire.ohm)
    branch, t = ends[1.0]
    if -1.0 in ends:
        to, to_t = ends[-1.0]
        return Tap(branch=branch, t=t, to=to, to_t=to_t, ohm=ohm)
    body = next((net.nodes[place + 1] for place, _ in left_over), net.nodes[0])
    return Tap(branch=branch, t=t, to=body, ohm=ohm)


def _entries(at: object, value: object) -> Entries:
    pairs = zip(at, value, strict=True)  # type: ignore[call-overload]
    return sorted((int(place), float(size)) for place, size in pairs if place >= 0 and size)
