"""Defects as frozen arrays. An atom is one physical thing gone wrong (kind x place); a
hypothesis is an atom at one severity. Hypothesis 0 is "healthy" and belongs to atom 0.

Shapes: A atoms, H hypotheses, P probes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from backprobe.book.situations import Situation

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]


TO_GROUND = "to ground"
RUBBED = "wire to wire"
"""Kinds of atoms: a wire rubbed through to metal, two wires rubbed through to each other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceShare:
    """One place a defect may sit at: words ("hinge pin"), section, metres along it, share of 1."""

    words: str
    section: str
    at_m: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Atom:
    """One physical defect without its severity.

    `id`: stable slug; `words`: reads well ("wire 31 rubbed through to ground at the hinge pin");
    `kind`: failure name; `group`: what would be opened or replaced to mend it (key of groups);
    `owners`: the parts, plugs, wires, sections it sits on (a check that touches one disturbs it);
    `rate`: per 1000 machine years; `sometimes`: share that comes and goes; `wet`/`hot`/`moved`:
    factor on the chance of showing in that condition; `visible`: chance a close look shows it;
    `second`: of two faults, the group of the one that is mended second.
    """

    id: str
    words: str
    kind: str
    group: str
    owners: tuple[str, ...]
    rate: float
    source: str
    sometimes: float = 0.2
    wet: float = 1.0
    hot: float = 1.0
    moved: float = 1.0
    visible: float = 0.2
    places: tuple[PlaceShare, ...] = ()
    second: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairGroup:
    """One thing a technician would open or replace. `words` names it, `mend_s` is the repair
    with proof, without access; `access` the plugs, parts or sections to open first."""

    key: str
    words: str
    mend_s: float
    access: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Defects:
    """All defects of a book. `atom_of` (H,) maps hypotheses to atoms; `weight` (H,) sums to 1
    within an atom; `spread` (H,) is the factor its severity stands for (1 = exact). `halves` (H, 2):
    the two hypotheses one of two faults is made of, -1 for a single; None when all are singles. `single`:
    the atoms of singles, with which `atoms` begins; () when there are no others. `loose` (H,): volts from
    end to end that a source given with its ohms is open by, None when there is none."""

    atoms: tuple[Atom, ...]
    groups: tuple[RepairGroup, ...]
    atom_of: Ints
    weight: Floats
    ohm: Floats
    spread: Floats
    halves: Ints | None = None
    single: tuple[Atom, ...] = ()
    loose: Floats | None = None

    def only(self, rows: Ints) -> Defects:
        """Some hypotheses; atoms keep their numbers, weights are not scaled. Two faults of which a
        half is left out count as a single; of one taken twice the first is meant."""
        halves = self.halves
        if halves is not None:
            place = np.full(self.atom_of.size + 1, -1)
            place[rows[::-1]] = np.arange(rows.size)[::-1]
            halves = place[halves[rows]]
            halves[(halves < 0).any(axis=1)] = -1
        return replace(
            self,
            atom_of=self.atom_of[rows],
            weight=self.weight[rows],
            ohm=self.ohm[rows],
            spread=self.spread[rows],
            halves=halves,
            loose=None if self.loose is None else self.loose[rows],
        )

    @property
    def twofold(self) -> Ints:
        """Hypotheses of two faults, rising."""
        if self.halves is None:
            return np.zeros(0, np.int64)
        return np.flatnonzero(self.halves[:, 0] >= 0)

    def with_halves(self, rows: Ints) -> Ints:
        """Hypotheses, rising, and the singles that those of two faults among them are made of."""
        if self.halves is None:
            return np.unique(rows)
        more = self.halves[rows].ravel()
        return np.union1d(rows, more[more >= 0]).astype(np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """Something that can be read. Nodes are printed names; "battery minus" is the usual n.

    "volts": voltmeter of `meter_ohm` between p and n; "amps": current of branch p (a wire id or
    "part/branch"); "ohms": ohmmeter between p and n (situation must be dead there);
    "share": |current| of a part's load branch over its healthy value in the same situation;
    "inner": unloaded v(p) - v(n), what a unit itself senses;
    "transfer": ohms from the pair (p, n) to the pair (p2, n2), for the bus;
    "diode": volts a diode tester shows from p (red) to n, its 1 mA flowing, 3 V when nothing
    conducts (situation must be dead there). The ohm range itself opens no junction.
    """

    kind: Literal["volts", "amps", "ohms", "share", "inner", "transfer", "diode"]
    p: str
    n: str = "battery minus"
    p2: str = ""
    n2: str = ""
    meter_ohm: float = 10e6


SLOPES = ("battery", "contacts", "temperature")
"""The shared unknowns: battery emf (V), scale of all healthy contact resistances (ln), copper
temperature (K). Slopes are per unit of these; what else makes a reading less sure goes with the last."""
TEMPERATURE_SD = 15.0
"""Standard deviation of the copper's temperature, K. Judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What every hypothesis would read. mean (H,P); slope (H,P,3) by SLOPES; settled (H,)
    False where relays chatter and no steady reading exists; stand (H,) equal where all fuses, relays,
    units and regulators stand alike, None when that is not known."""

    mean: Floats
    slope: Floats
    settled: Flags
    stand: Ints | None = None

    def of_first(self) -> Seen:
        """The first hypothesis alone."""
        stand = None if self.stand is None else self.stand[:1]
        first = slice(0, 1)
        return Seen(
            mean=self.mean[first], slope=self.slope[first], settled=self.settled[first], stand=stand
        )

    def of_one(self, count: int) -> Seen:
        """As many hypotheses that all read as the first."""
        return Seen(
            mean=np.broadcast_to(self.mean[:1], (count, *self.mean.shape[1:])),
            slope=np.broadcast_to(self.slope[:1], (count, *self.slope.shape[1:])),
            settled=np.broadcast_to(self.settled[:1], (count,)),
            stand=None if self.stand is None else np.broadcast_to(self.stand[:1], (count,)),
        )


class Predictor(Protocol):
    """What the rooms above ask of the circuit. Implementations memoise by situation."""

    @property
    def defects(self) -> Defects:
        """All defects, in the order of the rows of every answer."""
        ...

    def seen(self, situation: Situation, probes: Sequence[Probe], *, gone: bool = False) -> Seen:
        """Readings under every hypothesis. `gone`: the defect is not showing now, but what it
        blew in `situation.after` stays blown. KeyError names an unknown node or branch."""
        ...

    def both(self, situation: Situation, probes: Sequence[Probe]) -> tuple[Seen, Seen]:
        """Readings while the defect shows and while it does not; the latter may be of one hypothesis
        alone where all read alike."""
        ...

    def state(
        self, situation: Situation, part: str, state: str, *, gone: bool = False
    ) -> NDArray[np.int8]:
        """(H,) index of the word of a part's discrete state ("F12", "blown") under every
        hypothesis, after settling."""
        ...

    def in_cells(self, rows: Ints) -> Predictor:
        """What hypothesis 0 reads, and each of some singles at every step through its severity cell
        (defects.in_cells.STEPS, evenly in ln(ohm)), one after the other."""
        ...
