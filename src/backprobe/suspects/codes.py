"""Fault codes: when a unit sets one, and what a code list says about each of its rules.

A code asks on which side of a limit a voltage is, mostly from far off: what all readings share is
a blur of the margin here, not worlds. That keeps a list of forty rules as cheap as a few readings.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from math import log
from typing import TypeVar

import numpy as np
from scipy.special import ndtr

from backprobe.book.model import CodeRule, Test
from backprobe.book.situations import KEYS, Key, Situation
from backprobe.defects.model import Floats, Probe
from backprobe.findings.model import CodesFound
from backprobe.suspects.factor import ListFactor, RuleFactor
from backprobe.suspects.history import history_ratio
from backprobe.suspects.view import View

Chance = TypeVar("Chance", float, Floats)

RULE_WRONG = 0.01
"""Chance that one code's rule is wrong in the book. Judgement: 5 to 10 % of jobs meet a wrong or
missing row; ten rules have a say in a job, not one."""
SHOWN_IF_WRONG = 0.2
"""Chance that a code is shown when its rule is wrong. Judgement."""
SHOWN = 0.98
"""Chance that a code which is set is on the list. Judgement."""
SPURIOUS = 0.0005
"""Chance that a code is on the list although nothing in its rule holds. Judgement."""
STORED = 0.7
"""Chance that a code which was set in the past is still stored. Judgement."""
ANSWERS = ""
"""In place of a code: the unit answered at all, so it had power."""
HISTORY = " "
"""In place of a code: how often the listed codes were counted, which came first."""
DEAD_ANSWERS = 0.02
"""Chance that a list is noted of a unit without power: another one's, or nothing lit. Judgement."""
SHOWN_OUTSIDE = 0.1
"""Chance that a code is shown under "not in this book". Judgement."""
VOLTS_FLOOR, VOLTS_SHARE = 0.02, 0.01
AMPS_FLOOR, AMPS_SHARE = 0.03, 0.05
"""Errors of what a unit senses: floor and share of the value. Judgement."""
BUS_SD = 0.15
"""Width of the step at half the healthy signal where messages stop arriving. Judgement."""
HELD_OHM = 15.0
"""CAN high that is held to ground by less cannot be driven 0.9 V above CAN low (receivers' level:
Microchip and TI tutorials; a driver of 5 V behind some 45 ohm, from memory)."""
COMMON_V = 7.0
"""Receivers work up to this on either line (ISO 11898-2, from memory)."""


def powered(view: View, unit: str, situation: Situation, *, gone: bool) -> Floats:
    """(H or 1, 1) chance that the unit is on: between two severities of which one resets it, it may be
    so still. A unit the circuit does not know counts as on."""
    chance = view.powered(situation, unit, gone=gone)
    if chance is None:
        return np.ones((1, 1))
    on: Floats = chance[:, None]
    return on[:1] if (on == on[0]).all() else on


def watches(rule: CodeRule, situation: Situation) -> bool:
    """True when the unit looks at this rule in this situation."""
    return situation.key in rule.when and set(rule.commands) <= situation.on


def rule_chance(
    view: View, rule: CodeRule, situations: Iterable[Situation], *, gone: bool
) -> Floats | None:
    """(H or 1, 1) chance that the rule holds in one of the situations; None when none of them is
    one the rule looks at. The situation where it holds best counts: they are not independent."""
    best: Floats | None = None
    for situation in situations:
        if not watches(rule, situation):
            continue
        chance = view.chance(
            (rule.unit, rule.code, situation, gone),
            partial(_holds, view, rule, situation, gone=gone),
        )
        best = chance if best is None else np.maximum(best, chance)
    return best


def _holds(view: View, rule: CodeRule, situation: Situation, *, gone: bool) -> Floats:
    """(H or 1, 1) chance that all conditions of a rule hold. Low volts are told as the unit gives in,
    too; what else it senses when it is off is not what it senses just before."""
    chance = powered(view, rule.unit, situation, gone=gone)
    if not _of_supply(rule):
        chance = (chance > 0.5).astype(np.float64)
    for test in rule.tests:
        chance = chance * _test_chance(view, rule, test, situation, gone=gone)
    return chance


def _of_supply(rule: CodeRule) -> bool:
    """Whether a rule asks for the unit's own supply alone."""
    return all(test.kind == "supply" for test in rule.tests)


def sensed_at(unit: str, test: Test) -> Probe:
    """What a unit senses for one condition of a rule; not for messages of another unit."""
    pin = test.pin.name if test.pin else ""
    if test.kind == "amps":
        return Probe(kind="amps", p=f"{unit}.{pin}/drive", n="")
    if test.kind == "rail":
        return Probe(kind="inner", p=f"{unit}:group {test.other}", n=f"{unit}:ground")
    if test.kind == "supply":
        return Probe(kind="inner", p=f"{unit}:supply", n=f"{unit}:ground")
    return Probe(kind="inner", p=f"{unit}:{pin}", n=f"{unit}:ground")


def _test_chance(
    view: View, rule: CodeRule, test: Test, situation: Situation, *, gone: bool
) -> Floats:
    """(H or 1, 1) chance that one condition of a rule holds. A place the circuit does not know
    leaves it open: one half."""
    unit = rule.unit
    if test.kind == "hears":
        return 1.0 - _heard(view, unit, test.other, situation, gone=gone)
    floor, share = (AMPS_FLOOR, AMPS_SHARE) if test.kind == "amps" else (VOLTS_FLOOR, VOLTS_SHARE)
    probe = sensed_at(unit, test)
    column = view.column(situation, probe, gone=gone)
    if column is None:
        return np.full((1, 1), 0.5)

    def shape(mean: Floats, variance: Floats) -> Floats:
        size = np.abs(mean) if test.kind == "amps" else mean
        sigma = np.sqrt(variance + floor**2 + (share * size) ** 2)
        holds = np.zeros_like(size)
        if test.low is not None:
            holds = holds + ndtr((test.low - size) / sigma)
        if test.high is not None:
            holds = holds + ndtr((size - test.high) / sigma)
        return np.minimum(holds, 1.0)

    return view.over(column, shape, shared=False)


def _heard(view: View, unit: str, other: str, situation: Situation, *, gone: bool) -> Floats:
    """(H or 1, 1) chance that messages of `other` arrive: it is on and the bus carries them."""
    heard = powered(view, other, situation, gone=gone)
    here, there = bus_pins(view, unit), bus_pins(view, other)
    if here and there:
        probe = Probe(
            kind="transfer",
            p=f"{other}:{there[0]}",
            n=f"{other}:{there[1]}",
            p2=f"{unit}:{here[0]}",
            n2=f"{unit}:{here[1]}",
        )
        column = view.column(situation, probe, gone=gone)
        if column is not None:
            healthy = max(abs(float(column.mean[0])), 1e-9)

            def shape(mean: Floats, variance: Floats) -> Floats:
                sigma = np.sqrt(BUS_SD**2 + variance / healthy**2)
                carried: Floats = ndtr((np.abs(mean) / healthy - 0.5) / sigma)
                return carried

            heard = heard * view.over(column, shape, shared=False)
        heard = heard * _driven(view, other, there, situation, gone=gone)
    return heard


def _driven(
    view: View, unit: str, pins: tuple[str, str], situation: Situation, *, gone: bool
) -> Floats:
    """(H or 1, 1) chance that a unit can drive its bus: CAN high is not held to ground, neither line to
    the battery. A pair with its low line on ground may limp on (car maker's CAN tables)."""
    (high, low), ground = pins, f"{unit}:ground"
    held = Probe(kind="ohms", p=ground, n=f"{unit}:{high}")
    ohms = view.column(situation, held, gone=gone)
    volts = view.column(situation, Probe(kind="inner", p=f"{unit}:{low}", n=ground), gone=gone)
    if ohms is None or volts is None:
        return np.ones((1, 1))

    def free(mean: Floats, _: Floats) -> Floats:
        chance: Floats = ndtr(np.log(np.maximum(np.abs(mean), 1e-6) / HELD_OHM) / 0.5)
        return chance

    def within(mean: Floats, variance: Floats) -> Floats:
        chance: Floats = ndtr((COMMON_V - mean) / np.sqrt(variance + 0.5**2))
        return chance

    return view.over(ohms, free, shared=False) * view.over(volts, within, shared=False)


def bus_pins(view: View, unit: str) -> tuple[str, str] | None:
    """The unit's CAN pins (high, low), None when the book does not have both."""
    found: dict[str, str] = {}
    for pin, role in view.book.roles.items():
        words = role.role.lower()
        if pin.part == unit and "can" in words.split():
            found["high" if "high" in words else "low"] = pin.name
    return (found["high"], found["low"]) if len(found) == 2 else None


def rules_of(view: View, unit: str) -> tuple[CodeRule, ...]:
    """The rules of a unit, in the order of the book."""
    return tuple(rule for rule in view.book.codes.values() if rule.unit == unit)


def list_factor(
    view: View,
    found: CodesFound,
    visit: tuple[Situation, ...],
    life: tuple[Situation, ...],
    tests: tuple[Situation, ...] = (),
) -> ListFactor:
    """What one code list says about every rule of its unit.

    A list without any stored code says nothing of the past: many displays show active codes only.
    Active codes speak of the situations of the visit; stored ones, and active ones of rules that
    are not looked at in any of them, of the machine's usual life. Codes the test made say nothing;
    `tests`: what was gone through on this job with plugs off or fuses out, which may have set what
    is stored.
    """
    return view.told((found, visit, life, tests), partial(_told, view, found, visit, life, tests))


def _told(
    view: View,
    found: CodesFound,
    visit: Sequence[Situation],
    life: Sequence[Situation],
    tests: Sequence[Situation],
) -> ListFactor:
    """list_factor(), worked out."""
    rules = rules_of(view, found.unit)
    now = [
        {r.code: rule_chance(view, r, visit, gone=gone) for r in rules} for gone in (False, True)
    ]
    past = {
        r.code: rule_chance(
            view, r, (*_life_of(r, life), *(tests if r.code in found.stored else ())), gone=False
        )
        for r in rules
    }
    if view.asking:
        return ListFactor(finding=found.id, unit=found.unit)
    now = [
        _as_it_answered(view, found, visit, chances, gone=gone)
        for chances, gone in zip(now, (False, True), strict=True)
    ]
    shown_now = [_after_hiding(rules, chances) for chances in now]
    shown_past = _after_hiding(rules, past)
    factors: dict[str, RuleFactor] = {}
    background = outside = 0.0
    causes: dict[str, Floats] = {}
    made: list[Floats] = []
    for rule in rules:
        code = rule.code
        active, stored = code in found.active, code in found.stored
        if code in found.by_test:
            continue
        if active or stored:
            sets = [
                np.broadcast_to(chance[:, 0], (view.count,))
                for chance in (shown_now[0][code], shown_now[1][code], shown_past[code])
                if chance is not None
            ]
            if sets:
                causes[code] = np.max(sets, axis=0)
                made.append(_made_it_so(causes[code], SHOWN if active else STORED))
        present, gone = shown_now[0][code], shown_now[1][code]
        told_past: Floats | None = None
        ends: tuple[float, float] | None = None
        looked = active or found.complete or code in found.absent
        if present is not None and gone is not None and looked:
            ratios = _ratio(present, SHOWN, active), _ratio(gone, SHOWN, active)
            ends = _ratio(1.0, SHOWN, active), _ratio(0.0, SHOWN, active)
            background += _log_background(active, SHOWN_IF_WRONG)
            outside += _log_background(active, SHOWN_OUTSIDE)
        else:
            ratios = np.ones((1, 1)), np.ones((1, 1))
            stored = stored or active
        watched = present is not None
        chance = shown_past[code]
        listed = found.complete and bool(found.stored)
        if chance is not None and not (active and watched) and (stored or listed):
            told_past = _ratio(chance, STORED, stored)
            background += _log_background(stored, SHOWN_IF_WRONG)
            outside += _log_background(stored, SHOWN_OUTSIDE)
        factors[code] = RuleFactor(
            present=ratios[0],
            gone=ratios[1],
            past=told_past,
            ends=ends,
            past_ends=(_ratio(1.0, STORED, stored), _ratio(0.0, STORED, stored)),
            supply=_of_supply(rule) and all(test.high is None for test in rule.tests),
        )
    if found.complete or found.active:
        factors[ANSWERS] = _answered(view, found.unit, visit)
    told = history_ratio(found, causes) if causes else None
    if told is not None:
        factors[HISTORY] = RuleFactor(present=told[:, None], gone=told[:, None], past=None)
    return ListFactor(
        finding=found.id,
        unit=found.unit,
        rules=factors,
        background=background,
        outside=float(np.exp(outside - background)),
        causes=np.max(made, axis=0) if made else None,
    )


def _made_it_so(chance: Floats, seen: float) -> Floats:
    """(H,) chance that a defect set a code that is on the list, from that of setting it: else the code came
    of nothing at all, or of what a sound machine, the first, does as well. How likely the list is, its
    ratio says; that is not said twice."""
    holds, more = seen * chance, seen * np.maximum(chance - chance[0], 0.0)
    result: Floats = more / (holds + SPURIOUS * (1.0 - chance))
    return result


def _answered(view: View, unit: str, visit: Sequence[Situation]) -> RuleFactor:
    """What it says that a unit showed its list in every situation of a visit."""
    sides: list[Floats] = []
    for gone in (False, True):
        on = np.ones((1, 1))
        for situation in visit:
            on = np.minimum(on, powered(view, unit, situation, gone=gone))
        sides.append(DEAD_ANSWERS + (1.0 - DEAD_ANSWERS) * on)
    return RuleFactor(present=sides[0], gone=sides[1], past=None)


def _as_it_answered(
    view: View,
    found: CodesFound,
    visit: Sequence[Situation],
    chances: dict[str, Floats | None],
    *,
    gone: bool,
) -> dict[str, Floats | None]:
    """What rules on its supply come to while the unit answers: that it had power is told by that
    (ANSWERS)."""
    on = np.ones((1, 1))
    for situation in visit:
        on = np.minimum(on, powered(view, found.unit, situation, gone=gone))
    doubt = (on > 0.0) & (on < 1.0)
    if not (found.complete or found.active) or not doubt.any():
        return chances
    lit = np.where(doubt, 1.0 / (on + DEAD_ANSWERS * (1.0 - on)), 1.0)
    told = dict(chances)
    for rule in rules_of(view, found.unit):
        chance = chances[rule.code]
        if chance is not None and _of_supply(rule):
            told[rule.code] = np.minimum(chance * lit, 1.0)
    return told


def _life_of(rule: CodeRule, life: Sequence[Situation]) -> tuple[Situation, ...]:
    """The usual life as far as the rule looks at it, else the plainest situation it looks at."""
    looked = tuple(situation for situation in life if watches(rule, situation))
    if looked or not rule.when:
        return looked
    key: Key = next((key for key in reversed(KEYS) if key in rule.when), "on")
    return (Situation(key=key, on=frozenset(rule.commands)),)


def _after_hiding(
    rules: Sequence[CodeRule], chances: dict[str, Floats | None]
) -> dict[str, Floats | None]:
    """Chances with the codes suppressed that another one hides."""
    shown: dict[str, Floats | None] = {}
    for rule in rules:
        chance = chances[rule.code]
        for other in rules:
            hider = chances[other.code]
            if chance is not None and hider is not None and rule.code in other.hides:
                chance = chance * (1.0 - hider)
        shown[rule.code] = chance
    return shown


def _ratio(chance: Chance, seen_if_set: float, shown: bool) -> Chance:
    listed = seen_if_set * chance + SPURIOUS * (1.0 - chance)
    return listed / SHOWN_IF_WRONG if shown else (1.0 - listed) / (1.0 - SHOWN_IF_WRONG)


def _log_background(shown: bool, chance: float) -> float:
    return log(chance) if shown else log(1.0 - chance)
