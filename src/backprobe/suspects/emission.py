"""What a stretch's findings say of every hypothesis together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import reduce

import numpy as np

from backprobe.defects.model import Floats
from backprobe.suspects.evidence import Segment
from backprobe.suspects.factor import Factor

WRONG_PLACE = 0.01
"""Chance per visit that its leads were on the wrong place. Judgement."""
BESIDE_PIN = 0.01
"""Chance per pin and visit that the one beside it in the plug was probed. Judgement: miscounting a
pin is the commonest way to a wrong place."""


def emission(segment: Segment, *, shows: bool, jumps: Segment | None) -> Floats:
    """(H, W or 1) ratio of a stretch's findings on one side: while the defect shows, or while it
    does not. Meter readings share the coin of a misplaced lead. `jumps`: the stretch of what comes
    and goes, whose jumping readings count on either side."""
    plain: Floats = np.ones((1, 1))
    leads: dict[str, list[tuple[Factor, Floats]]] = {}
    for number, factor in enumerate(segment.factors):
        told = factor.present if shows else factor.gone
        if jumps is not None and (jump := jumps.factors[number].jumps) is not None:
            told = jump
        if factor.lead:
            leads.setdefault(factor.lead, []).append((factor, told))
        else:
            plain = plain * told
    if leads:
        right = _product(_at_one_place(readings, shows=shows) for readings in leads.values())
        plain = plain * ((1.0 - WRONG_PLACE) * right + WRONG_PLACE)
    return plain


def _at_one_place(readings: Sequence[tuple[Factor, Floats]], *, shows: bool) -> Floats:
    """(H, W or 1) ratio of all readings at one pin in a visit: it was that pin, or one beside it
    every time."""
    right = _product(told for _, told in readings)
    pins = readings[0][0].slips
    if not pins or any(len(factor.slips) != len(pins) for factor, _ in readings):
        return right
    there = [
        _product(
            slip.present if shows else slip.gone
            for slip in (factor.slips[number] for factor, _ in readings)
        )
        for number in range(len(pins))
    ]
    wrong = sum((one / len(pins) for one in there[1:]), there[0] / len(pins))
    mixed: Floats = (1.0 - BESIDE_PIN) * right + BESIDE_PIN * wrong
    return mixed


def _product(ratios: Iterable[Floats]) -> Floats:
    """(H, W or 1) product of at least one."""
    return reduce(np.multiply, ratios)
