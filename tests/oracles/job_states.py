"""Job states drawn at random: where a job may stand, and what may be believed then, however odd."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.defects.model import Defects
from backprobe.findings.fold import fold
from backprobe.findings.model import (
    Act,
    AnyFinding,
    CodesFound,
    Failing,
    FuseFound,
    JobState,
    Reading,
    Works,
)
from backprobe.kinds import KINDS
from backprobe.suspects.model import NOT_IN_BOOK, Belief

FUSES = ("fuse", "fusible link")


class States:
    """Draws job states of one machine."""

    def __init__(self, book: Book, defects: Defects, usual: Sequence[Situation], seed: int) -> None:
        self.book, self.defects, self.usual = book, defects, tuple(usual)
        self.rng = np.random.default_rng(seed)
        plugged = [name for name, part in book.parts.items() if KINDS[part.kind].joint == "plug"]
        self.fuses = [name for name in plugged if book.parts[name].kind in FUSES]
        self.plugs = [name for name in plugged if name not in self.fuses]
        self.switches = sorted({c for f in book.functions.values() for c in f.commands})
        self.nodes = [f"{w.a.part}.{w.a.pin}{w.a.side}" for w in book.wires.values()]
        self.lived = [self._situation(often_plain=0.5) for _ in range(8)]
        self.starts = [self._situation(often_plain=0.2) for _ in range(20)]

    def state(self) -> JobState:
        """Where a job stands."""
        rng = self.rng
        found = [self._finding() for _ in range(int(rng.integers(0, 5)))]
        start = self.starts[int(rng.integers(len(self.starts)))]
        return fold(found, start=start, usual_life=self.usual)

    def belief(self) -> Belief:
        """A belief over some atoms: near each other, or anywhere."""
        rng, atoms = self.rng, self.defects.atoms
        first = int(rng.integers(1, len(atoms)))
        owners = set(atoms[first].owners)
        near = [k for k, atom in enumerate(atoms) if k and owners & set(atom.owners)]
        some = rng.integers(1, len(atoms), int(rng.integers(0, 12)))
        chosen = np.unique([first, *near[:20], *some])
        share = rng.dirichlet(np.full(chosen.size, 0.6)) * 0.95
        present = float(rng.choice([1.0, 0.5, 0.05]))
        sometimes = rng.integers(0, 2, chosen.size)
        chance = np.zeros(len(atoms))
        chance[chosen] = share
        return Belief(
            atom=np.concatenate([[0], chosen, [NOT_IN_BOOK]]),
            sometimes=np.concatenate([[0], sometimes, [0]]),
            chance=np.concatenate([[0.02], share, [0.03]]),
            present=np.concatenate([[1.0], np.where(sometimes == 1, present, 1.0), [1.0]]),
            hypothesis=chance[self.defects.atom_of] * self.defects.weight,
            evidence=0.0,
        )

    def _pick(self, names: Sequence[str], most: int) -> frozenset[str]:
        count = min(len(names), int(self.rng.integers(0, most + 1)))
        return frozenset(str(name) for name in self.rng.choice(names, count, replace=False))

    def _situation(self, often_plain: float) -> Situation:
        rng = self.rng
        key = str(rng.choice(["off", "on", "crank", "run"], p=[0.2, 0.5, 0.1, 0.2]))
        if rng.random() < often_plain:
            return Situation(key=key)
        return Situation(
            key=key,
            on=self._pick(self.switches, 3),
            unplugged=self._pick(self.plugs, 2) if key != "run" else frozenset(),
            pulled=self._pick(self.fuses, 1),
            battery_off=key == "off" and rng.random() < 0.3,
        )

    def _finding(self) -> AnyFinding:
        rng = self.rng
        situation = self.lived[int(rng.integers(len(self.lived)))]
        visit = int(rng.integers(1, 3))
        ident = f"f{rng.integers(1 << 30)}"
        sort = rng.integers(8)
        if sort < 2 and self.book.codes:
            unit, code = list(self.book.codes)[int(rng.integers(len(self.book.codes)))]
            return CodesFound(id=ident, visit=visit, situation=situation, unit=unit, active=(code,))
        if sort == 2:
            answer = str(rng.choice(["yes", "gone", "only when"]))
            wet = "wet" if answer == "only when" else ""
            return Failing(id=ident, visit=visit, situation=situation, answer=answer, condition=wet)
        if sort == 3:
            fuse = str(rng.choice(self.fuses))
            state = str(rng.choice(["blown", "looks good", "blew", "held"]))
            return FuseFound(id=ident, visit=visit, situation=situation, fuse=fuse, state=state)
        if sort == 4:
            act = str(rng.choice(["unplugged", "plugged"]))
            plug = str(rng.choice(self.plugs))
            return Act(id=ident, visit=visit, situation=situation, act=act, target=plug)
        if sort == 5:
            act = str(rng.choice(["pulled", "fitted", "replaced"]))
            fuse = str(rng.choice(self.fuses))
            return Act(id=ident, visit=visit, situation=situation, act=act, target=fuse)
        if sort == 6:
            name = str(rng.choice(list(self.book.functions)))
            works = bool(rng.random() < 0.5)
            return Works(id=ident, visit=visit, situation=situation, target=name, works=works)
        node = str(rng.choice(self.nodes))
        volts = float(rng.choice([0.0, 5.0, 12.0]))
        return Reading(id=ident, visit=visit, situation=situation, p=node, value=volts)
