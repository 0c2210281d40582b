"""Where along a line a damage sits: the chance of every centimetre, of every weak spot, and the
places to look at first.

A part of the chance sits at the named weak spots, the rest is spread evenly over the plain metres,
section by section as the suspects say (defects.places has the shares and their sources).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import ceil

import numpy as np
from scipy.special import ndtr

from backprobe.defects.model import RUBBED, TO_GROUND, Defects, Floats
from backprobe.defects.places import shares
from backprobe.suspects.line import Line
from backprobe.suspects.model import Belief

CELL_M = 0.01
MOST_CELLS = 800
SPOT_SD_M = 0.04
"""A weak spot is named to about a hand's width: one standard deviation. Judgement."""
HANDS_M = 0.25
"""What is laid open and seen at once. Judgement."""
HELD = 0.8
"""Chance that the stated interval holds the damage."""
WORTH_A_LOOK = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """The chance along a line of G cells of `step_m`. `at_m` (G,) their middles; `mass` (K, G)
    chance of every cell by kind of place, sums to 1; `places` (K) section and spot ("" = the plain
    stretch between)."""

    line: Line
    step_m: float
    at_m: Floats
    mass: Floats
    places: tuple[tuple[str, str], ...]

    @property
    def chance(self) -> Floats:
        """(G,) chance of every cell."""
        total: Floats = self.mass.sum(axis=0)
        return total

    @property
    def density(self) -> Floats:
        """(G,) chance per metre."""
        return self.chance / self.step_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece of a line and the chance that the damage is on it. `words`: in centimetres from a
    named place; `spots` the weak spots on it."""

    from_m: float
    to_m: float
    chance: float
    section: str
    spots: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AtSpot:
    """A weak spot and the chance that the damage is there."""

    name: str
    section: str
    at_m: float
    chance: float


def section_chances(defects: Defects, belief: Belief) -> dict[tuple[str, str], float]:
    """Chance that a wire is rubbed through in a section, by (wire id, section; "" = its run)."""
    found: dict[tuple[str, str], float] = {}
    inside = belief.atom >= 0
    chances = np.bincount(
        belief.atom[inside], weights=belief.chance[inside], minlength=len(defects.atoms)
    )
    for atom, chance in zip(defects.atoms, chances, strict=True):
        if atom.kind not in (TO_GROUND, RUBBED):
            continue
        wires = [name.removeprefix("wire ") for name in atom.owners if name.startswith("wire ")]
        section = next((n for n in atom.owners if not n.startswith("wire ")), "")
        for wire in wires:
            found[wire, section] = found.get((wire, section), 0.0) + float(chance)
    return found


def spread_along(line: Line, sections: Mapping[tuple[str, str], float] | None = None) -> Spread:
    """The chance along a line before any reading that ranges it.

    `sections`: chance by (wire id, section), as from `section_chances`; without them, or where
    they say nothing of this line, sections count by their metres and spots.
    """
    count = max(2, min(MOST_CELLS, ceil(line.length_m / CELL_M - 1e-9)))
    edges = np.linspace(0.0, line.length_m, count + 1)
    told = [max(0.0, (sections or {}).get((bit.wire, bit.section), 0.0)) for bit in line.bits]
    usual = [shares(bit.stretch)[0] for bit in line.bits]
    weights = np.array(told if sum(told) > 0.0 else usual)
    weights = weights / weights.sum()
    rows: dict[tuple[str, str], Floats] = {}
    for bit, weight in zip(line.bits, weights, strict=True):
        spots = {spot.name: at for spot, at in bit.spots}
        for place in shares(bit.stretch)[1]:
            at = spots.get(place.words)
            inside = np.clip(edges, bit.from_m, bit.to_m)
            reach = ndtr((inside - at) / SPOT_SD_M) if at is not None else inside
            piece: Floats = np.diff(reach)
            key = (bit.section, place.words if at is not None else "")
            add = weight * place.share * piece / max(float(piece.sum()), 1e-300)
            rows[key] = rows.get(key, 0.0) + add
    mass = np.stack(list(rows.values()))
    return Spread(
        line=line,
        step_m=line.length_m / count,
        at_m=(edges[1:] + edges[:-1]) / 2.0,
        mass=mass / mass.sum(),
        places=tuple(rows),
    )


def weighed_by(spread: Spread, likelihood: Floats) -> Spread:
    """The chance after something was learned: `likelihood` (G,) of it for every cell."""
    mass = spread.mass * likelihood
    total = float(mass.sum())
    return Spread(
        line=spread.line,
        step_m=spread.step_m,
        at_m=spread.at_m,
        mass=mass / total if total > 0.0 else spread.mass,
        places=spread.places,
    )


def at_spots(spread: Spread) -> tuple[AtSpot, ...]:
    """The weak spots, likeliest first."""
    known = {(bit.section, spot.name): at for bit in spread.line.bits for spot, at in bit.spots}
    found = [
        AtSpot(name=name, section=section, at_m=known[section, name], chance=float(row.sum()))
        for (section, name), row in zip(spread.places, spread.mass, strict=True)
        if name
    ]
    return tuple(sorted(found, key=lambda one: (-one.chance, one.at_m)))


def shortest(spread: Spread, chance: float = HELD) -> Piece:
    """The shortest piece in one that holds the damage with at least this chance."""
    reach = np.concatenate([[0.0], np.cumsum(spread.chance)])
    until = np.searchsorted(reach, reach + chance - 1e-12)
    possible = np.flatnonzero(until < reach.size)
    if not possible.size:
        return _piece(spread, 0, reach.size - 1)
    lengths = until[possible] - possible
    held = reach[until[possible]] - reach[possible]
    best = int(np.lexsort((-held, lengths))[0])
    return _piece(spread, int(possible[best]), int(until[possible[best]]))


def look_first(spread: Spread, count: int = 2) -> tuple[Piece, ...]:
    """The places to look at, likeliest first, each what two hands lay open at once."""
    return tuple(_windows(spread, count))


def _windows(spread: Spread, count: int) -> Iterator[Piece]:
    left = spread.chance.copy()
    cells = max(1, min(left.size, round(HANDS_M / spread.step_m)))
    for number in range(count):
        sums = np.convolve(left, np.ones(cells), mode="valid")
        tops = np.flatnonzero(sums >= sums.max() * (1.0 - 1e-9))
        first = int(tops[len(tops) // 2])
        piece = _piece(spread, first, first + cells)
        if number and sums[first] < WORTH_A_LOOK:
            return
        yield Piece(
            from_m=piece.from_m,
            to_m=piece.to_m,
            chance=float(sums[first]),
            section=piece.section,
            spots=piece.spots,
            words=piece.words,
        )
        left[first : first + cells] = 0.0


def _piece(spread: Spread, first: int, last: int) -> Piece:
    """The cells from `first` up to, not with, `last`."""
    line, low, high = spread.line, first * spread.step_m, last * spread.step_m
    bit = line.bit_at((low + high) / 2.0)
    spots = tuple(
        name
        for (_, name), row in zip(spread.places, spread.mass, strict=True)
        if name and row[first:last].sum() >= max(0.5 * row.sum(), WORTH_A_LOOK)
    )
    return Piece(
        from_m=low,
        to_m=high,
        chance=float(spread.chance[first:last].sum()),
        section=bit.section,
        spots=spots,
        words=piece_words(line, low, high, spots),
    )


def piece_words(line: Line, low: float, high: float, spots: tuple[str, ...] = ()) -> str:
    """A piece in centimetres from the nearest named place: "40 to 62 cm from X10 towards fuse box
    in section hinge, at hinge pin"."""
    bit = line.bit_at((low + high) / 2.0)
    where = f" in section {bit.section}" if bit.section else ""
    marks = line.landmarks
    name, at = min(marks, key=lambda mark: abs(mark[1] - (low + high) / 2.0))
    if low < at - 0.005 and high > at + 0.005:
        words = (
            f"{_cm(at - low)} cm before {name} to {_cm(high - at)} cm beyond it, "
            f"coming from {marks[0][0]}"
        )
        where = ""
    elif high <= at + 0.005:
        words = f"{_cm(at - high)} to {_cm(at - low)} cm from {name} towards {bit.start}"
    else:
        words = f"{_cm(low - at)} to {_cm(high - at)} cm from {name} towards {bit.end}"
    named = f", at {' and '.join(spots)}" if spots else ""
    return f"{words}{where}{named}"


def _cm(metres: float) -> str:
    return f"{max(0.0, metres) * 100:.0f}"
