"""What the history of stored and active codes says: how often each was counted, which came first.

Codes that one cause sets are set together, so they are counted alike; a code counted thirty times
beside one counted twice was mostly set by something else. The code that came first is the nearest
to the cause. Both are told modestly: counters start at different times and stop at different
events (common practice; makers' manuals warn of it), and the list itself is weighed already.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

import numpy as np

from backprobe.defects.model import Floats
from backprobe.findings.model import CodesFound

ALIKE = 3.0
"""How many times likelier two codes of one cause are counted alike than two of different causes; as
many times less likely to be counted far apart. Judgement."""
NEAR, FAR = 1.25, 3.0
"""Counts differ by at most this factor, or by at least that. Judgement."""
FEW = 3
"""Counts below this are alike by chance: everything is counted once."""
NOT_FIRST = 0.5
"""Factor on a defect that sets other codes of the list and not the one that came first. Judgement."""


def history_ratio(found: CodesFound, causes: Mapping[str, Floats]) -> Floats | None:
    """(H,) ratio of a list's counts and order; None when it says nothing of either. `causes` (H,): the
    chance that a defect sets each listed code."""
    told = _counts(found, causes)
    first = [code for code in found.first if code in causes]
    if told is None and not first:
        return None
    ratio: Floats = np.ones_like(next(iter(causes.values()))) if told is None else told
    if first and len(first) < len(causes):
        sets_first = np.max([causes[code] for code in first], axis=0)
        sets_other = np.max([one for code, one in causes.items() if code not in first], axis=0)
        ratio = ratio * (1.0 - (1.0 - NOT_FIRST) * sets_other * (1.0 - sets_first))
    return ratio


def _counts(found: CodesFound, causes: Mapping[str, Floats]) -> Floats | None:
    """The mean over all pairs of codes: ten codes are not forty-five votes."""
    often = {
        code: count
        for code, count in zip((*found.active, *found.stored), found.counts, strict=False)
        if count > 0 and code in causes
    }
    rows: list[Floats] = []
    for one, other in combinations(often, 2):
        low, high = sorted((often[one], often[other]))
        both = causes[one] * causes[other]
        alike = (low >= FEW and high <= NEAR * low) - (high >= FEW and high >= FAR * low)
        rows.append(np.log1p((ALIKE**alike - 1.0) * both))
    return np.exp(np.mean(rows, axis=0)) if any(row.any() for row in rows) else None
