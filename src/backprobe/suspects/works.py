"""What works and what does not, and how fuses were found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import log

import numpy as np
from scipy.special import ndtr

from backprobe.book.situations import KEYS, Situation
from backprobe.defects.model import Floats, Probe
from backprobe.findings.model import FuseFound, Works
from backprobe.suspects.codes import powered, rule_chance
from backprobe.suspects.factor import MISREAD, Factor
from backprobe.suspects.view import View

HALF, STEP = 0.5, 0.15
"""A load works at this share of its nominal power, give or take one step. Judgement."""
SEEN_BLOWN = 0.99
"""Chance that a blown fuse is found blown, a good one good, by a proper look. Judgement."""
HAIRLINE = 0.10
"""Chance that a fuse that does not conduct looks good. Judgement."""


def works_factor(view: View, works: Works, situation: Situation) -> Factor | None:
    """What "works" or "does not work" says; None when the book does not know the target."""
    ratios: list[Floats] = []
    for gone in (False, True):
        chance = target_chance(view, works.target, situation, gone=gone)
        if chance is None:
            return None
        told = chance if works.works else 1.0 - chance
        ratios.append((1.0 - MISREAD) * told / 0.5 + MISREAD)
    return Factor(
        finding=works.id,
        present=ratios[0],
        gone=ratios[1],
        background=log(0.5),
        causes=None if works.works else _either(view, ratios),
    )


def _either(view: View, ratios: Sequence[Floats]) -> Floats:
    """(H,) chance that a defect made it so, now that it was found, whichever state and world suits it
    best, from ratios to one half: a sound machine, the first, is found so by mistake alone."""
    best = np.maximum(ratios[0].max(axis=1), ratios[1].max(axis=1))
    causes: Floats = np.broadcast_to(np.maximum(best - best[0], 0.0) / best, (view.count,))
    return causes


def situation_of(view: View, target: str, situation: Situation) -> Situation:
    """The situation a function is tried in; for anything else the finding's own."""
    function = view.book.functions.get(target)
    if function is None:
        return situation
    key = function.key if function.key in KEYS else situation.key
    return replace(situation, key=key, on=situation.on | set(function.commands))


def target_chance(view: View, target: str, situation: Situation, *, gone: bool) -> Floats | None:
    """(H or 1, W or 1) chance that a part or function works; None when the book does not know it."""
    function = view.book.functions.get(target)
    if function is None:
        return _part_chance(view, target, situation, gone=gone)
    chance = np.ones((view.count, 1))
    for need in function.needs:
        unit, _, code = need.rpartition(" ")
        rule = view.book.codes.get((unit, code))
        if rule is None:
            one = _part_chance(view, need, situation, gone=gone)
        else:
            # Its code may have been set by an earlier key state and bars the function still.
            active = rule_chance(view, rule, (situation,), gone=gone)
            one = None if active is None else 1.0 - active
        if one is not None:
            chance = chance * one
    return chance


def _part_chance(view: View, part: str, situation: Situation, *, gone: bool) -> Floats | None:
    if part not in view.book.parts:
        return None
    if any(pin.part == part for pin in view.book.roles):
        return powered(view, part, situation, gone=gone)
    column = view.column(situation, Probe(kind="share", p=part), gone=gone)
    if column is None:
        return None
    if not view.asking and not column.mean[0] > HALF:
        return None  # nothing flows through it here even on a healthy machine

    def shape(mean: Floats, variance: Floats) -> Floats:
        power = np.nan_to_num(mean, nan=0.0) ** 2
        sigma = np.sqrt(STEP**2 + variance * 4.0 * power)
        chance: Floats = ndtr((power - HALF) / sigma)
        return chance

    return view.over(column, shape)


def fuse_factor(view: View, found: FuseFound, situation: Situation) -> Factor | None:
    """What the state of a fuse says. "blew" and "held" are judged from a sound fuse in this
    situation alone;
    the others start from what the machine went through before."""
    if found.fuse not in view.book.parts:
        return None
    ratios: list[Floats] = []
    for gone in (False, True):
        chance = _fuse_chance(view, found, situation, gone=gone)
        if chance is None:
            return None
        ratios.append((1.0 - MISREAD) * chance / 0.5 + MISREAD)
    return Factor(
        finding=found.id,
        present=ratios[0],
        gone=ratios[1],
        background=log(0.5),
        causes=_either(view, ratios) if found.state in ("blown", "blew") else None,
    )


def _fuse_chance(
    view: View, found: FuseFound, situation: Situation, *, gone: bool
) -> Floats | None:
    fuse = found.fuse
    if found.state in ("hot both sides", "hot one side"):
        return _hot(view, fuse, situation, both=found.state == "hot both sides", gone=gone)
    fresh = found.state in ("blew", "held")
    start = situation.bare() if fresh else situation
    state = view.state(start, fuse, "element", gone=gone)
    if state is None:
        return None
    blown = (state > 0.0).astype(np.float64)[:, None]
    if found.state == "held":
        blown = 1.0 - blown
    if fresh:
        return SEEN_BLOWN * blown + (1.0 - SEEN_BLOWN) * (1.0 - blown)
    conducts = (1.0 - blown) * _conducts(view, fuse, gone=gone)
    if found.state == "looks good":
        return (
            SEEN_BLOWN * conducts
            + HAIRLINE * (1.0 - blown) * (1.0 - conducts)
            + (1.0 - SEEN_BLOWN) * blown
        )
    if found.state == "ohms good":
        return SEEN_BLOWN * conducts + (1.0 - SEEN_BLOWN) * (1.0 - conducts)
    return SEEN_BLOWN * np.maximum(blown, 1.0 - conducts) + (1.0 - SEEN_BLOWN) * conducts


def _conducts(view: View, fuse: str, *, gone: bool) -> Floats:
    """(H, W or 1) chance that the fuse, taken out and not blown, passes an ohmmeter."""
    out = Situation(key="off", pulled=frozenset({fuse}), battery_off=True)
    pins = view.book.parts[fuse].pins or ("1", "2")
    probe = Probe(kind="ohms", p=f"{fuse}:{pins[0]}", n=f"{fuse}:{pins[-1]}")
    column = view.column(out, probe, gone=gone)
    if column is None:
        return np.ones((view.count, 1))

    def shape(mean: Floats, variance: Floats) -> Floats:
        size = np.where(np.isfinite(mean), np.abs(mean), 1e9)
        sigma = np.sqrt(1.0 + np.where(np.isfinite(mean), variance, 0.0))
        passes: Floats = ndtr((5.0 - size) / sigma)
        return passes

    return view.over(column, shape)


def _hot(view: View, fuse: str, situation: Situation, *, both: bool, gone: bool) -> Floats | None:
    """(H, W or 1) chance that a lamp or meter finds feed on both sides, or on one only."""
    limit = 0.6 * view.book.machine.volts
    pins = view.book.parts[fuse].pins or ("1", "2")
    sides: list[Floats] = []

    def shape(mean: Floats, variance: Floats) -> Floats:
        chance: Floats = ndtr((mean - limit) / np.sqrt(variance + 0.05 * limit))
        return chance

    for pin in (pins[0], pins[-1]):
        column = view.column(situation, Probe(kind="volts", p=f"{fuse}.{pin}"), gone=gone)
        if column is None:
            return None
        sides.append(view.over(column, shape))
    if both:
        return sides[0] * sides[1]
    return sides[0] * (1.0 - sides[1]) + sides[1] * (1.0 - sides[0])
