"""Seeded small machines straight as elements: fuses, relays, diodes, a 5 V regulator, loads.

Invented, and denser in discrete states than a real harness: made to upset a settling loop.
"""

from __future__ import annotations

from math import inf

import numpy as np

from backprobe.circuit.net import Element, Net, Shift, Source, StateOf, build_net
from backprobe.circuit.ports import Port
from backprobe.kinds.records import Bridge, Change, Lift, Series
from oracles.one_at_a_time import Tap

Changes = tuple[Change | Tap, ...]


class Builder:
    """Collects elements, states and shifts."""

    def __init__(self) -> None:
        self.elements: list[Element] = []
        self.sources: list[Source] = []
        self.states: list[StateOf] = []
        self.shifts: list[Shift] = []
        self.wires: list[str] = []

    def net(self) -> Net:
        return build_net(
            self.elements, sources=self.sources, states=self.states, shifts=self.shifts,
            reference="0",
        )  # fmt: skip

    def wire(self, p: str, n: str, ohm: float = 0.02) -> None:
        name = f"wire {len(self.wires)}"
        self.wires.append(name)
        self.elements.append(Element(name=name, p=p, n=n, ohm=ohm, warms=True))

    def state(self, owner: str, name: str, *words: str, driven: str = "") -> int:
        self.states.append(
            StateOf(owner=owner, name=name, words=words, rest=words[0], driven=driven)  # type: ignore[arg-type]
        )
        return len(self.states) - 1

    def fuse(self, name: str, p: str, n: str, amps: float) -> None:
        k = self.state(name, "link", "whole", "blown")
        link = f"{name}/link"
        self.elements.append(Element(name=link, p=p, n=n, ohm=0.08 / amps, when=((k, ("whole",)),)))
        self.shifts.append(
            Shift(
                state=k, leaves="whole", to="blown", branch=link, above=amps, size=True, pace=1,
                lasting=True,
            )
        )  # fmt: skip

    def relay(self, name: str, coil: tuple[str, str], contact: tuple[str, str]) -> None:
        k = self.state(name, "contact", "open", "closed")
        p, n = coil
        self.elements.append(Element(name=f"{name}/coil", p=p, n=n, ohm=90.0))
        self.elements.append(
            Element(
                name=f"{name}/contact", p=contact[0], n=contact[1], ohm=0.002,
                when=((k, ("closed",)),), contact=True,
            )
        )  # fmt: skip
        watch = {"state": k, "p": p, "n": n, "size": True, "pace": 2}
        self.shifts.append(Shift(leaves="open", to="closed", above=7.2, **watch))  # type: ignore[arg-type]
        self.shifts.append(Shift(leaves="closed", to="open", below=1.6, **watch))  # type: ignore[arg-type]

    def diode(self, name: str, p: str, n: str) -> None:
        k = self.state(name, "way", "blocks", "conducts")
        junction = f"{name}/junction"
        self.elements.append(
            Element(name=junction, p=p, n=n, ohm=0.05, emf=0.7, when=((k, ("conducts",)),))
        )
        self.shifts.append(
            Shift(state=k, leaves="blocks", to="conducts", p=p, n=n, above=0.7, pace=0)
        )
        self.shifts.append(
            Shift(state=k, leaves="conducts", to="blocks", branch=junction, below=0.0, pace=0)
        )

    def regulator(self, name: str, supply: str, out: str, ground: str) -> None:
        """5 V from the supply, 0.1 A at most, off below 5.5 V, nothing taken back."""
        power = self.state(name, "power", "off", "on")
        limit = self.state(name, "limit", "free", "limited", "fed back")
        core = f"{name}/core"
        self.elements.append(
            Element(
                name=core, p=supply, n=out, ohm=0.05, emf=-5.0,
                row=((out, -1.0), (ground, 1.0)),
                column=((supply, 1.0), (out, -1.0)),
                when=((power, ("on",)), (limit, ("free",))),
            )
        )  # fmt: skip
        self.elements.append(Element(name=f"{name}/own", p=supply, n=ground, ohm=60.0))
        self.sources.append(
            Source(
                name=f"{name}/limit", p=supply, n=out, amps=0.1,
                when=((power, ("on",)), (limit, ("limited",))),
            )
        )  # fmt: skip
        rail = {"p": out, "n": ground, "state": limit, "pace": 0}
        feed = {"p": supply, "n": ground, "state": power, "pace": 2}
        self.shifts += [
            Shift(state=limit, leaves="free", to="limited", branch=core, above=0.1, pace=0),
            Shift(leaves="limited", to="free", above=5.0, **rail),  # type: ignore[arg-type]
            Shift(state=limit, leaves="free", to="fed back", branch=core, below=0.0, pace=0),
            Shift(leaves="fed back", to="free", below=4.99, **rail),  # type: ignore[arg-type]
            Shift(leaves="off", to="on", above=6.5, **feed),  # type: ignore[arg-type]
            Shift(leaves="on", to="off", below=5.5, **feed),  # type: ignore[arg-type]
        ]


def machine(seed: int) -> tuple[Net, list[str]]:
    """A net and the names of its wires. Feed: battery, main fuse, box; branches hang on it."""
    rng = np.random.default_rng(seed)
    b = Builder()
    b.elements.append(
        Element(name="battery/cells", p="plus", n="0", ohm=0.01, emf=12.6, battery=True)
    )
    b.wire("0", "frame", 0.002)
    b.wire("plus", "main", 0.002)
    b.fuse("main fuse", "main", "box", float(rng.choice([30.0, 60.0])))
    feeds = ["box"]
    for k in range(int(rng.integers(4, 8))):
        feed = str(rng.choice(feeds))
        b.fuse(f"F{k}", feed, f"f{k}", float(rng.choice([3.0, 7.5, 10.0, 15.0])))
        b.wire(f"f{k}", f"s{k}", float(rng.uniform(0.01, 0.1)))
        match rng.integers(0, 5):
            case 0:
                b.elements.append(Element(name=f"load {k}", p=f"s{k}", n=f"g{k}", ohm=4.0))
            case 1:
                b.relay(f"K{k}", (f"s{k}", f"g{k}"), (str(rng.choice(feeds)), f"r{k}"))
                feeds.append(f"r{k}")
            case 2:
                b.diode(f"D{k}", f"s{k}", f"d{k}")
                b.elements.append(Element(name=f"load {k}", p=f"d{k}", n=f"g{k}", ohm=8.0))
            case 3:
                b.regulator(f"U{k}", f"s{k}", f"v{k}", f"g{k}")
                b.wire(f"v{k}", f"w{k}", 0.1)
                b.elements.append(Element(name=f"sensor {k}", p=f"w{k}", n=f"g{k}", ohm=500.0))
            case _:
                b.relay(f"K{k}", (f"s{k}", f"g{k}"), ("box", f"r{k}"))
                b.elements.append(Element(name=f"motor {k}", p=f"r{k}", n="frame", ohm=1.2))
        b.wire(f"g{k}", "frame", float(rng.uniform(0.005, 0.05)))
    return b.net(), b.wires


def defects(net: Net, wires: list[str], seed: int) -> list[Changes]:
    """Singles of every sort at every place, and some many-pin events; the first is healthy."""
    rng = np.random.default_rng(seed)
    result: list[Changes] = [()]
    for wire in wires:
        result += [(Series(branch=wire, ohm=ohm),) for ohm in (0.5, 15.0, 1e3, inf)]
        for to in ("frame", "plus"):
            result.append((Tap(branch=wire, t=float(rng.uniform(0, 1)), to=to, ohm=0.05),))
        other = str(rng.choice([w for w in wires if w != wire]))
        at, far = rng.uniform(0, 1, 2)
        result.append((Tap(branch=wire, t=float(at), to=other, to_t=float(far), ohm=0.05),))
    nodes = [node for node in net.nodes if node != "0"]
    for node in nodes:
        other = str(rng.choice([n for n in net.nodes if n != node]))
        result.append((Bridge(p=node, n=other, ohm=float(10 ** rng.uniform(-2, 3))),))
    result += [(Lift(branch="battery/cells", emf=emf),) for emf in (-2.1, -6.3, 3.0)]
    # Also on branches that may be absent: blown, blocked, not fed.
    result += [(Lift(branch=e.name, emf=-1.5),) for e in net.elements if e.when]
    for _ in range(12):
        hurt = rng.choice(wires, size=int(rng.integers(2, min(9, len(wires)))), replace=False)
        result.append(tuple(Series(branch=str(w), ohm=float(rng.choice([5.0, inf]))) for w in hurt))
    return result


def ports_of(net: Net, changes: Changes) -> list[Port]:
    """Changes as ports, by the table at the head of backprobe.circuit.ports."""
    ports = []
    for change in changes:
        match change:
            case Tap(branch=name, t=t, to=to, to_t=to_t, ohm=ohm):
                ends, alpha = _bare(net, name, t, 1.0), ohm + (1 - t) * _ohm(net, name)
                if to_t is None:
                    ends += ((net.voltage(to), -1.0),)
                else:
                    ends += _bare(net, to, to_t, -1.0)
                    alpha += (1 - to_t) * _ohm(net, to)
                ports.append(Port(left=ends, right=ends, alpha=alpha))
            case Series(branch=name, ohm=float() as ohm):
                here = ((net.current(name), 1.0),)
                ports.append(Port(left=here, right=here, alpha=0.0 if ohm == inf else -1.0 / ohm))
            case Bridge(p=p, n=n, ohm=float() as ohm, emf=float() as emf):
                ends = ((net.voltage(p), 1.0), (net.voltage(n), -1.0))
                ports.append(Port(left=ends, right=ends, alpha=ohm, emf=emf))
            case Lift(branch=name, emf=float() as emf):
                here = ((net.current(name), 1.0),)
                ports.append(Port(left=(), right=here, alpha=1.0, emf=emf))
            case _:
                raise TypeError(change)
    return ports


def _ohm(net: Net, wire: str) -> float:
    return net.elements[net.branch[wire]].ohm


def _bare(net: Net, wire: str, t: float, sign: float) -> tuple[tuple[int, float], ...]:
    far = net.voltage(net.elements[net.branch[wire]].n)
    return (far, sign), (net.current(wire), sign * (1 - t) * _ohm(net, wire))
