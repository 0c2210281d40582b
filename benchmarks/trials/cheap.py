"""Is a chance of 90 % right nine times in ten? Findings drawn without a technician, then weighed.

A defect of any severity within its cell, the code lists of its day and a few random readings come
from the machine solved apart from the engine; only the weighing is judged here. A defect comes and
goes as often as its rates say, and then shows in the visit or does not: what comes and goes is met
failing less often than what is always there, and the weighing knows that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.checks.layout import layout_of
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.findings.model import AnyFinding, CodesFound, Failing, Reading, Works
from backprobe.kinds import KINDS
from backprobe.shop.outlook import engine, state_of
from backprobe.suspects.codes import RULE_WRONG, SHOWN, SHOWN_IF_WRONG, SPURIOUS
from backprobe.suspects.factor import MISREAD, RHO
from backprobe.suspects.meters import METERS
from backprobe.suspects.verdict import group_chances
from backprobe.suspects.weigh import weigh
from oracles.solved_apart import Apart, RestlessError
from oracles.technician import Hidden, mends
from trials.books import WRONG_BOOKS, book_of, wrong_book
from trials.draw import Field, as_it_came, fault, field_of
from trials.walk import SLIPS

PLACES = 30
"""Places of a machine that are read at, the same for all trials of it."""
MOST = 4
KEYS = ("on", "run")
Record = dict[str, object]


@lru_cache(maxsize=2)
def _tool(name: str, wrong: int) -> Circuit:
    book: Book = book_of(name) if wrong < 0 else wrong_book(name, wrong).book
    return Circuit.of(book)


@lru_cache(maxsize=2)
def _places(name: str) -> tuple[Probe, ...]:
    """Where a machine is read."""
    of = field_of(name)
    nodes = sorted(layout_of(of.book, KINDS).touch)
    rng = np.random.default_rng(of.rate.size)
    chosen = rng.choice(nodes, size=min(PLACES, len(nodes)), replace=False)
    return tuple(Probe(kind="volts", p=str(node)) for node in chosen)


def batch(seed: int, number: int, mode: str, name: str, size: int) -> list[Record]:
    """So many trials with one machine and one book."""
    matched = mode == "matched"
    wrong = -1 if matched else number % WRONG_BOOKS
    rng = np.random.default_rng([seed, number, int(matched), 77])
    of = field_of(name)
    tool = of.circuit if matched else _tool(name, wrong)
    rate = of.rate
    if not matched:
        atoms = rng.lognormal(0.0, 1.0, len(of.circuit.defects.atoms))
        rate = rate * atoms[of.circuit.defects.atom_of]
    found: list[Record] = []
    while len(found) < size:
        truth = int(rng.choice(rate.size, p=rate / rate.sum()))
        told = findings(of, truth, rng, slips=0.0 if matched else SLIPS)
        if told:
            with engine():
                found.append(_weighed(of.circuit, tool, truth, told))
    base: Record = {"seed": seed, "number": number, "mode": mode, "machine": name}
    return [base | one for one in found]


def findings(
    of: Field, truth: int, rng: np.random.Generator, *, slips: float
) -> tuple[AnyFinding, ...]:
    """Code lists and a few readings of a defect; nothing when it sets no code or none is shown, when it
    is away and left nothing blown, or nothing rests."""
    net = as_it_came(of, rng)
    drawn = fault(of.circuit, truth, rng)
    comes = rng.random() < drawn.atom.sometimes
    away = comes and rng.random() >= rng.choice(RHO)
    machine = Apart(of.book, net, drawn.changes, nominal=Apart(of.book, net))
    hidden = Hidden(book=of.book, atoms=(), shows=machine)
    try:
        for situation in of.life:
            machine.live(situation)  # what blows is blown
        hidden.gone = bool(away)
        if away and not machine.lasting:
            return ()
        lists = list(_lists(of, hidden, rng))
        sets = any(any(hidden.codes(s).values()) for s in of.life if s.key in KEYS)
        if not sets or not any(isinstance(one, CodesFound) and one.active for one in lists):
            return ()
        readings = list(_readings(of, hidden, rng, slips))
    except RestlessError:
        return ()
    return (*lists, *readings, Failing(answer="yes", situation=Situation(key="on")))


def _lists(of: Field, hidden: Hidden, rng: np.random.Generator) -> Iterator[CodesFound | Works]:
    """The lists shown with the key on and running; a rule that is wrong in the book is so in all. Who
    asks a unit for its list and gets no answer says so: a list that is not there because the unit has
    no power is no list that nobody asked for."""
    wrong = {key: rng.random() < RULE_WRONG for key in of.book.codes}
    for situation in of.life:
        if situation.key not in KEYS:
            continue
        for unit, codes in hidden.codes(situation).items():
            if not hidden.powered(unit, situation):
                yield Works(target=unit, works=False, situation=situation)
                continue
            chance = {
                code: SHOWN_IF_WRONG if wrong[u, code] else SHOWN if code in codes else SPURIOUS
                for u, code in of.book.codes
                if u == unit
            }
            active = tuple(code for code, share in chance.items() if rng.random() < share)
            yield CodesFound(unit=unit, active=active, situation=situation)


def _readings(
    of: Field, hidden: Hidden, rng: np.random.Generator, slips: float
) -> Iterator[Reading]:
    """One to four readings at random places, misread as often as said."""
    volts, meter, places = of.book.machine.volts, METERS["meter"], _places(of.name)
    situations = [situation for situation in of.life if situation.key in KEYS]
    for k in rng.choice(len(places), int(rng.integers(1, MOST + 1)), replace=False):
        situation = situations[int(rng.integers(len(situations)))]
        value = hidden.read(situation, places[int(k)])
        value += float(rng.normal() * np.hypot(meter.floor, meter.share * value))
        if not np.isfinite(value) or rng.random() < max(slips, MISREAD):
            value = float(rng.choice([0.0, 5.0, volts, rng.uniform(0.0, volts)]))
        probe = places[int(k)]
        yield Reading(situation=situation, p=probe.p, n=probe.n, value=value)


def _weighed(whole: Circuit, tool: Circuit, truth: int, told: Sequence[AnyFinding]) -> Record:
    """The chance given to the truth's group, and to all that mending the leading one mends; whether
    the truth is among that."""
    numbered = [replace(f, id=f"f{k}") for k, f in enumerate(told, 1)]
    belief = weigh(tool.book, tool, state_of(tool.book, numbered))
    chances = group_chances(tool.defects, belief)
    defects = whole.defects
    atom = defects.atoms[defects.atom_of[truth]]
    leading = max(chances, key=lambda group: chances[group])
    each = np.zeros(len(tool.defects.atoms))
    inside = belief.atom > 0
    np.add.at(each, belief.atom[inside], belief.chance[inside])
    mended = [mends(leading, other) for other in tool.defects.atoms]
    return {
        "truth": atom.id,
        "readings": sum(isinstance(f, Reading) for f in told),
        "chance": chances.get(atom.group, 0.0),
        "leading": min(1.0, float(each[mended].sum())),
        "right": mends(leading, atom),
    }
