"""What every defect would read: the Predictor on a real network.

Situations are settled once and remembered. A situation's history decides only which lasting
states (blown fuses) a hypothesis starts with, so two histories with the same blown fuses share
their result.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from backprobe.book.model import Book
from backprobe.book.situations import Lead, Situation
from backprobe.circuit.assemble import assemble
from backprobe.circuit.base import Base
from backprobe.circuit.bases import Bases
from backprobe.circuit.fittings import DIODE_TESTER, FITTINGS
from backprobe.circuit.fused import opened_leads, without
from backprobe.circuit.instruments import Shown, Tap, Taps, show, taps_of
from backprobe.circuit.limits import Limits, limits_of
from backprobe.circuit.net import Flags, Ints, Net, States
from backprobe.circuit.pair_readings import PairsShown, show_pairs
from backprobe.circuit.pairs import SettledPairs, settle_pairs
from backprobe.circuit.parting import distinct, parted
from backprobe.circuit.ports import Cases, Port, Ports
from backprobe.circuit.settle import Settled, settle
from backprobe.circuit.situated import driven_states, lead_ports
from backprobe.defects.enumerate import enumerate_defects
from backprobe.defects.model import Defects, Floats, Probe, Seen
from backprobe.kinds import KINDS

KEPT = 48
"""Settled situations remembered."""

READ = 8_000_000
"""Readings remembered, hypotheses times columns, 24 bytes each: the code lists of a large machine
must fit, or every round reads them all again."""

NARROW = 6
"""Circuits of fewer hypotheses remembered."""

Start = list[tuple[States, Ints]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One probe in one situation: mean (H,), slope (3, H) and source (H,) as in Seen, the last two
    in single precision."""

    mean: Floats
    slope: NDArray[np.float32]
    source: NDArray[np.float32]

    @staticmethod
    def of(mean: Floats, slope: Floats, source: Floats) -> Column:
        """A column from (H,), (H, 3), (H,)."""
        return Column(
            mean=mean.copy(), slope=slope.T.astype(np.float32), source=source.astype(np.float32)
        )


@dataclass(slots=True, eq=False)
class Circuit:
    """The network of one book with all its defects; answers as defects.model.Predictor.

    `rough`: contacts and temperature shift every hypothesis as they shift the healthy machine
    (battery volts are exact always). A third of the time, good enough to choose a check by.
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
    _settled: OrderedDict[tuple[object, ...], Settled] = field(default_factory=OrderedDict)
    rough: bool = False
    _columns: OrderedDict[tuple[object, Probe], Column] = field(default_factory=OrderedDict)
    _pasts: dict[bytes, int] = field(default_factory=dict)
    _after: dict[tuple[Situation, frozenset[str]], States] = field(default_factory=dict)
    _narrow: OrderedDict[tuple[bytes, bool], Circuit] = field(default_factory=OrderedDict)
    _rows: Ints | None = None
    one_cause: dict[tuple[int, int], float] | None = None

    @staticmethod
    def of(book: Book) -> Circuit:
        """Assemble the book and list its defects."""
        net = assemble(book)
        defects, ports, cases = enumerate_defects(book, net)
        limits = limits_of(net)
        return Circuit(
            book=book,
            net=net,
            ports=ports,
            cases=cases,
            defects=defects,
            _bases=Bases(net=net),
            _limits=limits,
            _lasting=np.unique(limits.state[limits.lasting]),
        )

    def within(self, hypotheses: Ints, *, rough: bool = False) -> Circuit:
        """The same circuit for some hypotheses only; hypothesis 0 (healthy) must be the first.

        Atoms keep their numbers; weights within an atom are scaled to sum to 1 again. What is
        taken from a rough circuit is rough. The last few are remembered with what they read.
        """
        rough = rough or self.rough
        rows = hypotheses if self._rows is None else self._rows[hypotheses]
        key = (rows.tobytes(), rough)
        found = self._narrow.pop(key, None)
        if found is None:
            found = self._within(hypotheses, rough, rows)
        self._narrow[key] = found
        if len(self._narrow) > NARROW:
            self._narrow.popitem(last=False)
        return found

    def _within(self, hypotheses: Ints, rough: bool, rows: Ints) -> Circuit:
        some = self.defects.only(hypotheses)
        total = np.bincount(some.atom_of, weights=some.weight, minlength=len(some.atoms))
        cases = self.cases.only(hypotheses)
        used, ports = np.unique(cases.ports, return_inverse=True)
        alone = self.beside(
            cases=Cases(start=cases.start, ports=ports.ravel()),
            defects=replace(
                some, weight=some.weight / np.where(total > 0, total, 1.0)[some.atom_of]
            ),
        )
        return replace(
            alone, ports=self.ports.only(used), rough=rough, _narrow=self._narrow, _rows=rows
        )

    def beside(self, *, cases: Cases, defects: Defects) -> Circuit:
        """The same network and ports with other hypotheses; nothing else is kept."""
        return Circuit(
            book=self.book,
            net=self.net,
            ports=self.ports,
            cases=cases,
            defects=defects,
            _bases=self._bases,
            _limits=self._limits,
            _lasting=self._lasting,
            rough=self.rough,
        )

    def seen(self, situation: Situation, probes: Sequence[Probe], *, gone: bool = False) -> Seen:
        """Readings under every hypothesis (see defects.model.Predictor)."""
        place = self._key(situation, gone)
        new = [probe for probe in dict.fromkeys(probes) if (place, probe) not in self._columns]
        for probe in [probe for probe in new if probe.kind == "diode"]:
            new.remove(probe)
            self._columns[(place, probe)] = self._diode(situation, probe, gone)
        if new:
            self._read(situation, gone, place, new)
        if not probes:
            empty = np.zeros((self.cases.count, 0))
            steady = self.settled(situation, gone=gone).steady
            slope = empty[..., None].repeat(3, 2)
            return Seen(mean=empty, slope=slope, source=empty, settled=steady)
        columns = [self._columns[(place, probe)] for probe in probes]
        for probe in probes:
            self._columns.move_to_end((place, probe))
        while len(self._columns) > max(READ // self.cases.count, len(probes)):
            self._columns.popitem(last=False)
        # Laid out column by column: who goes through the probes one by one copies nothing.
        return Seen(
            mean=np.stack([c.mean for c in columns]).T,
            slope=np.stack([c.slope for c in columns], dtype=np.float64).transpose(2, 0, 1),
            source=np.stack([c.source for c in columns], dtype=np.float64).T,
            settled=self.settled(situation, gone=gone).steady,
            stand=self._stand(situation, gone),
        )

    def _stand(self, situation: Situation, gone: bool) -> Ints:
        """(H,) a number for how all that opens or pulls stands, as in Seen."""
        slow = np.unique(self._limits.state[self._limits.pace > 0])
        odd = np.cumprod(np.full(slow.size, 6364136223846793005))
        stand: Ints = self.settled(situation, gone=gone).states[:, slow].astype(np.int64) @ odd
        return stand

    def _read(
        self, situation: Situation, gone: bool, place: tuple[object, ...], probes: list[Probe]
    ) -> None:
        """Read probes under every hypothesis and remember the columns."""
        settled = self.settled(situation, gone=gone)
        taps = taps_of(self.net, [self._tap(probe) for probe in probes])
        shown = show(self._bases, settled, taps, slopes=not self.rough)
        mean, slope = shown.mean, shown.slope
        shares = np.array([probe.kind == "share" for probe in probes], bool)
        if shares.any() or self.rough:
            healthy = self._healthy(situation, taps)
            if self.rough:
                slope[..., 1:] = healthy.slope[:, :, 1:]
            mean[:, shares] = share(mean, healthy.mean)[:, shares]
            slope[:, shares] = 0.0
        for k, probe in enumerate(probes):
            self._columns[(place, probe)] = Column.of(mean[:, k], slope[:, k], shown.source[:, k])

    def _diode(self, situation: Situation, probe: Probe, gone: bool) -> Column:
        """A diode tester moves states of its own: read with it fitted."""
        tester = Lead(kind=DIODE_TESTER, p=probe.p, n=probe.n)
        fitted = replace(situation, fitted=(*situation.fitted, tester))
        across = Probe(kind="inner", p=probe.p, n=probe.n)
        self.seen(fitted, [across], gone=gone)
        return self._columns[(self._key(fitted, gone), across)]

    def held(self, situation: Situation) -> Circuit:
        """The same circuit, its fuses and breakers unable to open in this situation; those that
        were open before stay so. For what flows while they still hold."""
        limits = self._limits
        after: dict[tuple[Situation, frozenset[str]], States] = {}
        if situation.after is not None:
            after[(situation.after, situation.renewed)] = self._kept(situation)
        return replace(
            self,
            _limits=replace(limits, above=np.where(limits.pace == 1, np.inf, limits.above)),
            _settled=OrderedDict(),
            _columns=OrderedDict(),
            _pasts={},
            _after=after,
            _narrow=OrderedDict(),
            _rows=None,
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

    def state(
        self, situation: Situation, part: str, state: str, *, gone: bool = False
    ) -> NDArray[np.int8]:
        """(H,) word number of a part's state after settling."""
        return self.settled(situation, gone=gone).states[:, self.net.state[(part, state)]]

    def settled(self, situation: Situation, *, gone: bool = False) -> Settled:
        """Every hypothesis at rest in a situation, with what it blew before."""
        key = self._key(situation, gone)
        result = self._settled.get(key)
        if result is None:
            result = self._settled[key] = self._settle(situation, gone)
            if len(self._settled) > KEPT:
                self._settled.popitem(last=False)
        else:
            self._settled.move_to_end(key)
        return result

    def _key(self, situation: Situation, gone: bool) -> tuple[object, ...]:
        """What a situation's result depends on: itself, and what was blown before."""
        kept = self._kept(situation).tobytes()
        return (situation.bare(), self._pasts.setdefault(kept, len(self._pasts)), gone)

    def _settle(self, situation: Situation, gone: bool) -> Settled:
        kept = self._kept(situation)
        if not gone:
            return self._settled_from(situation, self.cases, kept)
        # Without their defects they differ in what was blown before alone.
        few, member = distinct(kept)
        alike = self._settled_from(situation, without_ports(len(few)), few)
        return alike.spread(member)

    def _settled_from(self, situation: Situation, cases: Cases, kept: States) -> Settled:
        leads = Ports.of(lead_ports(self.net, situation.fitted))
        ports = self.ports.plus(leads)
        numbers = [self.ports.count + k for k in range(leads.count)]
        start = self._starts(situation, kept)
        cases = cases.with_all(numbers)
        fused = [k for k, lead in enumerate(situation.fitted) if FITTINGS[lead.kind].fuse < np.inf]
        if fused:
            at = np.array([numbers[k] for k in fused], np.int64)
            rated = [FITTINGS[situation.fitted[k].kind].fuse for k in fused]
            opened = opened_leads(self._bases, self._limits, ports, cases, start, at, rated)
            if opened.any():
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
        if situation.after is not None:
            before = self.settled_pairs(pairs, situation.after).states()[:, self._lasting]
            together = self._starts(situation, self._renewed(before, situation))
        return settle_pairs(
            self._bases,
            self._limits,
            self.ports.plus(leads),
            self.cases,
            pairs,
            alone=self._starts(situation, self._kept(situation)),
            together=together,
            leads=range(self.ports.count, self.ports.count + leads.count),
        )

    def shown_pairs(self, settled: SettledPairs, probes: Sequence[Probe]) -> PairsShown:
        """What probes show under settled pairs; of a "share" the amps."""
        taps = taps_of(self.net, [self._tap(probe) for probe in probes])
        return show_pairs(settled, taps, battery=True)

    def _kept(self, situation: Situation) -> States:
        """(H, lasting) the lasting states every hypothesis starts with."""
        rest = self.net.resting[self._lasting]
        count = self.cases.count
        if situation.after is None:
            return np.broadcast_to(rest, (count, len(rest))).copy()
        # A defect that is gone now was there before: its past is settled with it present.
        key = (situation.after, situation.renewed)
        kept = self._after.get(key)
        if kept is None:
            before = self.settled(situation.after).states[:, self._lasting]
            kept = self._after[key] = self._renewed(before, situation)
        return kept

    def _renewed(self, kept: States, situation: Situation) -> States:
        """(n, lasting) states kept from before, but for what was renewed."""
        result = kept.copy()
        for column, number in enumerate(self._lasting):
            if self.net.states[number].owner in situation.renewed:
                result[:, column] = self.net.resting[number]
        return result

    def _healthy(self, situation: Situation, taps: Taps) -> Shown:
        alone = self.within(np.zeros(1, np.int64))
        return show(self._bases, alone.settled(situation), taps, slopes=self.rough)

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


def share(amps: Floats, healthy: Floats) -> Floats:
    """Current over its healthy value, 0 where a healthy machine would draw none."""
    live = np.abs(healthy) > 1e-6
    result: Floats = np.where(live, np.abs(amps) / np.where(live, np.abs(healthy), 1.0), 0.0)
    return result


def without_ports(count: int) -> Cases:
    """Hypotheses without any port: the defect is not showing."""
    return Cases(start=np.zeros(count + 1, np.int64), ports=np.zeros(0, np.int64))
