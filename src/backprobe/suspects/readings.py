"""Readings of instruments and of the machine's own display."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import log

import numpy as np

from backprobe.book.model import Book, DisplayValue
from backprobe.book.situations import Situation
from backprobe.defects.model import Floats, Probe
from backprobe.findings.model import DisplayRead, Reading
from backprobe.kinds import KINDS
from backprobe.suspects.codes import rule_chance
from backprobe.suspects.column import Column
from backprobe.suspects.factor import Factor, Slip, floored
from backprobe.suspects.meters import (
    LAMP_OHM,
    LOW_IMPEDANCE_OHM,
    background,
    likelihood,
    normal,
)
from backprobe.suspects.view import View

JUMPING = 0.8
"""Given a defect that comes and goes, chance that a jumping reading jumps between its two
states rather than for a reason of its own. Judgement."""
DISPLAY_SD = 0.02
"""Error of a displayed value, share of its range: sensor and converter. Judgement."""


def probe_of(reading: Reading, volts: float = 12.0) -> Probe:
    """What the circuit of a machine of so many volts is asked for a reading."""
    if reading.instrument == "clamp":
        return Probe(kind="amps", p=reading.p)
    if reading.instrument == "diode tester":
        return Probe(kind="diode", p=reading.p, n=reading.n)
    if reading.instrument == "low-impedance meter":
        return Probe(kind="volts", p=reading.p, n=reading.n, meter_ohm=LOW_IMPEDANCE_OHM)
    if reading.instrument in ("ohmmeter", "beeper", "milliohm meter"):
        return Probe(kind="ohms", p=reading.p, n=reading.n)
    if reading.instrument == "lamp" and not reading.situation.fitted:
        return Probe(
            kind="volts", p=reading.p, n=reading.n, meter_ohm=LAMP_OHM * (volts / 12.0) ** 2
        )
    return Probe(kind="volts", p=reading.p, n=reading.n)


_PIN = re.compile(r"(?P<part>.+)\.(?P<pin>\d+)(?P<side>[ab]?)")


def beside(book: Book, place: str) -> tuple[str, ...]:
    """The wired pins before and after a pin of the same plug; none where pins are not counted."""
    found = _PIN.fullmatch(place)
    if found is None:
        return ()
    part, pin, side = found["part"], int(found["pin"]), found["side"]
    ends = (end for wire in book.wires.values() for end in (wire.a, wire.b))
    wired = {end.pin for end in ends if end.part == part}
    return tuple(f"{part}.{k}{side}" for k in (pin - 1, pin + 1) if str(k) in wired)


def _is_stud(book: Book, place: str) -> bool:
    """Whether a place is a stud or post: no lead slips from there to a 5 V pin."""
    part = book.parts.get(place.rpartition(".")[0])
    return part is not None and KINDS[part.kind].joint == "stud"


def _slips(view: View, reading: Reading, situation: Situation, chance: float) -> Iterator[Slip]:
    """What a reading says, had a pin beside been probed."""
    shape = likelihood(reading.instrument, reading.value, reading.cell, chance)
    for place in beside(view.book, reading.p):
        probe = probe_of(replace(reading, p=place), view.book.machine.volts)
        sides = [view.column(situation, probe, gone=gone) for gone in (False, True)]
        told = [floored(view.over(column, shape)) for column in sides if column is not None]
        if len(told) == 2:
            yield Slip(place=place, present=told[0], gone=told[1])


def reading_factor(view: View, reading: Reading, situation: Situation) -> Factor | None:
    """What a reading says; None when the book does not know the place."""
    probe = probe_of(reading, view.book.machine.volts)
    present = view.column(situation, probe, gone=False)
    gone = view.column(situation, probe, gone=True)
    if present is None or gone is None:
        return None
    stud = _is_stud(view.book, reading.p)
    chance = background(reading.instrument, reading.value, view.book.machine.volts, stud=stud)

    def fits(column: Column, value: float, against: float) -> Floats:
        if np.isnan(column.mean).all():
            return np.ones((1, 1))  # volts that alternate: such a meter tells nothing
        shape = likelihood(reading.instrument, value, reading.cell, against)
        ratio = view.over(column, shape)
        if column.chatters.size:
            ratio = np.array(np.broadcast_to(ratio, (view.count, ratio.shape[1])))
            ratio[column.chatters] = 1.0
        return floored(ratio)

    first = fits(present, reading.value, chance), fits(gone, reading.value, chance)
    if reading.to is None:
        return Factor(
            finding=reading.id,
            present=first[0],
            gone=first[1],
            background=log(chance),
            lead=f"{reading.p} to {reading.n}",
            slips=tuple(_slips(view, reading, situation, chance)),
        )
    other = background(reading.instrument, reading.to, view.book.machine.volts, stud=stud)
    second = fits(present, reading.to, other), fits(gone, reading.to, other)
    steady = first[0] * second[0], first[1] * second[1]
    between = 0.5 * (first[0] * second[1] + first[1] * second[0])
    return Factor(
        finding=reading.id,
        present=steady[0],
        gone=steady[1],
        background=log(chance) + log(other),
        lead=f"{reading.p} to {reading.n}",
        jumps=JUMPING * between + (1.0 - JUMPING) * 0.5 * (steady[0] + steady[1]),
    )


def on_scale(display: DisplayValue, volts: Floats, *, stops: bool) -> Floats:
    """What a display shows for its pin's volts, in its own measure; `stops`: at the ends of its scale."""
    shown: Floats = display.low + (volts - display.low_v) * display.per_volt
    low, high = sorted((display.low, display.high))
    return np.clip(shown, low, high) if stops else shown


def display_factor(
    view: View, read: DisplayRead, situation: Situation, lived: Sequence[Situation]
) -> Factor | None:
    """What a displayed value says: the pin's volts as the unit sees them, or anything at all
    while a code of that pin is active and the unit shows a substitute. Beyond the ends of its scale
    a display stops or goes on: even odds, a judgement."""
    display = view.book.displays.get((read.unit, read.name))
    if display is None:
        return None
    probe = Probe(kind="inner", p=f"{read.unit}:{display.pin.name}", n=f"{read.unit}:ground")
    reach = abs(display.high - display.low)
    chance = 1.0 / (1.2 * reach)

    def shape(mean: Floats, variance: Floats) -> Floats:
        around = variance * display.per_volt**2 + (DISPLAY_SD * reach) ** 2
        stopped, gone_on = (
            normal(read.value, on_scale(display, mean, stops=stops), around)
            for stops in (True, False)
        )
        return 0.5 * (stopped + gone_on) / chance

    ratios: list[Floats] = []
    for away in (False, True):
        column = view.column(situation, probe, gone=away)
        if column is None:
            return None
        substituted = np.zeros((view.count, 1))
        for rule in view.book.codes.values():
            if rule.unit == read.unit and any(test.pin == display.pin for test in rule.tests):
                chance_set = rule_chance(view, rule, lived, gone=away)
                if chance_set is not None:
                    substituted = np.maximum(substituted, chance_set)
        ratio = (1.0 - substituted) * view.over(column, shape) + substituted
        ratios.append(floored(ratio))
    return Factor(finding=read.id, present=ratios[0], gone=ratios[1], background=log(chance))
