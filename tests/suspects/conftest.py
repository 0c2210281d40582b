"""A machine made of tables: what every hypothesis reads is written down, not solved."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import count
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from backprobe.book.model import Book, CodeRule, Function, Machine, Part, Pin, PinRole, Test
from backprobe.book.situations import Situation
from backprobe.defects.in_cells import STEPS, solved_at
from backprobe.defects.model import Atom, Defects, Probe, RepairGroup, Seen
from backprobe.findings.fold import fold
from backprobe.findings.model import AnyFinding, JobState


@dataclass(frozen=True)
class Tables:
    """Rows by place: healthy value first, then one per hypothesis. `slopes` (per place): volts
    per unit of battery, contacts, temperature, the same for all hypotheses unless an array;
    `stand`: as in Seen."""

    defects: Defects
    volts: Mapping[str, Sequence[float]] = field(default_factory=dict)
    slopes: Mapping[str, Sequence[float]] = field(default_factory=dict)
    states: Mapping[tuple[str, str], Sequence[int]] = field(default_factory=dict)
    latched: Mapping[tuple[str, str], Sequence[int]] = field(default_factory=dict)
    asked: list[tuple[Situation, int]] = field(default_factory=list)
    stand: Sequence[int] = ()
    laws: Mapping[str, Callable[[str, float], float]] = field(default_factory=dict)

    def seen(self, situation: Situation, probes: Sequence[Probe], *, gone: bool = False) -> Seen:
        """Means and slopes from the tables; a gone defect reads as the healthy machine."""
        self.asked.append((situation, len(probes)))
        rows = [np.asarray(self.volts[probe.p], float) for probe in probes]
        shown = [np.full_like(row, row[0]) if gone else row for row in rows]
        mean = np.stack([np.empty(self.defects.atom_of.size), *shown], axis=1)[:, 1:]
        slope = np.zeros((*mean.shape, 3))
        for number, probe in enumerate(probes):
            slope[:, number] = self.slopes.get(probe.p, (0.0, 0.0, 0.0))
        return Seen(
            mean=mean,
            slope=slope,
            settled=np.ones(mean.shape[0], bool),
            stand=np.array(self.stand, np.int64) if self.stand else None,
        )

    def both(self, situation: Situation, probes: Sequence[Probe]) -> tuple[Seen, Seen]:
        """Present and gone."""
        return self.seen(situation, probes), self.seen(situation, probes, gone=True)

    def state(
        self, situation: Situation, part: str, state: str, *, gone: bool = False
    ) -> NDArray[np.int8]:
        """State words from the tables; latched ones stay when the machine was lived in."""
        row = np.asarray(self.states[part, state], np.int8)
        if gone:
            lasting = (part, state) in self.latched and situation.after is not None
            return row if lasting else np.full_like(row, row[0])
        return row

    def in_cells(self, rows: NDArray[np.int64]) -> Tables:
        """Each of some hypotheses through its cell: by `laws` (place: volts of an atom's id and ohms) where
        they are known, else straight in ln(ohm) between those beside it; things stand as at the nearest."""
        defects = self.defects
        some = np.append(0, np.repeat(rows, STEPS))
        steps = solved_at(defects.only(some))
        nearest, volts = some.copy(), {place: [row[0]] for place, row in self.volts.items()}
        for k in range(1, some.size):
            mine = np.flatnonzero(defects.atom_of == defects.atom_of[some[k]])
            ohm, grid = np.log(steps.ohm[k]), np.log(defects.ohm[mine])
            nearest[k] = mine[np.argmin(np.abs(grid - ohm))]
            for place, row in self.volts.items():
                if place in self.laws:
                    atom = defects.atoms[steps.atom_of[k]].id
                    volts[place].append(self.laws[place](atom, float(steps.ohm[k])))
                else:
                    volts[place].append(float(np.interp(ohm, grid, np.asarray(row, float)[mine])))
        return replace(
            self,
            defects=steps,
            volts=volts,
            states={key: np.asarray(row)[nearest] for key, row in self.states.items()},
            stand=[self.stand[n] for n in nearest] if self.stand else (),
            slopes={
                key: np.asarray(row)[nearest] if np.ndim(row) > 1 else row
                for key, row in self.slopes.items()
            },
        )


@dataclass
class Bench:
    """Builds small machines and jobs."""

    _ids: Any = field(default_factory=lambda: count(1))

    def atom(self, name: str, **facts: Any) -> Atom:
        """An atom that is its own group and owner, unless said otherwise."""
        given = {
            "id": name,
            "words": f"{name} is bad",
            "kind": "bad",
            "group": name,
            "owners": (name,),
            "rate": 1.0,
            "source": "test",
        }
        return Atom(**(given | facts))

    def defects(
        self,
        *atoms: Atom,
        cells: Mapping[str, Sequence[tuple[float, float, float]]] | None = None,
    ) -> Defects:
        """Defects of atoms; `cells` by atom id: (ohm, spread, weight). One exact cell otherwise."""
        healthy = self.atom("healthy", group="", owners=(), rate=0.0, sometimes=0.0)
        every = (healthy, *atoms)
        rows = [
            (number, *cell)
            for number, atom in enumerate(every)
            for cell in (cells or {}).get(atom.id, [(np.inf, 1.0, 1.0)])
        ]
        table = np.array(rows, float)
        groups = {atom.group: atom for atom in atoms}
        return Defects(
            atoms=every,
            groups=tuple(
                RepairGroup(key=key, words=key, mend_s=900.0, access=()) for key in groups
            ),
            atom_of=table[:, 0].astype(np.int64),
            ohm=table[:, 1],
            spread=table[:, 2],
            weight=table[:, 3],
        )

    def book(self, *rules: CodeRule, parts: Sequence[str] = (), **facts: Any) -> Book:
        """A 12 V book with unit "U" and these code rules."""
        names = {"U": "control unit", **dict.fromkeys(parts, "lamp")}
        return Book(
            machine=Machine(name="bench"),
            parts={name: Part(name=name, kind=kind) for name, kind in names.items()},
            wires={},
            roles={Pin("U", "1"): PinRole(pin=Pin("U", "1"), role="supply")},
            codes={(rule.unit, rule.code): rule for rule in rules},
            **facts,
        )

    def low(self, code: str, pin: str, below: float = 0.5, **facts: Any) -> CodeRule:
        """A rule: the pin is below a voltage."""
        test = Test(kind="volts", pin=Pin("U", pin), low=below)
        return CodeRule(unit="U", code=code, words=f"{pin} low", tests=(test,), **facts)

    def function(self, name: str, *needs: str) -> Function:
        """A function that needs parts, units or codes not active."""
        return Function(name=name, needs=needs)

    def tables(self, defects: Defects, **rows: Any) -> Tables:
        """A predictor of tables."""
        return Tables(defects=defects, **rows)

    def job(self, *findings: AnyFinding, **facts: Any) -> JobState:
        """The job of these findings."""
        return fold(findings, **facts)

    def id(self) -> str:
        """A fresh id."""
        return f"f{next(self._ids)}"


@pytest.fixture
def bench() -> Bench:
    """A bench to build small machines on."""
    return Bench()
