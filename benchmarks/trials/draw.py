"""What is wrong with a machine that comes in: drawn at random, with a complaint to show for it."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from math import isfinite, log

import numpy as np

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.circuit.net import Net
from backprobe.defects.model import Atom, Floats
from backprobe.defects.pairs import pairs_of_one_cause
from backprobe.defects.predict import Circuit
from backprobe.kinds.records import Change
from backprobe.shop.outlook import usual_life
from backprobe.suspects.factor import RHO
from backprobe.suspects.meters import METERS
from backprobe.suspects.worlds import BATTERY_SD, CONTACTS_SD, TEMPERATURE_SD
from oracles.decode import changes_of
from oracles.one_at_a_time import Tap
from oracles.solved_apart import Apart, RestlessError, shifted
from oracles.technician import HANDHELD, Hidden
from trials.books import MACHINES, book_of

STRATA = ("single", "many-pin", "pair", "sometimes")
MODES = ("matched", "mismatched")
MANY = 3
"""Changes from which on a defect is one of many pins."""
AS_WEIGHED = {
    does: (METERS[name].floor, METERS[name].share)
    for does, name in {
        "volts": "meter", "ohms": "ohmmeter", "amps": "clamp", "millivolts": "millivolts",
    }.items()
}  # fmt: skip
"""How meters err by the weighing itself: what lengths and parts add is in it."""
BY_CHANCE = 0.045 / 0.95
"""Pairs that have nothing to do with each other, per single. Judgement."""
TOLD = 0.7
"""Share of operators who know the condition in which a fault shows."""


@dataclass(frozen=True)
class Fault:
    """A defect and what it changes in the circuit."""

    atom: Atom
    changes: tuple[Change | Tap, ...]


@dataclass
class Field:
    """A machine as it is, its circuit as a list of what may go wrong."""

    name: str
    circuit: Circuit = field(init=False)

    def __post_init__(self) -> None:
        self.circuit = Circuit.of(book_of(self.name))

    @property
    def book(self) -> Book:
        """The true book."""
        return self.circuit.book

    @cached_property
    def life(self) -> tuple[Situation, ...]:
        """What the machine goes through in a day."""
        return usual_life(self.book)

    @cached_property
    def rate(self) -> Floats:
        """(H,) rate of every hypothesis."""
        defects = self.circuit.defects
        rate: Floats = np.array([atom.rate for atom in defects.atoms])[defects.atom_of]
        return rate * defects.weight

    @cached_property
    def one_cause(self) -> tuple[object, object, Floats, float]:
        """Pairs of one cause, their rates, and the share of all pairs that they are."""
        pairs = pairs_of_one_cause(self.circuit)
        common = float(pairs.rate.sum())
        apart = float(self.rate.sum()) * BY_CHANCE
        return pairs.first, pairs.second, pairs.rate, common / (common + apart)


@lru_cache(maxsize=len(set(MACHINES)))
def field_of(name: str) -> Field:
    """A machine, made once a process."""
    return Field(name)


@dataclass(frozen=True)
class Case:
    """One machine with its defects. `rho`: chance that they show in a visit, None = always;
    `condition` in which they show; `told`: the operator knows it; `now`: they show on arrival."""

    name: str
    faults: tuple[Fault, ...]
    apart: Apart
    rho: float | None = None
    condition: str = ""
    told: bool = False
    now: bool = True
    places: tuple[str, ...] = ()

    def hidden(self, seed: int, *, matched: bool) -> Hidden:
        """The machine as a technician meets it, before anything is done to it."""
        return Hidden(
            book=book_of(self.name),
            atoms=tuple(fault.atom for fault in self.faults),
            shows=self.apart.again(),
            places=self.places,
            condition=self.condition,
            seed=seed,
            meters=AS_WEIGHED if matched else HANDHELD,
        )


def drawn(of: Field, stratum: str, mode: str, rng: np.random.Generator, book: int) -> Case:
    """A machine with a complaint. Mismatched: every rate is off by a lognormal factor that goes
    with the wrong book."""
    rate = of.rate
    if mode == "mismatched":
        own = np.random.default_rng([book, len(of.rate), 99])
        atoms = own.lognormal(0.0, 1.0, len(of.circuit.defects.atoms))
        rate = rate * atoms[of.circuit.defects.atom_of]
    for _ in range(400):
        case = _case(of, stratum, rate, rng, even=mode == "mismatched")
        if case is not None and _complained(of, case):
            return case
    raise RuntimeError(f"{of.name}: no {stratum} with a complaint")


def as_it_came(of: Field, rng: np.random.Generator) -> Net:
    """The machine's network with battery, contacts and warmth of its own."""
    return shifted(
        of.circuit.net,
        battery_v=float(rng.normal(0.0, BATTERY_SD * of.book.machine.volts)),
        contacts=float(rng.normal(0.0, CONTACTS_SD)),
        warmer_k=float(rng.normal(0.0, TEMPERATURE_SD)),
    )


def _case(
    of: Field, stratum: str, rate: Floats, rng: np.random.Generator, *, even: bool
) -> Case | None:
    many = np.diff(of.circuit.cases.start) >= MANY
    if stratum == "many-pin":
        rate = np.where(many, rate, 0.0)
    elif stratum in ("single", "sometimes"):
        rate = np.where(many, 0.0, rate)
    if stratum == "pair":
        first, second, common, share = of.one_cause
        if rng.random() < share:
            k = int(rng.choice(len(common), p=common / common.sum()))
            chosen = [int(first[k]), int(second[k])]  # type: ignore[index]
        else:
            chosen = [int(h) for h in rng.choice(len(rate), 2, p=rate / rate.sum())]
    else:
        if stratum == "sometimes":
            comes = np.array([atom.sometimes for atom in of.circuit.defects.atoms])
            rate = rate * comes[of.circuit.defects.atom_of]
        chosen = [int(rng.choice(len(rate), p=rate / rate.sum()))]
    faults = tuple(fault(of.circuit, h, rng) for h in chosen)
    if len({f.atom.group for f in faults}) < len(faults):
        return None
    net = as_it_came(of, rng)
    changes = tuple(change for f in faults for change in f.changes)
    # Sound, with this very battery: one that is full takes less, and its charging works.
    apart = Apart(of.book, net, changes, nominal=Apart(of.book, net))
    case = Case(name=of.name, faults=faults, apart=apart)
    return _comes_and_goes(case, rng, even=even) if stratum == "sometimes" else case


def fault(circuit: Circuit, hypothesis: int, rng: np.random.Generator) -> Fault:
    """A hypothesis with its severity anywhere within its cell, and bare anywhere nearby."""
    defects = circuit.defects
    reach = log(max(float(defects.spread[hypothesis]), 1.0))
    factor = float(np.exp(rng.uniform(-reach, reach)))
    aside = float(rng.uniform(-0.1, 0.1))

    def anew(change: Change | Tap) -> Change | Tap:
        ohm = getattr(change, "ohm", np.inf)
        if isfinite(ohm):
            change = replace(change, ohm=ohm * factor)  # type: ignore[type-var]
        if isinstance(change, Tap):
            change = replace(change, t=float(np.clip(change.t + aside, 0.01, 0.99)))
        return change

    made = changes_of(circuit.net, circuit.ports, circuit.cases, hypothesis)
    return Fault(
        atom=defects.atoms[defects.atom_of[hypothesis]],
        changes=tuple(anew(change) for change in made),
    )


def _comes_and_goes(case: Case, rng: np.random.Generator, *, even: bool) -> Case:
    """The same fault showing at times only: in a condition, and at a place along its wire."""
    atom = case.faults[0].atom
    factors = {name: getattr(atom, name) for name in ("wet", "hot", "moved")}
    best = max(factors, key=lambda name: factors[name])
    condition = best if factors[best] > 1.5 else "moved"
    rho = float(rng.uniform(0.05, 0.95)) if even else float(rng.choice(RHO))
    places: tuple[str, ...] = ()
    if atom.places:
        share = np.array([place.share for place in atom.places])
        place = atom.places[int(rng.choice(len(share), p=share / share.sum()))]
        places = tuple(name for name in (place.section, place.words, *atom.owners) if name)
    return replace(
        case,
        rho=rho,
        condition=condition,
        told=bool(rng.random() < TOLD),
        now=bool(rng.random() < rho),
        places=places,
    )


def _complained(of: Field, case: Case) -> bool:
    """Whether every one of the defects alone is noticed in a day, and all of it comes to rest."""
    apart = [case.apart]
    if len(case.faults) > 1:
        apart = [
            replace(case.apart, changes=one.changes, _ends=OrderedDict(), _read=OrderedDict())
            for one in case.faults
        ]
    try:
        if not all(noticed(of, Hidden(book=of.book, atoms=(), shows=one.again())) for one in apart):
            return False
        whole = case.apart.again()
        for situation in of.life:
            whole.live(situation)
    except RestlessError:
        return False
    return True


def noticed(of: Field, hidden: Hidden) -> bool:
    """Whether the day shows a code or a function that does not work."""
    for situation in of.life:
        if any(hidden.codes(situation).values()):
            return True
    return bool(dead(of, hidden))


def dead(of: Field, hidden: Hidden) -> tuple[str, ...]:
    """Functions that do not work now."""
    return tuple(
        name
        for name, function in of.book.functions.items()
        if not hidden.works(name, Situation(key=function.key, on=frozenset(function.commands)))
    )
