"""A machine with physical changes made, solved one circuit at a time (oracles.one_at_a_time).

Nothing of the engine's solving is in here: the circuit is written out with its changes, solved by
plain nodal analysis, and its states are followed by hand. It has a life of its own: what a
situation blows stays blown until a new fuse is fitted, whatever anybody believes of its past.
Instruments are written into the circuit: a meter is a resistor, an ohmmeter sends a milliampere.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from math import exp, sqrt
from typing import NamedTuple

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.circuit.fittings import FITTINGS
from backprobe.circuit.net import Net
from backprobe.defects.model import Probe
from backprobe.kinds import KINDS
from backprobe.kinds.records import Bridge, Change
from oracles import nodal
from oracles.one_at_a_time import End, Tap, Words, commanded, settle, written_out
from oracles.plain import Source

COPPER_PER_K = 0.00393
"""IEC 60028."""
SENT_A = 1e-3
TURNS, FITS = 40, 1e-4
"""Ohms of lamps that are tried, and the share within which they fit."""
HEAVIEST_OHM = 1000.0
"""What loads more than this is a test lamp."""
KEPT = 400


class RestlessError(ArithmeticError):
    """A circuit that never comes to rest: nothing steady can be read there."""


def shifted(net: Net, battery_v: float = 0.0, contacts: float = 0.0, warmer_k: float = 0.0) -> Net:
    """A net whose battery, contacts (ln of their scale) and copper differ from what is printed.
    Only its elements, for writing out."""
    scale, copper = exp(contacts), 1.0 + COPPER_PER_K * warmer_k
    return replace(
        net,
        elements=tuple(
            replace(
                e,
                ohm=e.ohm * (scale if e.contact else 1.0) * (copper if e.warms else 1.0),
                emf=e.emf + (battery_v if e.battery else 0.0),
            )
            for e in net.elements
        ),
    )


class Lamp(NamedTuple):
    """A lamp's hot ohms and rated volts."""

    hot: float
    rated: float


@dataclass(slots=True)
class Apart:
    """Answers as oracles.technician.Shows. `changes`: what is wrong; `nominal`: the same machine
    sound, for what a load would take. `lasting`: what is blown. `seconds`: of
    processor, spent in here."""

    book: Book
    net: Net
    changes: tuple[Change | Tap, ...] = ()
    nominal: Apart | None = None
    lasting: Words = field(default_factory=dict)
    seconds: float = 0.0
    _ends: OrderedDict[tuple[object, ...], End] = field(default_factory=OrderedDict)
    _read: OrderedDict[tuple[object, ...], float] = field(default_factory=OrderedDict)

    def again(self) -> Apart:
        """The same machine before anything was done to it; what was solved is shared."""
        return replace(self, lasting={}, seconds=0.0)

    def mended(self, changes: Iterable[Change | Tap]) -> None:
        """Some of what was wrong is gone, and new fuses are where some are blown: what is left blows
        them again."""
        gone = list(changes)
        self.lasting = {}
        self.changes = tuple(change for change in self.changes if change not in gone)

    def renew(self, part: str) -> None:
        """A new fuse is fitted."""
        self.lasting = {at: word for at, word in self.lasting.items() if at[0] != part}

    def live(self, situation: Situation, *, gone: bool = False) -> End:
        """Go through a situation; what it blows stays blown. RestlessError when nothing rests."""
        began = time.process_time()
        end = self._end(situation, gone)
        for shift in self.net.shifts:
            state = self.net.states[shift.state]
            at = (state.owner, state.name)
            if shift.lasting and end.words[at] == shift.to:
                self.lasting = self.lasting | {at: shift.to}
        self.seconds += time.process_time() - began
        return end

    def word(self, situation: Situation, part: str, state: str, *, gone: bool) -> str:
        return self.live(situation, gone=gone).words[part, state]

    def read(self, situation: Situation, probe: Probe, *, gone: bool) -> float:
        end = self.live(situation, gone=gone)
        began = time.process_time()
        key = (*self._key(situation, gone), probe)
        if key not in self._read:
            _keep(self._read, key, self._reading(situation, probe, end, gone))
        self.seconds += time.process_time() - began
        return self._read[key]

    def _key(self, situation: Situation, gone: bool) -> tuple[object, ...]:
        bare = replace(situation, after=None, renewed=frozenset())
        return (bare, frozenset(self.lasting.items()), self._made(gone))

    def _made(self, gone: bool) -> tuple[Change | Tap, ...]:
        return () if gone else self.changes

    def _end(self, situation: Situation, gone: bool) -> End:
        key = self._key(situation, gone)
        if key not in self._ends:
            changes = [*self._made(gone), *self._leads(situation)]
            end = settle(self.net, commanded(self.net, situation, self.lasting), changes)
            _keep(self._ends, key, end)
        if not self._ends[key].steady:
            raise RestlessError(situation.words())
        return self._ends[key]

    def _leads(self, situation: Situation) -> list[Bridge]:
        found = []
        for lead in situation.fitted:
            fitting = FITTINGS[lead.kind]
            ends = [self._node(lead.p), self._node(lead.n)]
            found.append(Bridge(p=ends[0], n=ends[1], ohm=fitting.ohm, emf=fitting.emf))
        return found

    def _node(self, name: str) -> str:
        node = self.net.alias.get(name, name)
        if node not in self.net.node:
            raise KeyError(name)
        return node

    def _reading(self, situation: Situation, probe: Probe, end: End, gone: bool) -> float:
        if probe.kind == "amps":
            name = f"wire {probe.p}" if probe.p in self.book.wires else probe.p
            if name not in self.net.branch:
                raise KeyError(name)
            return end.amps.get(name, 0.0)
        if probe.kind == "share":
            return self._share(situation, probe.p, end)
        p, n = self._node(probe.p), self._node(probe.n)
        if probe.kind == "inner":
            return end.volts[p] - end.volts[n]
        made = [*self._made(gone), *self._leads(situation)]
        if probe.kind == "volts":
            first = len(self._made(gone))
            lamps = {
                first + k: Lamp(FITTINGS[lead.kind].ohm, FITTINGS[lead.kind].volts)
                for k, lead in enumerate(situation.fitted)
                if lead.kind.startswith("lamp")
            }
            if probe.meter_ohm < HEAVIEST_OHM:
                lamps[len(made)] = Lamp(probe.meter_ohm, self.book.machine.volts)
            meter = Bridge(p=p, n=n, ohm=probe.meter_ohm)
            return self._shown(end, [*made, meter], lamps, (p, n))
        far = (self._node(probe.p2), self._node(probe.n2)) if probe.kind == "transfer" else (p, n)
        return self._ohms(end, made, (p, n), far)

    def _shown(
        self,
        end: End,
        made: list[Change | Tap],
        lamps: dict[int, Lamp],
        here: tuple[str, str],
    ) -> float:
        """Volts here; `lamps` by their place among what was made, each as warm as its own current makes it:
        ohms are tried until they fit."""
        for _ in range(TURNS):
            volts = nodal.solve(written_out(self.net, dict(end.words), made)).volts
            off = 0.0
            for number, lamp in lamps.items():
                tried = made[number]
                assert isinstance(tried, Bridge)
                warm = _as_warm(volts[tried.p] - volts[tried.n], lamp)
                off = max(off, abs(warm / tried.ohm - 1.0))
                made[number] = replace(tried, ohm=sqrt(tried.ohm * warm))
            if off < FITS:
                break
        return volts[here[0]] - volts[here[1]]

    def _ohms(
        self,
        end: End,
        made: list[Change | Tap],
        here: tuple[str, str],
        far: tuple[str, str],
    ) -> float:
        """Volts here per ampere sent in there."""
        still = written_out(self.net, dict(end.words), made)
        sent = Source(name="ohmmeter", p=far[1], n=far[0], amps=SENT_A)
        pushed = nodal.solve(replace(still, sources=(*still.sources, sent))).volts
        # Without the meter it is as it came to rest.
        return (
            (pushed[here[0]] - pushed[here[1]]) - (end.volts[here[0]] - end.volts[here[1]])
        ) / SENT_A

    def _share(self, situation: Situation, part: str, end: End) -> float:
        """Current of a load over what it takes in a sound machine, 0 where that is nothing."""
        branch = f"{part}/{KINDS[self.book.parts[part].kind].load}"
        sound = end
        if self.nominal is not None:
            sound = self.nominal.again().live(replace(situation, fitted=()))
        usual = abs(sound.amps.get(branch, 0.0))
        return abs(end.amps.get(branch, 0.0)) / usual if usual > 1e-6 else 0.0


def _as_warm(volts: float, lamp: Lamp) -> float:
    """Ohms of a lamp at some volts: amperes go with the volts to the power 0.55 (handbooks, from memory), and
    cold it has a fourteenth of its hot ohms (tungsten at 300 and 2800 K)."""
    share = max(abs(volts) / lamp.rated, 1e-9)
    return lamp.hot * share / min(14.0 * share, share**0.55)


def _keep(
    store: OrderedDict[tuple[object, ...], object], key: tuple[object, ...], value: object
) -> None:
    store[key] = value
    if len(store) > KEPT:
        store.popitem(last=False)
