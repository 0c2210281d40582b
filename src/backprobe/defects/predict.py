"""What every defect would read: the Predictor on a real network.

Situations are settled once and remembered. A situation's history decides only which lasting
states (blown fuses) a hypothesis starts with, so two histories with the same blown fuses share
their result.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from backprobe.book.model import Book
from backprobe.book.situations import Lead, Past, Situation
from backprobe.circuit.assemble import assemble
from backprobe.circuit.base import Base
from backprobe.circuit.bases import Bases
from backprobe.circuit.crew import ALONE, Crew
from backprobe.circuit.drift import Drift, drift
from backprobe.circuit.fittings import DIODE_TESTER, FITTINGS
from backprobe.circuit.fused import opened_leads, without
from backprobe.circuit.instruments import Shown, Tap, Taps, moved, show, taps_of
from backprobe.circuit.limits import Limits, limits_of
from backprobe.circuit.net import Flags, Ints, Net, States
from backprobe.circuit.pair_readings import PairsShown, show_pairs
from backprobe.circuit.pairs import SettledPairs, settle_pairs
from backprobe.circuit.parting import distinct, parted
from backprobe.circuit.ports import Block, Cases, Port, Ports
from backprobe.circuit.settle import settle
from backprobe.circuit.settled import Settled
from backprobe.circuit.situated import driven_states, lead_ports
from backprobe.defects.at_meter import AtMeter
from backprobe.defects.enumerate import enumerate_defects
from backprobe.defects.in_cells import STEPS, Cells, solved_at
from backprobe.defects.model import Defects, Floats, Probe, Seen
from backprobe.defects.settled_once import Column, Found, Memory
from backprobe.kinds import KINDS

FAIRLY, ROUGHLY = 1e-8, 1e-4
"""Volts that a reading may have lost where it is weighed, and where a check is chosen by it."""
MOVED = 1e-6
"""Volts that may be lost of what contacts or copper make of a reading."""
ALIKE = 1e-6
"""Volts and amperes within which a hypothesis reads as the healthy machine does; contacts and copper
move it alike then."""
TAPS = 500
"""Lists of probes of which it is remembered where they touch."""
NARROW = 6
"""Circuits of fewer hypotheses remembered."""

Start = list[tuple[States, Ints]]
GLOWS = "heat"
"""The state of a filament: which of its straight lines it is on, all of one law nearly."""


@dataclass(slots=True, eq=False)
class Circuit:
    """The network of one book with all its defects; answers as defects.model.Predictor.

    `rough`: contacts and temperature shift every hypothesis as they shift the healthy machine
    (battery volts are exact always). A third of the time, good enough to choose a check by.
    `made`: what is made of its readings elsewhere, where that is to be kept from round to round.
    `one_cause`: rates of pairs of atoms with a common cause, once somebody asked for them.
    """

    book: Book
    net: Net
    ports: Ports
    cases: Cases
    defects: Defects
    _bases: Bases
    _limits: Limits
    _lasting: Ints
    memory: Memory
    ident: Ints
    cells: Cells
    at_meter: AtMeter
    rough: bool = False
    _past: dict[Past, tuple[States, Ints]] = field(default_factory=dict)
    _narrow: OrderedDict[tuple[bytes, bool], Circuit] = field(default_factory=OrderedDict)
    made: dict[str, Any] | None = None
    one_cause: dict[tuple[int, int], float] | None = None

    @staticmethod
    def of(book: Book, crew: Crew = ALONE) -> Circuit:
        """Assemble the book and list its defects. `crew`: who is at work where there is much of it."""
        net = assemble(book)
        defects, ports, cases = enumerate_defects(book, net)
        limits = limits_of(net)
        return Circuit(
            book=book,
            net=net,
            ports=ports,
            cases=cases,
            defects=defects,
            _bases=Bases(net=net, crew=crew),
            _limits=limits,
            _lasting=np.unique(limits.state[limits.lasting]),
            memory=Memory(),
            ident=np.arange(cases.count),
            cells=Cells.of(net, ports, cases, defects),
            at_meter=AtMeter.of(book),
            made={},
        )

    @property
    def lasting(self) -> Ints:
        """Numbers of the states that stay moved: those of fuses."""
        return self._lasting

    def within(self, hypotheses: Ints, *, rough: bool = False) -> Circuit:
        """The same circuit for some hypotheses only; hypothesis 0 (healthy) must be the first.

        Atoms keep their numbers; weights within an atom are scaled to sum to 1 again. What is
        taken from a rough circuit is rough. All share what was worked out; the last few are
        remembered.
        """
        rough = rough or self.rough
        key = (self.ident[hypotheses].tobytes(), rough)
        found = self._narrow.pop(key, None)
        if found is None:
            some = self.defects.only(hypotheses)
            total = np.bincount(some.atom_of, weights=some.weight, minlength=len(some.atoms))
            share = some.weight / np.where(total > 0, total, 1.0)[some.atom_of]
            found = self.only(hypotheses, defects=replace(some, weight=share), rough=rough)
        self._narrow[key] = found
        if len(self._narrow) > NARROW:
            self._narrow.popitem(last=False)
        return found

    def only(self, hypotheses: Ints, *, defects: Defects, rough: bool = False) -> Circuit:
        """The same circuit for some hypotheses, healthy first, as `defects` weighs them."""
        return replace(
            self.beside(cases=self.cases.only(hypotheses), defects=defects),
            ident=self.ident[hypotheses],
            rough=rough,
            _narrow=self._narrow,
            one_cause=self.one_cause,
        )

    def beside(self, *, cases: Cases, defects: Defects, more: Sequence[int] | Ints = ()) -> Circuit:
        """The same hypotheses and after them further ones, as `defects` weighs them all. `more`: a
        number for each of those that no other has on this machine."""
        return Circuit(
            book=self.book,
            net=self.net,
            ports=self.ports,
            cases=cases,
            defects=defects,
            _bases=self._bases,
            _limits=self._limits,
            _lasting=self._lasting,
            memory=self.memory,
            ident=np.concatenate([self.ident, np.array(more, np.int64)]),
            cells=self.cells,
            at_meter=self.at_meter,
            rough=self.rough,
        )

    def in_cells(self, rows: Ints) -> Circuit:
        """The same circuit for hypothesis 0 and each of some singles at every step through its severity
        cell (defects.in_cells.STEPS), one after the other; roughly."""
        some = np.append(0, np.repeat(rows, STEPS))
        defects = replace(self.defects, halves=None).only(some)
        found = self.beside(cases=self.cells.cases(self.cases, rows), defects=solved_at(defects))
        return replace(
            found,
            ports=self.cells.ports,
            memory=self.cells.memory,
            ident=self.cells.named(self.ident[rows]),
            rough=True,
        )

    def seen(self, situation: Situation, probes: Sequence[Probe], *, gone: bool = False) -> Seen:
        """Readings under every hypothesis (see defects.model.Predictor)."""
        plain = [probe for probe in probes if probe.kind != "diode"]
        seen = self._seen(situation, plain, gone)
        if len(plain) == len(probes):
            return seen
        lone = [self._seen(*_tested(situation, p), gone) for p in probes if p.kind == "diode"]
        diodes, others = iter(lone), iter(range(len(plain)))
        each = [
            (next(diodes), 0) if probe.kind == "diode" else (seen, next(others)) for probe in probes
        ]
        return Seen(
            mean=np.stack([one.mean[:, k] for one, k in each], axis=1),
            slope=np.stack([one.slope[:, k] for one, k in each], axis=1),
            settled=seen.settled,
            stand=seen.stand,
        )

    def _seen(self, situation: Situation, probes: Sequence[Probe], gone: bool) -> Seen:
        alike = gone and self._one_past(situation)
        found, columns = self._known(situation, probes, gone and not alike)
        self.memory.trim(found.place)
        if alike:
            # A defect that is gone and has left nothing behind: all read as the healthy machine does.
            found = replace(found, row=found.row[:1])
        mean, slope = found.stacked(columns)
        for k, probe in enumerate(probes):
            self.at_meter.show(situation, probe, mean[:, k], slope[:, k])
        seen = Seen(mean=mean, slope=slope, settled=found.steady(), stand=found.stand())
        return seen.of_one(self.cases.count) if alike else seen

    def both(self, situation: Situation, probes: Sequence[Probe]) -> tuple[Seen, Seen]:
        """Readings while the defect shows and while it does not; the latter of one hypothesis alone where
        all read as the healthy machine does."""
        seen = self.seen(situation, probes)
        if self._one_past(situation):
            return seen, seen.of_first()
        return seen, self.seen(situation, probes, gone=True)

    def _one_past(self, situation: Situation) -> bool:
        """Whether all start a situation with the same states left from before."""
        _, past = self._kept(situation, gone=True)
        return bool((past == past[0]).all())

    def _known(
        self, situation: Situation, probes: Sequence[Probe], gone: bool
    ) -> tuple[Found, list[Column]]:
        """Where every hypothesis is in the memory of a situation, and the probes as read there."""
        found = self._found(situation, gone)
        columns = found.columns(probes, rough=self.rough)
        for rows, unread in found.unread(probes, columns):
            self._read(found, rows, unread)
        return found, columns

    def _stand(self, states: States) -> Ints:
        """(H,) a number for how all stands that opens, pulls or gives way, as in Seen."""
        if self.memory.moves is None:
            lines = [number for (_, state), number in self.net.state.items() if state == GLOWS]
            self.memory.moves = np.setdiff1d(self._limits.state, lines)
        moves = self.memory.moves
        odd = np.cumprod(np.full(moves.size, 6364136223846793005))
        stand: Ints = states[:, moves].astype(np.int64) @ odd
        return stand

    def _read(self, found: Found, rows: Ints, unread: list[tuple[Probe, Column]]) -> None:
        """Read probes under the hypotheses in some rows of a place, the healthy machine's among them
        when they are read there for the first time."""
        probes, columns = [probe for probe, _ in unread], [column for _, column in unread]
        taps = self._taps(tuple(probes))
        sure = ROUGHLY if self.rough else FAIRLY
        some, sound = found.place.rest.only(rows), int(found.row[0])
        shown = show(self._bases, some, taps, slopes=False, sure=sure)
        slopes = np.zeros((*shown.mean.shape, 3))
        slopes[..., 0] = shown.slope[..., 0]
        shown = replace(shown, slope=slopes)
        moves, drifts = np.arange(rows.size), self._drift(found) if taps.light else None
        if drifts is not None:
            shown.slope[..., 1:] = _along(taps, drifts.gain)
            asked = np.array([probe.kind != "share" for probe in probes], bool)
            moves = _unlike(shown, rows, sound, columns, asked)
        elif self.rough:
            moves = np.flatnonzero(rows == sound)
        if moves.size and not (self.rough and drifts):
            own = shown.mean[moves], shown.source[moves]
            slope = moved(self._bases, some.only(moves), taps, *own, sure=MOVED)
            shown.slope[slice(None) if self.rough else moves, :, 1:] = slope
        elif self.rough and drifts is None:
            shown.slope[..., 1:] = [column.slope[1:, sound] for column in columns]
        for k, (probe, column) in enumerate(unread):
            mean, slope = shown.mean[:, k], shown.slope[:, k]
            if probe.kind == "share":
                amps = found.place.amps
                if (sound, probe) not in amps:
                    amps[sound, probe] = float(mean[np.searchsorted(rows, sound)])
                mean, slope = share(mean, amps[sound, probe]), np.zeros_like(slope)
            column.put(rows, mean, slope)

    def _drift(self, found: Found) -> Drift | None:
        """How contacts and copper move the machine without any defect."""
        row, place = int(found.row[0]), found.place
        if row not in place.drifts:
            place.drifts[row] = drift(self._bases, place.rest.only(np.array([row])).lean())
        return place.drifts[row]

    def _found(self, situation: Situation, gone: bool) -> Found:
        """Where every hypothesis is in the memory of a situation, settled there if it was not."""
        kept, past = self._kept(situation, gone=gone)
        # Without their defects they differ in what was blown before alone.
        who = past if gone else self.memory.named(self.ident, past)
        place = self.memory.place((situation.bare(), gone))
        row = place.find(who)
        new = np.flatnonzero(row < 0)
        if new.size:
            _, first = np.unique(who[new], return_index=True)
            new = new[np.sort(first)]
            cases, ports, used = without_ports(new.size), Ports.of([]), np.zeros(0, np.int64)
            every = ports if gone else self.ports
            if not gone:
                used, cases, ports = self._ported(new)
            settled = self._settle(situation, ports, cases, kept[new])
            fitted = every.count + np.arange(settled.ports.count - ports.count)
            numbers, stand = np.concatenate([used, fitted]), self._stand(settled.states)
            place.add(who[new], settled, stand, ports=every, numbers=numbers)
            row = place.find(who)
            self.memory.trim(place)
        return Found(place=place, row=row)

    def _ported(self, some: Ints) -> tuple[Ints, Cases, Ports]:
        """Numbers of the ports that some hypotheses have, these hypotheses, and those ports alone."""
        cases = self.cases.only(some)
        used, ports = np.unique(cases.ports, return_inverse=True)
        return used, Cases(start=cases.start, ports=ports.ravel()), self.ports.only(used)

    def held(self, situation: Situation) -> Circuit:
        """The same circuit, its fuses and breakers unable to open in this situation; those that
        were open before stay so. For what flows while they still hold."""
        limits = self._limits
        past: dict[Past, tuple[States, Ints]] = {}
        memory = Memory()
        for gone in (False, True):
            came = situation.past(gone=gone)
            if came.after is not None:
                kept, _ = self._kept(situation, gone=gone)
                past[came] = kept, memory.past(kept)
        return replace(
            self,
            _limits=replace(limits, above=np.where(limits.pace == 1, np.inf, limits.above)),
            memory=memory,
            cells=replace(self.cells, memory=Memory()),
            _past=past,
            _narrow=OrderedDict(),
            made=None,
        )

    def jumper_opened(self, situation: Situation) -> Flags:
        """(H,) whether the fuse of a fitted jumper opens."""
        settled = self.settled(situation)
        cases = settled.cases
        owner = np.repeat(np.arange(cases.count), np.diff(cases.start))
        opened: Flags = np.zeros(cases.count, bool)
        for k, lead in enumerate(situation.fitted):
            if FITTINGS[lead.kind].fuse < np.inf:
                there = owner[cases.ports == self.ports.count + k]
                opened |= ~np.isin(np.arange(cases.count), there)
        return opened

    def moving(self, situation: Situation, hypothesis: int, turns: int = 12) -> tuple[str, ...]:
        """Parts whose states go on changing under a hypothesis that never settles, () otherwise."""
        settled = self.settled(situation)
        if settled.steady[hypothesis]:
            return ()
        one = settled.cases.only(np.array([hypothesis], np.int64))
        start = [(settled.states[hypothesis].copy(), np.zeros(1, np.int64))]
        later = [
            settle(self._bases, self._limits, settled.ports, one, start, rounds=turn).states[0]
            for turn in range(1, turns + 1)
        ]
        changing = np.flatnonzero((np.array(later) != later[0]).any(axis=0))
        return tuple(dict.fromkeys(self.net.states[number].owner for number in changing))

    def base(self, states: States) -> Base:
        """The factorised network in one vector of states."""
        return self._bases.get(states)

    def solved(self, settled: Settled) -> Iterator[tuple[Base, Ports, tuple[Block, ...]]]:
        """As Settled.solved, on this network."""
        return settled.solved(self._bases)

    def state(
        self, situation: Situation, part: str, state: str, *, gone: bool = False
    ) -> NDArray[np.int8]:
        """(H,) word number of a part's state after settling."""
        column = self.net.state[(part, state)]
        if gone and self._one_past(situation):
            one = self._found(situation, gone=False).state(column)[:1]
            return np.broadcast_to(one, (self.cases.count,))
        return self._found(situation, gone).state(column)

    def settled(self, situation: Situation, *, gone: bool = False) -> Settled:
        """Every hypothesis at rest in a situation, with what it blew before."""
        return self._found(situation, gone).settled()

    def _settle(self, situation: Situation, ports: Ports, cases: Cases, kept: States) -> Settled:
        """Hypotheses at rest in a situation that starts with what is kept (n, lasting)."""
        leads = Ports.of(lead_ports(self.net, situation.fitted))
        numbers = [ports.count + k for k in range(leads.count)]
        ports = ports.plus(leads)
        start = self._starts(situation, kept)
        cases = cases.with_all(numbers)
        fused = [k for k, lead in enumerate(situation.fitted) if FITTINGS[lead.kind].fuse < np.inf]
        if fused:
            at = np.array([numbers[k] for k in fused], np.int64)
            rated = [FITTINGS[situation.fitted[k].kind].fuse for k in fused]
            opened = opened_leads(self._bases, self._limits, ports, cases, start, at, rated)
            cases = without(cases, at, opened, ports.count)
            ports = ports.plus(Ports.of([Port(left=(), right=((0, 1.0),), alpha=1.0)]))
        return settle(self._bases, self._limits, ports, cases, start)

    def _starts(self, situation: Situation, kept: States) -> Start:
        """State vectors a situation starts in with what is kept (n, lasting) from before, and
        which of the n start in each."""
        first = driven_states(self.net, situation)
        start: Start = []
        patterns, member = distinct(kept)
        for pattern, mine in zip(patterns, parted(np.arange(len(kept)), member, len(patterns))):
            states = first.copy()
            states[self._lasting] = pattern
            start.append((states, mine))
        return start

    def settled_pairs(self, pairs: tuple[Ints, Ints], situation: Situation) -> SettledPairs:
        """Pairs of hypotheses (as circuit.pairs.settle_pairs takes them) at rest in a situation,
        with what they blew before; a fused lead holds. Not remembered: whoever asks keeps it."""
        leads = Ports.of(lead_ports(self.net, situation.fitted))
        together: Start = []
        past = situation.past(gone=False)
        if past.after is not None:
            before = self.settled_pairs(pairs, past.after).states()[:, self._lasting]
            together = self._starts(situation, self._renewed(before, past.renewed))
        return settle_pairs(
            self._bases,
            self._limits,
            self.ports.plus(leads),
            self.cases,
            pairs,
            alone=self._starts(situation, self._kept(situation, gone=False)[0]),
            together=together,
            leads=range(self.ports.count, self.ports.count + leads.count),
        )

    def shown_pairs(self, settled: SettledPairs, probes: Sequence[Probe]) -> PairsShown:
        """What probes show under settled pairs; of a "share" the amps."""
        taps = taps_of(self.net, [self._tap(probe) for probe in probes])
        return show_pairs(settled, taps, battery=True)

    def _kept(self, situation: Situation, *, gone: bool) -> tuple[States, Ints]:
        """(H, lasting) the lasting states every hypothesis starts with, and their number (H,)."""
        past = situation.past(gone=gone)
        if past.after is None:
            rest = self.net.resting[self._lasting]
            kept = np.broadcast_to(rest, (self.cases.count, len(rest)))
            return kept, np.full(self.cases.count, self.memory.past(rest[None])[0])
        # A defect that is gone now was there before: its past is settled with it present.
        known = self._past.get(past)
        if known is None:
            before = self._found(past.after, gone=False).states()[:, self._lasting]
            kept = self._renewed(before, past.renewed)
            known = self._past[past] = kept, self.memory.past(kept)
        return known

    def _renewed(self, kept: States, renewed: frozenset[str]) -> States:
        """(n, lasting) states kept from before, but for what was renewed."""
        result = kept.copy()
        for column, number in enumerate(self._lasting):
            if self.net.states[number].owner in renewed:
                result[:, column] = self.net.resting[number]
        return result

    def _taps(self, probes: tuple[Probe, ...]) -> Taps:
        """Where probes touch; what is asked in one situation is often asked in the next as well."""
        known = self.memory.taps
        if probes not in known:
            if len(known) >= TAPS:
                known.clear()
            known[probes] = taps_of(self.net, [self._tap(probe) for probe in probes])
        return known[probes]

    def _tap(self, probe: Probe) -> Tap:
        if probe.kind == "amps":
            name = f"wire {probe.p}" if probe.p in self.book.wires else probe.p
            return Tap(quantity="amps", p=name)
        if probe.kind == "share":
            return Tap(quantity="amps", p=self.load_of(probe.p))
        if probe.kind == "ohms":
            return Tap(quantity="ohms", p=probe.p, n=probe.n)
        if probe.kind == "transfer":
            return Tap(quantity="ohms", p=probe.p, n=probe.n, far=(probe.p2, probe.n2))
        meter = np.inf if probe.kind == "inner" else probe.meter_ohm
        return Tap(quantity="volts", p=probe.p, n=probe.n, meter_ohm=meter)

    def load_of(self, part: str) -> str:
        """The branch whose power says whether a part works. KeyError when it has none."""
        load = KINDS[self.book.parts[part].kind].load
        if not load:
            raise KeyError(f"{part} is no load")
        return f"{part}/{load}"


def _tested(situation: Situation, probe: Probe) -> tuple[Situation, tuple[Probe]]:
    """A diode tester moves states of its own: the situation with it fitted, and what it reads."""
    tester = Lead(kind=DIODE_TESTER, p=probe.p, n=probe.n)
    fitted = replace(situation, fitted=(*situation.fitted, tester))
    return fitted, (Probe(kind="inner", p=probe.p, n=probe.n),)


def _along(taps: Taps, x: Floats) -> Floats:
    """What taps that hardly load see (f, ...) of a solution (N, ...)."""
    seen: Floats = np.einsum("fw,fw...->f...", taps.value, x[np.maximum(taps.at, 0)])
    return seen


def _unlike(shown: Shown, rows: Ints, sound: int, columns: Sequence[Column], of: Flags) -> Ints:
    """Who does not read as the sound machine, which is in row `sound` of a place, at all probes `of`
    which it is asked (P,)."""
    at = int(np.searchsorted(rows, sound))
    if at < rows.size and rows[at] == sound:
        mean, slope = shown.mean[at], shown.slope[at, :, 0]
    else:
        mean = np.array([column.mean[sound] for column in columns])
        slope = np.array([column.slope[0, sound] for column in columns])
    alike = (np.abs(shown.mean - mean) <= ALIKE) & (np.abs(shown.slope[..., 0] - slope) <= ALIKE)
    return np.flatnonzero(~alike[:, of].all(axis=1))


def share(amps: Floats, healthy: Floats | float) -> Floats:
    """Current over its healthy value, 0 where a healthy machine would draw none."""
    live = np.abs(healthy) > 1e-6
    result: Floats = np.where(live, np.abs(amps) / np.where(live, np.abs(healthy), 1.0), 0.0)
    return result


def without_ports(count: int) -> Cases:
    """Hypotheses without any port: the defect is not showing."""
    return Cases(start=np.zeros(count + 1, np.int64), ports=np.zeros(0, np.int64))
