"""The belief cut down to what a plan needs: the likeliest defects, showing or not."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace

import numpy as np

from backprobe.checks.scene import atom_chances
from backprobe.defects.model import Defects, Floats, Ints
from backprobe.suspects.model import Belief

HYPOTHESES = 200
COVERED = 0.99
GROUPS = 40
LEAST_GROUP = 0.002
NOTHING_LEFT = 1e-9
LITTLE, DOUBTED = 0.1, 0.5
"""Chance of all the rest below which what was mended in vain is not set aside altogether, and the chance
it keeps. Judgement."""


ELSEWHERE = "not in this book"
MENDED = "none: it is mended"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stories:
    """K = 2 L + 1 stories: L hypotheses showing now, the same not showing, and "anything else".

    `rows` (L,) hypotheses, healthy first; `mass` (K,) sums to 1; `group` (K,) index into `keys`,
    len(keys) when nothing in the book would mend it; `sometimes` (K,) chance that the story is
    one that comes and goes; `gone` (K,) share of it that does not show now; `showing` (K,) the
    story it turns into when the fault is brought back. The first story is that a repair ended the
    fault: it reads as a sound machine, and the last of `keys` is MENDED, which a proof ends.
    """

    rows: Ints
    mass: Floats
    group: Ints
    keys: tuple[str, ...]
    sometimes: Floats = field(repr=False)
    gone: Floats = field(repr=False)
    showing: Ints = field(repr=False)


def stories_of(defects: Defects, belief: Belief) -> Stories:
    """The stories that carry the belief; what is too unlikely to matter is shared among them.
    "Anything else" is what is not in the book."""
    count = len(defects.atoms)
    chance = atom_chances(defects, belief)
    shows, comes = np.zeros(count), np.zeros(count)
    inside = belief.atom >= 0
    np.add.at(shows, belief.atom[inside], (belief.chance * belief.present)[inside])
    np.add.at(comes, belief.atom[inside], (belief.chance * belief.sometimes)[inside])
    healed = np.zeros(count)
    if belief.mended is not None:
        np.add.at(healed, belief.atom[inside], (belief.chance * belief.mended)[inside])
    safe = np.where(chance > 0.0, chance, 1.0)
    still = belief.hypothesis * (1.0 - healed / safe)[defects.atom_of]
    order = np.argsort(-still, kind="stable")
    covered = np.cumsum(still[order])
    enough = int(np.searchsorted(covered, COVERED * covered[-1])) + 1
    rows = np.concatenate([[0], order[order != 0][: min(enough, HYPOTHESES)]]).astype(np.int64)
    at = defects.atom_of[rows]
    here = still[rows]
    left = np.where(chance > healed, chance - healed, 1.0)
    now = np.where(at > 0, here * np.minimum((shows / left)[at], 1.0), 0.0)
    outside = float(belief.chance[~inside].sum())
    unmended = float(still.sum() / belief.hypothesis.sum())
    inner = (1.0 - outside) * unmended / max(float(here.sum()), 1e-300)
    mass = np.concatenate([now * inner, (here - now) * inner, [outside]])
    mass[0] = (1.0 - outside) * (1.0 - unmended)
    keys = _keys(defects, rows, here)
    if mass[0] >= LEAST_GROUP:
        keys = (*keys, MENDED)
    number = {key: k for k, key in enumerate(keys)}
    group = np.array(
        [len(keys) if a == 0 else number.get(defects.atoms[a].group, len(keys)) for a in at]
    )
    ended = np.append(number.get(MENDED, len(keys)), group[1:])
    comes_and_goes = (comes / safe)[at]
    first = np.arange(rows.size)
    back = np.append(rows.size, first[1:])
    hidden = float((here - now)[1:].sum() / max(float(here[1:].sum()), 1e-12))
    return Stories(
        rows=rows,
        mass=mass / mass.sum(),
        group=np.concatenate([ended, group, [len(keys)]]).astype(np.int64),
        keys=keys,
        sometimes=np.concatenate([comes_and_goes, comes_and_goes, [0.2]]),
        gone=np.concatenate([np.zeros(rows.size), np.ones(rows.size), [hidden]]),
        showing=np.concatenate([first, back, [2 * rows.size]]),
    )


def set_aside(defects: Defects, belief: Belief, groups: Collection[str]) -> Belief:
    """The belief without what was mended in vain, unless nothing else is left. Findings that fit one
    fault to a hair may leave nothing beside it, and are doubted before it is mended again: where next
    to nothing is left it keeps half, so that what tells whether its repair holds is measured."""
    aside = np.array([atom.group in groups for atom in defects.atoms])
    aside[0] = False
    gone = aside[np.maximum(belief.atom, 0)] & (belief.atom > 0)
    taken, left = float(belief.chance[gone].sum()), float(belief.chance[~gone].sum())
    if taken <= 0.0 or left < NOTHING_LEFT:
        return belief
    keep = DOUBTED if left < LITTLE else 0.0
    shares = keep / taken, (1.0 - keep) / left
    return replace(
        belief,
        chance=belief.chance * np.where(gone, *shares),
        hypothesis=belief.hypothesis * np.where(aside[defects.atom_of], *shares),
    )


def _keys(defects: Defects, rows: Ints, here: Floats) -> tuple[str, ...]:
    total: dict[str, float] = {}
    for row, chance in zip(rows[1:], here[1:], strict=True):
        group = defects.atoms[defects.atom_of[row]].group
        total[group] = total.get(group, 0.0) + float(chance)
    ranked = sorted(total, key=lambda key: (-total[key], key))[:GROUPS]
    return tuple(key for key in ranked if total[key] >= LEAST_GROUP)
