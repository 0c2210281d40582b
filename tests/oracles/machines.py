"""Synthetic machines from a seed, written as wiring books: what the benchmarks run on.

    machine(400, seed=1).text      the wiring book
    machine(400, seed=1).circuit   the network with every defect

A machine has a main fuse box and zones. A zone has a feed of its own, a loom run through a plug, a
ground stud, and circuits drawn at random: lamps behind relays with and without suppression, valves
and pumps driven by units, 5 V groups with ratiometric sensors, thermistors, switches read by a
unit, lamps fed through two diodes. Larger machines have several units on one bus. The names, the
ohms and the metres are nobody's machine.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache, cached_property
from itertools import pairwise

import numpy as np

from backprobe.book import read_book
from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.defects.predict import Circuit

ZONE = 130
"""Circuit nodes after which the next circuit starts a new zone."""

UNIT = 330
"""Circuit nodes after which the machine gets another control unit."""

COLOURS = ("RD", "BU", "GN", "YE", "WH", "VT", "GY", "OG", "BK", "RDWH", "BUYE", "GNBK", "WHBU")


@dataclass(frozen=True)
class Machine:
    """A machine of about `nodes` circuit nodes."""

    nodes: int
    seed: int
    text: str
    switches: tuple[str, ...]

    @cached_property
    def book(self) -> Book:
        """The book as read. AssertionError lists what is wrong with it."""
        book, problems = read_book(self.text, f"machine {self.nodes}, seed {self.seed}")
        assert book is not None, "\n".join(str(problem) for problem in problems)
        return book

    @cached_property
    def circuit(self) -> Circuit:
        """The network with every defect."""
        return Circuit.of(self.book)

    @property
    def situations(self) -> dict[str, Situation]:
        """Four situations of a working day."""
        half = frozenset(self.switches[::2])
        return {
            "off": Situation(key="off"),
            "on": Situation(key="on", on=half),
            "crank": Situation(key="crank"),
            "run": Situation(key="run", on=frozenset(self.switches)),
        }


@cache
def machine(nodes: int, seed: int = 1) -> Machine:
    """The machine of that size and seed; the same text every time. At least 100 nodes."""
    writer = _Writer(nodes, np.random.default_rng([nodes, seed]))
    text = writer.write()
    return Machine(nodes=nodes, seed=seed, text=text, switches=tuple(writer.switches))


@dataclass
class _Zone:
    """Where circuits are put: `feed` splice, plug, stud, and how many nodes it holds so far."""

    number: int
    feed: str
    stud: str
    plug: str = ""
    ways: int = 0


@dataclass
class _Unit:
    """A control unit: the next free pin, the next group letter."""

    name: str
    zone: _Zone
    pin: int = 20
    group: int = 0


@dataclass
class _Writer:
    """Writes a machine fact by fact. `size` estimates the nodes the network will have."""

    target: int
    rng: np.random.Generator
    size: int = 1
    lines: list[str] = field(default_factory=list)
    wires: list[str] = field(default_factory=list)
    loom: list[str] = field(default_factory=list)
    last: list[str] = field(default_factory=list)
    switches: list[str] = field(default_factory=list)
    count: dict[str, int] = field(default_factory=dict)
    zones: list[_Zone] = field(default_factory=list)
    units: list[_Unit] = field(default_factory=list)

    # ------------------------------------------------------------ words

    def write(self) -> str:
        self._core()
        circuits: list[tuple[float, int, Callable[[], None]]] = [
            (0.22, 50, self._lamps_on_a_relay),
            (0.18, 24, self._valve),
            (0.12, 40, self._pump),
            (0.20, 56, self._sensors),
            (0.08, 24, self._thermistors),
            (0.08, 14, self._read_switch),
            (0.06, 44, self._lamp_on_two_diodes),
            (0.06, 20, self._lamp),
        ]
        share = np.array([part for part, _, _ in circuits])
        if self.target > 200:
            self._starting()
        self._sensors()
        self._lamps_on_a_relay("diode")
        while self.target - self.size > 18:
            fits = np.array([cost <= 1.05 * (self.target - self.size) for _, cost, _ in circuits])
            if self.size > UNIT * len(self.units) and self.target - self.size > 200:
                self._unit()
            if self.size > ZONE * len(self.zones):
                self._zone()
            if not fits.any():
                self._lamp()
                continue
            chance = share * fits
            pick = int(self.rng.choice(len(circuits), p=chance / chance.sum()))
            circuits[pick][2]()
        if len(self.units) > 1:
            self._bus()
        head = ["book format 1", f"machine synthetic machine {self.target}, 12 V"]
        return "\n".join(
            [*head, "", *self.lines, "", *self.wires, "", *self.loom, "", *self.last, ""]
        )

    def _name(self, kind: str) -> str:
        number = self.count[kind] = self.count.get(kind, 0) + 1
        return f"{kind}{number}" if len(kind) < 3 else f"{kind} {number}"

    def _part(self, name: str, what: str, at: str, *, mend: int = 2) -> str:
        self.lines.append(f"{name}: {what}, at {at}, open {mend} min, close {max(1, mend - 1)} min")
        if what.startswith(("splice", "ground stud")):
            self.size += 1
        return name

    def _chain(self, *ends: str, mm2: float = 1.0, metres: float | None = None) -> None:
        """Wires from pin to pin; two nodes a pin, one a lug."""
        names = []
        for _ in ends[1:]:
            self.count["wire"] = self.count.get("wire", 0) + 1
            names.append(str(self.count["wire"]))
        length = f", {metres:.2f} m" if metres else ""
        colour = self.rng.choice(COLOURS)
        self.wires.append(
            f"{' > '.join(ends)}, {mm2:g} mm2, {colour}{length}, wire {' / '.join(names)}"
        )
        for number, end in enumerate(ends):
            passes = 2 if 0 < number < len(ends) - 1 else 1
            lug = end.partition(".")[0].startswith(("SP", "bus", "G", "main stud", "frame"))
            way = end.startswith("X")
            self.size += passes * (1 if lug or way else 2)

    def _way(self, zone: _Zone) -> str:
        """A way of the zone's plug, of a new plug when it is full."""
        if not zone.plug or zone.ways == 24:
            zone.plug, zone.ways = self._name("X"), 0
            self._part(zone.plug, "plug 24 ways", f"bulkhead {zone.number}", mend=3)
        zone.ways += 1
        return f"{zone.plug}.{zone.ways}"

    def _fuse(self, zone: _Zone, amps: float, load_amps: float) -> str:
        rating = next(r for r in (3, 5, 7.5, 10, 15, 20, 30, 40) if r >= max(amps, 1.7 * load_amps))
        fuse = self._part(self._name("F"), f"fuse {rating:g} A", f"fuse box {zone.number}", mend=1)
        self._chain(zone.feed, fuse, mm2=4.0, metres=0.1)
        return fuse

    def _place(self, zone: _Zone) -> str:
        ends = ("head", "head", "arm") if self.target > 200 else ("head",)
        return f"{self.rng.choice(ends)} {zone.number}"

    def _switch(self) -> str:
        switch = self._part(self._name("S"), "rocker switch", f"panel {self._now.number}", mend=3)
        self.switches.append(switch)
        return switch

    @property
    def _now(self) -> _Zone:
        return self.zones[-1]

    # ------------------------------------------------------------ the frame of the machine

    def _core(self) -> None:
        self._part("battery", "battery 12 V", "battery box", mend=3)
        self._part("main stud", "splice", "battery box")
        self._part("G0", "ground stud, on frame", "battery box")
        self._chain("battery.+", "main stud", mm2=50.0, metres=0.5)
        self._chain("battery.-", "G0", mm2=50.0, metres=0.5)
        self._part("FL0", "fusible link 60 A", "battery box")
        self._part("key switch", "key switch", "console", mend=4)
        self._part("bus 15", "splice", "fuse box 1")
        self._chain("main stud", "FL0", "key switch.30", mm2=10.0)
        self._chain("key switch.15", "bus 15", mm2=10.0)
        self.loom += [
            "section main feed: battery box to fuse box 1, 1.4 m, open 6 min, close 5 min",
            "section console riser: fuse box 1 to console, 1.1 m, open 5 min, close 4 min",
            "spot floor plate: in console riser at 0.4 m, floor",
        ]
        self._zone()
        self._unit()

    def _zone(self) -> None:
        """The next zone: the first is fed by the key, the others by a relay the key pulls in."""
        k = len(self.zones) + 1
        body = ("frame", "engine", "frame", "cab")[k % 4]
        if body != "frame" and f"{body} strap" not in self.count:
            self.count[f"{body} strap"] = 1
            self._part(f"{body} strap", f"ground strap, on {body} / frame", "battery box")
            self.size += 4
        run, arm = self.rng.uniform(0.6, 2.5), self.rng.uniform(0.4, 1.2)
        if k > 1:
            start = f"fuse box {int(self.rng.integers(1, k))}"
            self.loom.append(
                f"section box link {k}: {start} to fuse box {k}, {run:.2f} m, open 4 min, close 3 min"
            )
        self.loom += [
            f"section run {k}: fuse box {k} to bulkhead {k}, {run:.2f} m, open 4 min, close 3 min",
            f"section trunk {k}: bulkhead {k} to head {k}, {arm:.2f} m, open 3 min, close 2 min",
            f"section arm lead {k}: head {k} to arm {k}, {arm:.2f} m, open 3 min, close 2 min",
            f"section panel lead {k}: fuse box {k} to panel {k}, {run:.2f} m, open 5 min, close 4 min",
            f"spot edge {k}: in run {k} at {run / 2:.2f} m, {self.rng.choice(('edge', 'hinge', 'clip'))}",
            f"spot hot {k}: in trunk {k} at {arm / 2:.2f} m, {self.rng.choice(('hot', 'wet', 'clip'))}",
        ]
        stud = self._part(f"G{k}", f"ground stud, on {body}", f"head {k}")
        zone = _Zone(number=k, feed="bus 15", stud=stud)
        self.zones.append(zone)
        if k == 1:
            return
        zone.feed = self._part(f"bus {k}", "splice", f"fuse box {k}")
        link = self._part(f"FL{k}", "fusible link 60 A", "battery box")
        relay = self._part(
            self._name("K"), "relay 12 V, suppressed resistor", f"fuse box {k}", mend=1
        )
        self._chain("main stud", link, f"{relay}.30", mm2=10.0)
        self._chain(f"{relay}.87", zone.feed, mm2=10.0, metres=0.1)
        self._chain("bus 15", f"{relay}.86", mm2=1.0)
        self._chain(f"{relay}.85", zone.stud, mm2=1.0)

    def _unit(self) -> None:
        zone = self._now
        name = f"U{len(self.units) + 1}"
        self._part(name, "control unit", f"head {zone.number}", mend=4)
        fuse = self._fuse(zone, 10, 2.0)
        self._chain(fuse, f"{name}.1", mm2=1.5)
        self._chain(f"{name}.2", zone.stud, mm2=2.5)
        self.lines += [f"{name}.1: supply", f"{name}.2: ground"]
        self.last.append(f'code {name} 168/4 "supply low": supply < 10 V, key on run, for 5 s')
        self.size += 2 if not self.units else 16  # the bus comes last and is counted here
        self.units.append(_Unit(name=name, zone=zone))

    def _starting(self) -> None:
        self._part("starter", "starter, on engine", "starter", mend=6)
        self._part("alternator", "alternator 90 A, on engine", "alternator", mend=4)
        self._part("FL90", "fusible link 125 A", "battery box")
        relay = self._part(self._name("K"), "relay 12 V, suppressed diode", "fuse box 1", mend=1)
        lock = self._part("neutral switch", "neutral switch", "console", mend=4)
        if "engine strap" not in self.count:
            self.count["engine strap"] = 1
            self._part("engine strap", "ground strap, on engine / frame", "battery box")
            self.size += 4
        self._chain("main stud", "starter.30", mm2=50.0)
        self._chain("main stud", "FL90", "alternator.B+", mm2=35.0)
        self._chain("key switch.50", lock, f"{relay}.86", mm2=1.5)
        self._chain(f"{relay}.85", "G1", mm2=1.0)
        fuse = self._part(self._name("F"), "fuse 30 A", "battery box", mend=1)
        self._chain("main stud", fuse, f"{relay}.30", mm2=4.0)
        self._chain(f"{relay}.87", "starter.50", mm2=4.0)
        lamp = self._part("charge lamp", "lamp 3 W", "console", mend=4)
        self._chain("bus 15", lamp, "alternator.D+", mm2=0.75)
        self.loom += [
            "section starter run: battery box to starter, 1.2 m, open 5 min, close 4 min",
            "section alternator lead: starter to alternator, 0.6 m, open 4 min, close 2 min",
            "spot exhaust: in starter run at 0.8 m, hot",
        ]
        self.last.append("function engine cranks: needs starter, key crank")

    def _bus(self) -> None:
        """All units on one CAN pair, a terminator at each end."""
        first, end = self.units[0], self.units[-1]
        pairs = []
        self.size -= 14 * (len(self.units) - 1)
        for unit in self.units:
            at = f"head {unit.zone.number}"
            high = self._part(self._name("SPH"), "splice", at)
            low = self._part(self._name("SPL"), "splice", at)
            self._chain(f"{unit.name}.10", high, mm2=0.5, metres=0.2)
            self._chain(f"{unit.name}.11", low, mm2=0.5, metres=0.2)
            self.lines += [f"{unit.name}.10: CAN high", f"{unit.name}.11: CAN low"]
            pairs.append((high, low))
        for (high, low), (far_high, far_low) in pairwise(pairs):
            self._chain(high, far_high, mm2=0.5)
            self._chain(low, far_low, mm2=0.5)
        for unit, (high, low) in ((first, pairs[0]), (end, pairs[-1])):
            ohm = self._part(self._name("R"), "terminator 120 ohm", f"head {unit.zone.number}")
            self._chain(high, ohm, low, mm2=0.5, metres=0.2)

    # ------------------------------------------------------------ circuits

    def _lamp(self) -> None:
        zone, watts = self._now, float(self.rng.choice([5.0, 10.0, 21.0]))
        lamp = self._part(self._name("lamp"), f"lamp {watts:g} W", self._place(zone))
        fuse, switch = self._fuse(zone, 5, watts / 12), self._switch()
        self._chain(fuse, switch, lamp, zone.stud)
        self.last.append(f"function {lamp} lights: needs {lamp}, key on, with {switch}")

    def _lamps_on_a_relay(self, across: str = "") -> None:
        zone = self._now
        switch = self._switch()
        across = across or str(self.rng.choice(("no", "diode", "resistor")))
        relay = self._part(
            self._name("K"),
            f"relay 12 V, suppressed {across}",
            f"fuse box {zone.number}",
            mend=1,
        )
        place = self._place(zone)
        splice = self._part(self._name("SP"), "splice", place)
        watts = float(self.rng.choice([21.0, 35.0, 55.0]))
        lamps = [
            self._part(self._name("lamp"), f"lamp {watts:g} W", place)
            for _ in range(1 if self.target - self.size < 70 else 2)
        ]
        fuse = self._fuse(zone, 10, len(lamps) * watts / 12)
        self._chain(fuse, f"{relay}.30", mm2=2.5, metres=0.2)
        self._chain(f"{relay}.87", self._way(zone), splice, mm2=2.5)
        for lamp in lamps:
            self._chain(splice, lamp, zone.stud, mm2=1.5)
        self._chain(zone.feed, switch, f"{relay}.86", mm2=0.75)
        self._chain(f"{relay}.85", zone.stud, mm2=0.75)
        self.last.append(
            f"function {lamps[0]} lights: needs {' , '.join(lamps)}, key on, with {switch}"
        )

    def _valve(self) -> None:
        """A coil between the feed and a driver of a unit; every second one has a diode across it."""
        zone, unit = self._now, self._some_unit()
        valve = self._part(self._name("valve"), "solenoid 18 W", self._place(zone))
        fuse = self._fuse(zone, 5, 1.5)
        unit.pin += 1
        driver = f"{unit.name}.{unit.pin}"
        if self.rng.random() < 0.5:
            at = f"head {zone.number}"
            above = self._part(self._name("SP"), "splice", at)
            below = self._part(self._name("SP"), "splice", at)
            diode = self._part(self._name("D"), "diode 3 A", at)
            self._chain(fuse, self._way(zone), above)
            self._chain(above, valve, below)
            self._chain(below, diode, above, mm2=0.75, metres=0.1)
            self._chain(below, driver)
        else:
            self._chain(fuse, self._way(zone), valve, driver)
        kind = self.rng.choice(("low side driver, in run", "PWM driver, in crank run"))
        self.lines.append(f"{driver}: {kind}")
        code = 520000 + len(self.last)
        self.last.append(
            f'code {unit.name} {code}/5 "{valve} open": {driver} < 0.1 A, key run, for 1 s'
        )
        self.last.append(f"function {valve} works: needs {valve}, key run")

    def _pump(self) -> None:
        zone, unit = self._now, self._some_unit()
        amps = float(self.rng.choice([3.0, 4.5, 6.0]))
        pump = self._part(self._name("pump"), f"pump {amps:g} A", self._place(zone))
        relay = self._part(
            self._name("K"),
            f"relay 12 V, suppressed {self.rng.choice(('no', 'diode'))}",
            f"fuse box {zone.number}",
            mend=1,
        )
        fuse = self._fuse(zone, 5, amps)
        unit.pin += 1
        driver = f"{unit.name}.{unit.pin}"
        self._chain(fuse, f"{relay}.30", mm2=2.5, metres=0.2)
        self._chain(f"{relay}.87", self._way(zone), pump, zone.stud, mm2=2.5)
        self._chain(zone.feed, f"{relay}.86", mm2=0.75, metres=0.2)
        self._chain(f"{relay}.85", driver, mm2=0.75)
        self.lines.append(f"{driver}: low side driver, in on crank run")
        code = 520000 + len(self.last)
        self.last.append(f'code {unit.name} {code}/5 "{relay} open": {driver} < 0.05 A, for 1 s')
        self.last.append(f"function {pump} runs: needs {pump}, key on")

    def _sensors(self) -> None:
        """A 5 V group with two to four ratiometric sensors behind splices."""
        zone, unit = self._now, self._some_unit()
        letter = chr(ord("A") + unit.group)
        unit.group += 1
        room = self.target - self.size
        many = 2 if room < 90 else int(self.rng.integers(2, 5))
        place = self._place(zone)
        five = self._part(self._name("SP"), "splice", place)
        ground = self._part(self._name("SP"), "splice", place)
        supply, minus = f"{unit.name}.{unit.pin + 1}", f"{unit.name}.{unit.pin + 2}"
        unit.pin += 2
        plugged = room > 120
        self._chain(supply, *([self._way(zone)] if plugged else []), five, mm2=0.75)
        self._chain(minus, *([self._way(zone)] if plugged else []), ground, mm2=0.75)
        self.lines += [f"{supply}: 5 V group {letter}", f"{minus}: ground"]
        self.lines.append(f"group {unit.name} {letter}: 5 V, limit 100 mA")
        self.size += 1
        base = 3000 + 40 * len(self.last)
        self.last.append(
            f'code {unit.name} {base}/4 "sensor supply {letter} low": group {letter} < 4.6 V, for 1 s'
        )
        for k in range(many):
            sensor = self._part(
                self._name("sensor"),
                f"three-wire sensor, rest {int(self.rng.integers(8, 20))} %, "
                f"running {int(self.rng.integers(25, 60))} %",
                place,
            )
            unit.pin += 1
            pin = f"{unit.name}.{unit.pin}"
            self._chain(five, f"{sensor}.3", mm2=0.75)
            self._chain(ground, f"{sensor}.1", mm2=0.75)
            self._chain(f"{sensor}.2", *([self._way(zone)] if plugged else []), pin, mm2=0.75)
            pull = ("pull up 47 kohm to group " + letter, "pull down 100 kohm")[k % 2]
            self.lines.append(f"{pin}: analogue input, {pull}")
            self.last += [
                f'code {unit.name} {base + k + 1}/4 "{sensor} low": {pin} < 0.25 V, for 2 s',
                f'code {unit.name} {base + k + 1}/3 "{sensor} high": {pin} > 4.75 V, for 2 s',
            ]

    def _thermistors(self) -> None:
        zone, unit = self._now, self._some_unit()
        minus = f"{unit.name}.{unit.pin + 1}"
        pin = f"{unit.name}.{unit.pin + 2}"
        unit.pin += 2
        sensor = self._part(self._name("thermistor"), "thermistor", self._place(zone))
        self._chain(pin, self._way(zone), f"{sensor}.1", mm2=0.75)
        self._chain(f"{sensor}.2", self._way(zone), minus, mm2=0.75)
        self.lines += [f"{pin}: analogue input, pull up 2.2 kohm to supply", f"{minus}: ground"]

    def _read_switch(self) -> None:
        zone, unit = self._now, self._some_unit()
        unit.pin += 1
        pin = f"{unit.name}.{unit.pin}"
        switch = self._switch()
        self._chain(zone.feed, switch, pin, mm2=0.75)
        self.lines.append(f"{pin}: digital input")

    def _lamp_on_two_diodes(self) -> None:
        """A warning lamp fed by either of two switches, a diode in each path."""
        zone = self._now
        panel = f"panel {zone.number}"
        splice = self._part(self._name("SP"), "splice", panel)
        lamp = self._part(self._name("lamp"), "lamp 5 W", panel)
        fuse = self._fuse(zone, 5, 0.5)
        node = self._part(self._name("SP"), "splice", panel)
        self._chain(fuse, node)
        for _ in range(2):
            diode = self._part(self._name("D"), "diode 3 A", panel)
            self._chain(node, self._switch(), diode, splice, mm2=0.75)
        self._chain(splice, lamp, zone.stud, mm2=0.75)

    def _some_unit(self) -> _Unit:
        return self.units[int(self.rng.integers(len(self.units)))]
