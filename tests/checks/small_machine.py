"""A small invented machine, its kinds and a predictor of made-up readings, for the check tests."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf

import numpy as np

from backprobe.book.model import (
    Book,
    CodeRule,
    DisplayValue,
    End,
    Function,
    Group,
    Machine,
    Part,
    Pin,
    PinRole,
    Section,
    Test,
    WeakSpot,
    Wire,
)
from backprobe.defects.model import Atom, Defects, PlaceShare, RepairGroup, Seen
from backprobe.kinds.records import Kind
from backprobe.suspects.model import NOT_IN_BOOK, Belief, Verdict

ONE_LOAD = """
machine press, 12 V
G1: battery
F1: fuse 10 A
motor: heater 100 W, at cab
GP1: ground stud, on frame
G1.+ > F1.1, 4 mm2, RD, wire 1
F1.2 > motor.1, 2.5 mm2, RD, wire 2
motor.2 > GP1, 2.5 mm2, BN, wire 3
GP1 > G1.-, 16 mm2, BK, wire 4
function blower runs: needs motor, key on
"""
"""Another machine, as text: one load on one fuse, for tests on a real circuit."""


def kind(name, pins, joint="plug", load="", operated=""):
    return Kind(
        name=name,
        words=(name,),
        letter="X",
        meaning=name,
        attributes=(),
        pins=pins,
        joint=joint,
        load=load,
        operated=operated,
    )


KINDS = {
    k.name: k
    for k in (
        kind("battery", ("+", "-"), "stud"),
        kind("fuse", ("1", "2")),
        kind("plug", ()),
        kind("ground stud", ("1",), "stud"),
        kind("splice", ("1",), "crimp"),
        kind("lamp", ("1", "2"), load="filament"),
        kind("solenoid", ("1", "2"), load="coil", operated="coil"),
        kind("starter", ("30", "50"), "stud", load="motor"),
        kind("three-wire sensor", ("1", "2", "3")),
        kind("control unit", ()),
    )
}

PARTS = [
    Part(name="battery", kind="battery", where="battery box"),
    Part(name="F1", kind="fuse", where="fuse box", open_s=60.0, close_s=30.0, attrs={"amps": 10.0}),
    Part(
        name="X1",
        kind="plug",
        pins=("1", "2", "3", "4", "5"),
        where="under the seat",
        open_s=240.0,
        close_s=180.0,
    ),
    Part(name="X2", kind="plug", pins=("1",), where="belly pan", backprobe=False),
    Part(name="G1", kind="ground stud", body="frame", where="frame rail"),
    Part(name="J5", kind="splice", where="engine loom"),
    Part(name="work light", kind="lamp", where="cab roof"),
    Part(name="travel valve", kind="solenoid", where="valve block"),
    Part(name="starter", kind="starter", body="engine", where="engine left"),
    Part(name="rail sensor", kind="three-wire sensor", where="rail"),
    Part(name="boost sensor", kind="three-wire sensor", where="intake pipe"),
    Part(
        name="ECU",
        kind="control unit",
        body="frame",
        pins=("1", "2", "31", "32", "47", "60"),
        where="under the seat",
        open_s=240.0,
        close_s=240.0,
    ),
]


def wire(name, a, b, colour="RD", route=()):
    return Wire(
        id=name,
        name=name,
        a=End(*a),
        b=End(*b),
        area_m2=1e-6,
        length_m=1.0,
        colour=colour,
        route=route,
    )


WIRES = [
    wire("1", ("battery", "+"), ("F1", "1")),
    wire("2", ("battery", "-"), ("G1", "1"), "BK"),
    wire("3", ("battery", "+"), ("starter", "30")),
    wire("10", ("F1", "2"), ("X1", "1", "a"), "RD", ("seat run",)),
    wire("11", ("X1", "1", "b"), ("work light", "1"), "RDWH", ("hinge",)),
    wire("12", ("work light", "2"), ("G1", "1"), "BN"),
    wire("13", ("X1", "1", "a"), ("ECU", "1"), "RD"),
    wire("14", ("ECU", "2"), ("G1", "1"), "BN"),
    wire("41", ("ECU", "47"), ("X1", "2", "a"), "RDYE", ("seat run",)),
    wire("42", ("X1", "2", "b"), ("J5", "1"), "RDYE", ("hinge",)),
    wire("43", ("J5", "1"), ("rail sensor", "3"), "RDYE", ("hinge",)),
    wire("44", ("J5", "1"), ("boost sensor", "3"), "RDYE"),
    wire("51", ("rail sensor", "2"), ("X1", "3", "a"), "WH", ("hinge",)),
    wire("52", ("X1", "3", "b"), ("ECU", "31"), "WH"),
    wire("53", ("boost sensor", "2"), ("X1", "4", "a"), "WHBU"),
    wire("54", ("X1", "4", "b"), ("ECU", "32"), "WHBU"),
    wire("61", ("rail sensor", "1"), ("G1", "1"), "BN"),
    wire("62", ("boost sensor", "1"), ("G1", "1"), "BN"),
    wire("71", ("X2", "1", "b"), ("travel valve", "1"), "VT"),
    wire("72", ("F1", "2"), ("X2", "1", "a"), "VT"),
    wire("73", ("travel valve", "2"), ("ECU", "60"), "VTWH"),
]
ROLES = {
    Pin("ECU", "1"): ("supply", ""),
    Pin("ECU", "2"): ("ground", ""),
    Pin("ECU", "47"): ("5 V group", "A"),
    Pin("ECU", "31"): ("analogue input", ""),
    Pin("ECU", "32"): ("analogue input", ""),
    Pin("ECU", "60"): ("low side driver", ""),
}


def small_book():
    def rule(code, words, test):
        return CodeRule(unit="ECU", code=code, words=words, tests=(test,))

    rules = [
        rule("157/4", "rail pressure low", Test(kind="volts", pin=Pin("ECU", "31"), low=0.25)),
        rule("102/4", "boost pressure low", Test(kind="volts", pin=Pin("ECU", "32"), low=0.25)),
        rule("3509/4", "sensor supply low", Test(kind="rail", other="A", low=4.6)),
    ]
    return Book(
        machine=Machine(name="small machine"),
        parts={p.name: p for p in PARTS},
        wires={w.id: w for w in WIRES},
        sections={
            "seat run": Section(name="seat run", a="F1", b="X1", length_m=1.0, open_s=120.0),
            "hinge": Section(name="hinge", a="X1", b="J5", length_m=0.9, open_s=300.0),
        },
        spots={
            "hinge pin": WeakSpot(name="hinge pin", section="hinge", at_m=0.5, exposure="hinge")
        },
        roles={
            pin: PinRole(pin=pin, role=role, group=group) for pin, (role, group) in ROLES.items()
        },
        groups={("ECU", "A"): Group(unit="ECU", name="A", volts=5.0, limit_a=0.1)},
        codes={(r.unit, r.code): r for r in rules},
        displays={
            ("ECU", "rail pressure"): DisplayValue(
                unit="ECU",
                name="rail pressure",
                pin=Pin("ECU", "31"),
                low_v=0.5,
                high_v=4.5,
                low=0.0,
                high=1800.0,
                measure="bar",
            )
        },
        functions={
            "work light": Function(name="work light", needs=("work light",)),
            "travel": Function(
                name="travel",
                needs=("travel valve", "ECU"),
                key="run",
                commands=("travel lever",),
                moves=True,
            ),
        },
    )


def atom(number, words, group, owners, **more):
    return Atom(
        id=f"a{number}",
        words=words,
        kind="chafe",
        group=group,
        owners=owners,
        rate=1.0,
        source="test",
        **more,
    )


HINGE = (
    PlaceShare(words="hinge pin", section="hinge", at_m=0.5, share=0.8),
    PlaceShare(words="", section="hinge", at_m=0.1, share=0.2),
)
ATOMS = (
    atom(0, "healthy", "", ()),
    atom(
        1,
        "wire 42 rubbed through to ground at the hinge pin",
        "hinge",
        ("wire 42", "hinge"),
        wet=5.0,
        moved=4.0,
        visible=0.6,
        places=HINGE,
        sometimes=0.4,
    ),
    atom(
        2,
        "rail sensor shorted inside",
        "rail sensor",
        ("rail sensor",),
        sometimes=0.1,
        visible=0.05,
    ),
    atom(3, "boost sensor shorted inside", "boost sensor", ("boost sensor",), visible=0.05),
    atom(4, "F1 blown", "F1", ("F1",), visible=0.9),
    atom(
        5,
        "wire 10 open at the seat run",
        "seat run",
        ("wire 10", "seat run"),
        visible=0.4,
        places=(PlaceShare(words="", section="seat run", at_m=0.3, share=1.0),),
    ),
    atom(6, "X1 wet", "X1", ("X1",), wet=10.0, visible=0.5),
)
GROUPS = tuple(
    RepairGroup(key=a.group, words=a.group, mend_s=900.0, access=(a.group,)) for a in ATOMS[1:]
)


def small_defects(severities=2):
    count = len(ATOMS)
    atom_of = np.concatenate([[0], np.repeat(np.arange(1, count), severities)])
    weight = np.concatenate([[1.0], np.full((count - 1) * severities, 1.0 / severities)])
    ohm = np.concatenate([[0.0], np.tile(np.geomspace(1.0, 100.0, severities), count - 1)])
    return Defects(
        atoms=ATOMS,
        groups=GROUPS,
        atom_of=atom_of,
        weight=weight,
        ohm=ohm,
        spread=np.full(atom_of.size, 2.0),
    )


@dataclass
class MadeUp:
    """Readings drawn from a table by (situation key, node), or from a seed when not told."""

    told: dict = field(default_factory=dict)
    seed: int = 0
    defects: Defects = field(default_factory=small_defects)
    blown: dict = field(default_factory=dict)

    def _volts(self, situation, node):
        count = self.defects.atom_of.size
        if node == "battery minus" or situation.battery_off:
            return np.zeros(count)
        for key in ((situation.words(), node), node):
            if key in self.told:
                return np.asarray(self.told[key], float)
        name = f"{self.seed} {situation.words()} {node}"
        rng = np.random.default_rng(list(name.encode()))
        healthy = rng.choice([0.0, 0.05, 2.5, 5.0, 12.3])
        return np.where(rng.random(count) < 0.3, rng.choice([0.0, 4.0, 12.3], count), healthy)

    def seen(self, situation, probes, *, gone=False):
        count = self.defects.atom_of.size
        mean = np.zeros((count, len(probes)))
        for column, probe in enumerate(probes):
            if probe.kind in ("ohms", "transfer"):
                rng = np.random.default_rng(list(f"{self.seed} {probe.p} {probe.n}".encode()))
                mean[:, column] = rng.choice([0.3, 5.0, 2e3, inf], count)
            elif probe.kind == "share":
                mean[:, column] = np.clip(self._volts(situation, probe.p) / 12.3, 0, 1)
            else:
                away = self._volts(situation, probe.n) if probe.n else 0.0
                mean[:, column] = self._volts(situation, probe.p) - away
        if gone:
            mean = np.broadcast_to(mean[:1], mean.shape).copy()
        return Seen(
            mean=mean,
            slope=np.zeros((*mean.shape, 3)),
            settled=np.ones(count, bool),
        )

    def both(self, situation, probes):
        return self.seen(situation, probes), self.seen(situation, probes, gone=True)

    def state(self, _situation, part, state, *, gone=False):
        if state == "power":
            return np.ones(self.defects.atom_of.size, np.int8)
        if part not in self.blown:
            raise KeyError(part)
        found = np.asarray(self.blown[part], np.int8)
        return np.zeros_like(found) if gone else found


def believe(chances, *, sometimes=0.0, present=1.0, outside=0.02):
    """A belief over the atoms with these chances (by atom number), severities alike."""
    defects = small_defects()
    count = len(ATOMS)
    atoms = np.zeros(count)
    for number, chance in chances.items():
        atoms[number] = chance
    atoms *= (1.0 - outside) / atoms.sum()
    rows = np.concatenate([[0], np.arange(1, count), np.arange(1, count), [NOT_IN_BOOK]])
    some = np.concatenate([np.zeros(count), np.ones(count - 1), [0]]).astype(int)
    chance = np.concatenate(
        [atoms[:1], atoms[1:] * (1 - sometimes), atoms[1:] * sometimes, [outside]]
    )
    shows = np.where(some == 1, present, 1.0)
    return Belief(
        atom=rows,
        sometimes=some,
        chance=chance,
        present=shows,
        hypothesis=atoms[defects.atom_of] * defects.weight,
        evidence=0.0,
    )


OPEN = Verdict(suspects=(), not_in_book=0.02, healthy=0.0, contradictions=(), state="open")
