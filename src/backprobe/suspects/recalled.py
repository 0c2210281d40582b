"""What the driver recalls: what came before the fault, what the display did, whether it restarted."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np
from scipy.special import ndtr

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.defects.model import RUBBED, TO_GROUND, Atom, Floats, Probe
from backprobe.findings.model import Recalled
from backprobe.suspects.codes import powered
from backprobe.suspects.factor import Factor
from backprobe.suspects.view import View
from backprobe.suspects.works import situation_of, target_chance

WASHED: Final = 3.0
"""The most a wash makes a defect likelier that shows when wet. Judgement, as for plugs in the rain."""


class Cause(NamedTuple):
    """Defects one event makes likelier: of these parts (any, where none is named), failing so."""

    parts: tuple[str, ...]
    kinds: tuple[str, ...]
    times: float


_PINS: Final = ("bad contact", "bad seat", "bad lug 1", "bad lug 2")
_CAUSES: Final[dict[str, tuple[Cause, ...]]] = {
    # Rodents x3-10, outdoor storage x2-2.7 (one survey of tractors); the least of it.
    "after storage": (
        Cause(("battery",), ("discharged",), 4.0),
        Cause(("battery",), ("open", "shorted cell"), 2.0),
        Cause(("wire",), ("open",), 3.0),
        Cause(("wire",), ("strands", TO_GROUND, RUBBED), 2.0),
        Cause((), ("loom cut", "corroded", *_PINS), 2.0),
    ),
    # What was worked on lately x3-10; less, because nobody says where.
    "after repair": (
        Cause((), ("plug off", "half mated"), 4.0),
        Cause((), _PINS, 2.0),
        Cause(("fuse",), ("open",), 2.0),
        Cause(("wire",), ("open", TO_GROUND, RUBBED), 2.0),
    ),
    # Common practice, no source: a link or fuse blown by a wrong pole, diodes and units by a
    # surge; and the battery was low for a reason before.
    "after boost start": (
        Cause(("fusible link",), ("open",), 5.0),
        Cause(("fuse",), ("open",), 2.0),
        Cause(("control unit", "display"), ("dead", "5 V dead", "driver dead"), 3.0),
        Cause(("alternator",), ("no output", "low output", "over-voltage"), 3.0),
        Cause(("diode", "suppressed relay"), ("open", "shorted"), 3.0),
        Cause(("battery",), ("bad contact", "discharged", "open", "shorted cell"), 3.0),
    ),
}
"""How much likelier a defect is for what came before. Judgement where nothing else is said."""

_DISPLAY: Final = {
    "display stayed on": (0.90, 0.50, 0.05),
    "display faded": (0.05, 0.40, 0.20),
    "display went out": (0.05, 0.10, 0.75),
}
"""Chance of each while the display is fed as it should be, with low volts, and not at all. From
memory, no source."""
LOW, BAND = 0.93, 0.02
"""A display's feed is low below this share of the healthy volts, give or take. Judgement."""
RESTART: Final = 0.8
"""Chance that the driver tells rightly whether a machine that could start did. Judgement."""
_STARTS: Final = ("engine starts", "engine cranks")


def times_likelier(book: Book, atom: Atom, what: str) -> float:
    """How much likelier a defect is for what came before; 1 for the others."""
    if what == "after wash":
        return min(atom.wet, WASHED)
    if not atom.owners:
        return 1.0
    owner = atom.owners[0]
    part = "wire" if owner.startswith("wire ") else ""
    part = book.parts[owner].kind if owner in book.parts else part
    found = (
        cause.times
        for cause in _CAUSES[what]
        if atom.kind in cause.kinds and (not cause.parts or part in cause.parts)
    )
    return next(found, 1.0)


def recalled_factor(view: View, recalled: Recalled, situation: Situation) -> Factor | None:
    """What one answer says; None where the book has nothing it could be about."""
    what = recalled.what
    if what in _DISPLAY:
        return _display(view, recalled, situation)
    if what in ("started again", "did not start again"):
        return _restart(view, recalled, situation)
    ratio = np.ones((1, 1))
    if not view.asking:
        atoms = view.defects.atoms
        times = np.array([times_likelier(view.book, atom, what) for atom in atoms])
        rate = np.array([0.0 if atom.second else atom.rate for atom in atoms])
        times[0] = 1.0
        # All that may be broken is no likelier than before, only some of it more than the rest.
        if rate.sum() > 0.0:
            times[1:] *= rate.sum() / (rate @ times)
        ratio = times[view.defects.atom_of][:, None]
    return _factor(recalled, ratio, either=True)


def _factor(
    recalled: Recalled, ratio: Floats, *, jumps: Floats | None = None, either: bool = False
) -> Factor:
    """It tells of the time when the fault showed, whether or not it shows in this visit."""
    return Factor(
        finding=recalled.id,
        present=ratio,
        gone=ratio,
        background=0.0,
        jumps=jumps,
        outside=1.0,
        either=either,
    )


def display_of(book: Book) -> str:
    """The part with the screen, "" when the book has none."""
    kinds = {name: part.kind for name, part in book.parts.items()}
    by_kind = (name for name, kind in kinds.items() if kind == "display")
    by_name = (n for n, kind in kinds.items() if kind == "control unit" and "display" in n.lower())
    return next(by_kind, next(by_name, ""))


def _display(view: View, recalled: Recalled, situation: Situation) -> Factor | None:
    """The key stood at run or at crank when it failed, nobody asked which: half and half."""
    unit = display_of(view.book)
    if not unit:
        return None
    fine, low, dead = _DISPLAY[recalled.what]
    chances: list[Floats] = []
    for key in ("run", "crank"):
        stood = replace(situation, key=key, on=frozenset())
        probe = Probe(kind="inner", p=f"{unit}:supply", n=f"{unit}:ground")
        column = view.column(stood, probe, gone=False)
        on = powered(view, unit, stood, gone=False)
        if column is None or not on[0, 0]:
            continue
        limit = 1.0 if view.asking else LOW * column.mean[0]

        def shape(mean: Floats, variance: Floats, limit: float = limit) -> Floats:
            sigma = np.sqrt(variance + (BAND * limit) ** 2)
            fed: Floats = ndtr((np.nan_to_num(mean, nan=0.0) - limit) / sigma)
            return fed

        fed = view.over(column, shape)
        chances.append(on * (fed * fine + (1.0 - fed) * low) + (1.0 - on) * dead)
    if not chances:
        return None if not view.asking else _factor(recalled, np.ones((1, 1)))
    told = sum(chances[1:], chances[0]) / len(chances)
    return _factor(recalled, told / (fine + low + dead) * 3.0)


def _restart(view: View, recalled: Recalled, situation: Situation) -> Factor | None:
    """A fault that is always there and keeps the engine from starting does so at once too. Who does
    not come in for the wiring starts or not: no opinion."""
    name = next((n for n in _STARTS if n in view.book.functions), "")
    if not name:
        return None
    tried = situation_of(view, name, situation)
    ratios: list[Floats] = []
    for gone in (False, True):
        chance = target_chance(view, name, tried, gone=gone)
        if chance is None:
            return None
        told = RESTART * chance + (1.0 - RESTART) * (1.0 - chance)
        ratio = 2.0 * (told if recalled.what == "started again" else 1.0 - told)
        ratio = np.array(np.broadcast_to(ratio, (view.count, ratio.shape[1])))
        ratio[0] = 1.0
        ratios.append(ratio)
    return _factor(recalled, ratios[0], jumps=0.5 * (ratios[0] + ratios[1]))
