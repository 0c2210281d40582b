"""What a voltmeter makes of volts that are solved as steady ones: a fitted lamp that is cold, a bus that
talks, a sensor that gives alternating volts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from backprobe.book.model import Book, Pin
from backprobe.book.nets import Nets, plain_nets
from backprobe.book.situations import Situation
from backprobe.circuit.fittings import FITTINGS, glowing
from backprobe.defects.model import TEMPERATURE_SD, Floats, Probe
from backprobe.kinds.sensing import TURNING

FEED: Final = 1.05
"""Volts that feed a lamp over the machine's own, as meters.background has them."""
LAMP_SD: Final = 0.25
"""Error of the law of filaments, share of a lamp's volts where others limit its current (decision 18)."""
HEAVIEST_OHM: Final = 1000.0
"""What loads more than this is a test lamp."""
REST_V: Final = 2.5
TALKING_V: Final = (1.0, 4.0)
"""Volts of a bus line at rest, and those between which it can still be driven."""
GROUND_V: Final = 0.04
"""Volts that a unit's ground may lift a bus line, which are no talk. Judgement."""
BUSY: Final = 8.0
BUSY_V: Final = 0.25
"""What nobody knows of how busy a bus is: the mean of a line that talks at all may be so many times as far
off its rest, at most so many volts, one standard deviation. Running machines show low 1.7-2.3, high
2.7-3.3 (a tractor maker's page)."""
ALTERNATING: Final = "inductive sensor"


@dataclass(frozen=True, slots=True, kw_only=True)
class AtMeter:
    """Of one machine, by the printed names of nodes: lines of the `bus` (1 high, -1 low), and the
    sensors whose `signal` is there, on wire that goes nowhere else but to a unit's input."""

    volts: float
    bus: Mapping[str, int]
    signal: Mapping[str, frozenset[str]]

    @staticmethod
    def of(book: Book) -> AtMeter:
        """What there is on a machine."""
        nets = plain_nets((wire.a, wire.b) for wire in book.wires.values())
        members = nets.members()
        bus: dict[str, int] = {}
        signal: dict[str, frozenset[str]] = {}
        for pin, role in book.roles.items():
            if role.role in ("CAN high", "CAN low"):
                side = 1 if role.role == "CAN high" else -1
                bus |= dict.fromkeys(_names(nets, members, (pin.part, pin.name)), side)
        for part in book.parts.values():
            for name in part.pins if part.kind == ALTERNATING else ():
                net = members.get(nets.find((part.name, name)), [(part.name, name)])
                if not any(_shared(book, node) for node in net):
                    for at in _names(nets, members, (part.name, name)):
                        signal[at] = signal.get(at, frozenset()) | {part.name}
        return AtMeter(volts=book.machine.volts, bus=bus, signal=signal)

    def show(self, situation: Situation, probe: Probe, mean: Floats, slope: Floats) -> None:
        """Turns readings (H,) and slopes (H, 3) of a probe to what a voltmeter shows; nan where it shows
        nothing. What only makes them less sure is added to the slope of temperature."""
        if probe.kind != "volts":
            return
        if self._alternates(situation, probe):
            mean[:], slope[:] = np.nan, 0.0
        rated = self._lamp(situation, probe)
        if rated:
            feed = FEED * self.volts
            mean[:], steep = glowing(mean, feed, rated)
            slope *= steep[:, None]
            sure = np.clip(1.0 - np.abs(mean) / feed, 0.0, 1.0)
            _blur(slope, LAMP_SD * np.abs(mean) * sure)
        p, n = self.bus.get(probe.p, 0), self.bus.get(probe.n, 0)
        if p * n < 0:
            _blur(slope, _busy(mean, 2.0 * BUSY_V))
        elif p != 0 and n == 0:
            talks = (mean > TALKING_V[0]) & (mean < TALKING_V[1])
            _blur(slope, np.where(talks, _busy(mean - REST_V, BUSY_V), 0.0))

    def _alternates(self, situation: Situation, probe: Probe) -> bool:
        """Whether a sensor gives alternating volts to either lead."""
        if situation.key not in TURNING or not self.signal:
            return False
        off = situation.unplugged | situation.pulled
        none: frozenset[str] = frozenset()
        return any(self.signal.get(node, none) - off for node in (probe.p, probe.n))

    def _lamp(self, situation: Situation, probe: Probe) -> float:
        """Rated volts of the lamp that is read across, 0 for none."""
        if probe.meter_ohm < HEAVIEST_OHM:
            return self.volts
        across = {probe.p, probe.n}
        return max(
            (FITTINGS[lead.kind].volts for lead in situation.fitted if {lead.p, lead.n} == across),
            default=0.0,
        )


def _blur(slope: Floats, sd: Floats) -> None:
    slope[:, 2] = np.hypot(slope[:, 2], sd / TEMPERATURE_SD)


def _busy(off: Floats, most: float) -> Floats:
    """One standard deviation of volts that lie so far off their rest."""
    sd: Floats = np.clip(BUSY * (np.abs(off) - GROUND_V), 0.0, most)
    return sd


def _shared(book: Book, node: tuple[str, str]) -> bool:
    """Whether others hold a node as well: a body, a ground pin, a supply."""
    part = book.parts.get(node[0])
    role = book.roles.get(Pin(*node))
    return part is None or (role is not None and role.role in ("ground", "supply"))


def _names(
    nets: Nets, members: Mapping[tuple[str, str], list[tuple[str, str]]], at: tuple[str, str]
) -> Iterator[str]:
    """Printed names of all that is one piece of wire with a pin."""
    for part, pin in members.get(nets.find(at), [at]):
        yield f"{part}:{pin}"
        yield from (f"{part}.{pin}{side}" for side in ("", "a", "b"))
