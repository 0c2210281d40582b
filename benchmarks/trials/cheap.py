"""Is a chance of 90 % right nine times in ten? Findings drawn without a technician, then weighed.

A defect, the code lists of its day and a few random readings are drawn from the readings of all
defects at once, as the engine gives them; only the weighing is judged here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.checks.layout import layout_of
from backprobe.defects.model import Floats, Probe
from backprobe.defects.predict import Circuit
from backprobe.findings.model import AnyFinding, CodesFound, Failing, Reading
from backprobe.kinds import KINDS
from backprobe.shop.outlook import engine, state_of, usual_life
from backprobe.suspects.codes import RULE_WRONG, SHOWN, SHOWN_IF_WRONG, SPURIOUS, rule_chance
from backprobe.suspects.factor import MISREAD
from backprobe.suspects.meters import METERS
from backprobe.suspects.verdict import group_chances
from backprobe.suspects.view import View
from backprobe.suspects.visits import stretches
from backprobe.suspects.weigh import weigh
from backprobe.suspects.worlds import BATTERY_SD, CONTACTS_SD, TEMPERATURE_SD
from oracles.technician import mends
from trials.books import WRONG_BOOKS, book_of, wrong_book
from trials.walk import SLIPS

PLACES = 30
"""Places of a machine that are read at, the same for all trials of it."""
MOST = 4
KEYS = ("on", "run")
Record = dict[str, object]


@dataclass(frozen=True)
class Drawn:
    """Everything a machine could show. `lists`: chance of every code by situation (H, codes);
    `mean` (H, probes) and `slope` (H, probes, 3) of the places, by situation."""

    circuit: Circuit
    rate: Floats
    codes: tuple[tuple[str, str], ...]
    lists: dict[Situation, Floats]
    probes: tuple[Probe, ...]
    mean: dict[Situation, Floats]
    slope: dict[Situation, Floats]


@lru_cache(maxsize=2)
def shown_by(name: str) -> Drawn:
    """What a machine shows under all of its defects, key on and running, after its day."""
    book = book_of(name)
    circuit = Circuit.of(book)
    life = usual_life(book)
    begun = state_of(book, [CodesFound(unit="", situation=life[0])])
    past = stretches(book, begun)[0].history
    now = tuple(Situation(key=s.key, on=s.on, after=past) for s in life if s.key in KEYS)
    defects = circuit.defects
    rate = np.array([atom.rate for atom in defects.atoms])[defects.atom_of] * defects.weight
    rng = np.random.default_rng(rate.size)
    nodes = sorted(layout_of(book, KINDS).touch)
    places = rng.choice(nodes, size=min(PLACES, len(nodes)), replace=False)
    probes = tuple(Probe(kind="volts", p=str(node)) for node in places)
    view = View(book, circuit)
    rules = tuple(book.codes.values())
    for situation in now:
        for rule in rules:
            rule_chance(view, rule, (situation,), gone=False)
    view.fetch()
    lists, mean, slope = {}, {}, {}
    for situation in now:
        chances = [rule_chance(view, rule, (situation,), gone=False) for rule in rules]
        lists[situation] = np.stack(
            [
                np.zeros(view.count) if c is None else np.broadcast_to(c[:, 0], view.count)
                for c in chances
            ],
            axis=1,
        )
        seen = circuit.seen(situation, probes)
        mean[situation], slope[situation] = seen.mean, seen.slope
    codes = tuple((rule.unit, rule.code) for rule in rules)
    return Drawn(circuit, rate, codes, lists, probes, mean, slope)


@lru_cache(maxsize=2)
def _tool(name: str, wrong: int) -> Circuit:
    book: Book = book_of(name) if wrong < 0 else wrong_book(name, wrong).book
    return Circuit.of(book)


def batch(seed: int, number: int, mode: str, name: str, size: int) -> list[Record]:
    """So many trials with one machine and one book."""
    matched = mode == "matched"
    wrong = -1 if matched else number % WRONG_BOOKS
    rng = np.random.default_rng([seed, number, int(matched), 77])
    with engine():
        shows = shown_by(name)
        tool = shows.circuit if matched else _tool(name, wrong)
        rate = shows.rate
        if not matched:
            atoms = rng.lognormal(0.0, 1.0, len(shows.circuit.defects.atoms))
            rate = rate * atoms[shows.circuit.defects.atom_of]
        found: list[Record] = []
        while len(found) < size:
            truth = int(rng.choice(rate.size, p=rate / rate.sum()))
            told = findings(shows, truth, rng, slips=0.0 if matched else SLIPS)
            if told:
                found.append(_weighed(shows, tool, truth, told))
    base: Record = {"seed": seed, "number": number, "mode": mode, "machine": name}
    return [base | one for one in found]


def findings(
    shows: Drawn, truth: int, rng: np.random.Generator, *, slips: float
) -> tuple[AnyFinding, ...]:
    """Code lists and a few readings of a defect; nothing when it sets no code that is shown."""
    if max(chances[truth].max() for chances in shows.lists.values()) < 0.5:
        return ()
    wrong_rule = rng.random(len(shows.codes)) < RULE_WRONG
    second, share = beside(shows.circuit, truth, rng)

    def blend(table: Floats) -> Floats:
        mixed: Floats = (1.0 - share) * table[truth] + share * table[second]
        return mixed

    lists: list[AnyFinding] = []
    for situation, chances in shows.lists.items():
        chance = SPURIOUS + (SHOWN - SPURIOUS) * blend(chances)
        chance = np.where(wrong_rule, SHOWN_IF_WRONG, chance)
        active = rng.random(len(shows.codes)) < chance
        here = replace(situation, after=None)
        for unit in dict.fromkeys(unit for unit, _ in shows.codes):
            if shows.circuit.state(situation, unit, "power")[truth] != 1:
                continue
            codes = tuple(
                c for (u, c), on in zip(shows.codes, active, strict=True) if on and u == unit
            )
            lists.append(CodesFound(unit=unit, active=codes, situation=here))
    if not any(isinstance(f, CodesFound) and f.active for f in lists):
        return ()
    volts = shows.circuit.book.machine.volts
    unknown = rng.normal(size=3) * (BATTERY_SD * volts, CONTACTS_SD, TEMPERATURE_SD)
    meter = METERS["meter"]
    situations = list(shows.mean)
    readings: list[AnyFinding] = []
    for k in rng.choice(len(shows.probes), int(rng.integers(1, MOST + 1)), replace=False):
        situation = situations[int(rng.integers(len(situations)))]
        value = float(blend(shows.mean[situation])[k] + blend(shows.slope[situation])[k] @ unknown)
        value += float(rng.normal() * np.hypot(meter.floor, meter.share * value))
        if not np.isfinite(value) or rng.random() < max(slips, MISREAD):
            value = float(rng.choice([0.0, 5.0, volts, rng.uniform(0.0, volts)]))
        probe, here = shows.probes[int(k)], replace(situation, after=None)
        readings.append(Reading(situation=here, p=probe.p, n=probe.n, value=value))
    return (*lists, *readings, Failing(answer="yes", situation=Situation(key="on")))


def beside(circuit: Circuit, hypothesis: int, rng: np.random.Generator) -> tuple[int, float]:
    """A severity within its cell: the neighbouring cell of the same defect, and how much of it is
    mixed in. What all readings of a trial share."""
    defects = circuit.defects
    if defects.spread[hypothesis] <= 1.0:
        return hypothesis, 0.0
    cells = np.flatnonzero(defects.atom_of == defects.atom_of[hypothesis])
    cells = cells[np.argsort(defects.ohm[cells], kind="stable")]
    place = int(np.flatnonzero(cells == hypothesis)[0]) + int(rng.choice([-1, 1]))
    other = int(cells[np.clip(place, 0, cells.size - 1)])
    step = abs(np.log(defects.ohm[other] / defects.ohm[hypothesis])) if other != hypothesis else 0.0
    if not 0.0 < step < np.inf:
        return hypothesis, 0.0
    reach = min(float(np.log(defects.spread[hypothesis]) / step), 1.0)
    return other, float(rng.uniform(0.0, reach))


def _weighed(shows: Drawn, tool: Circuit, truth: int, told: Sequence[AnyFinding]) -> Record:
    """The chance given to the truth's group, and to all that mending the leading one mends; whether
    the truth is among that."""
    numbered = [replace(f, id=f"f{k}") for k, f in enumerate(told, 1)]
    belief = weigh(tool.book, tool, state_of(tool.book, numbered))
    chances = group_chances(tool.defects, belief)
    defects = shows.circuit.defects
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
