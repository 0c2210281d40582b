"""What many checks read while the defect shows and while it does not, asked once per situation."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from backprobe.book.situations import Situation
from backprobe.checks.model import Check
from backprobe.defects.model import Floats, Predictor, Probe, Seen
from backprobe.suspects.column import Column
from backprobe.suspects.severity import Ladder
from backprobe.suspects.view import FEELS


class BothWays:
    """Readings of c checks under L hypotheses: `value`, `blur` (c, 2 L), what they read while the
    defect shows and then while it does not, nan where the book knows no such place, and the variance
    that what nobody knows of the machine gives them; `felt`: whether some feel the battery's volts,
    the contacts (as suspects.view tells it)."""

    def __init__(
        self, predictor: Predictor, checks: Sequence[Check], ladder: Ladder, variance: Floats
    ) -> None:
        """`variance` (3,) of the shared unknowns."""
        self._predictor, self._ladder, self._variance = predictor, ladder, variance
        self._spread = np.sqrt(variance)
        self._half = predictor.defects.atom_of.size
        self.value, self.blur = np.full((2, len(checks), 2 * self._half), np.nan)
        self.felt = (False, False)
        wanted: dict[Situation, dict[Probe, list[int]]] = {}
        for n, check in enumerate(checks):
            if check.probe is not None:
                wanted.setdefault(check.situation, {}).setdefault(check.probe, []).append(n)
        for situation, rows in wanted.items():
            self._ask(situation, rows)

    def _ask(self, situation: Situation, rows: dict[Probe, list[int]]) -> None:
        """The checks in `rows` of each probe."""
        try:
            shows, gone = self._predictor.both(situation, tuple(rows))
        except KeyError:
            # One unknown name spoils the lot: ask one by one.
            for probe in rows if len(rows) > 1 else ():
                self._ask(situation, {probe: rows[probe]})
            return
        at = [n for its in rows.values() for n in its]
        which = [k for k, its in enumerate(rows.values()) for _ in its]
        for seen, half in (
            (shows, slice(self._half)),
            (gone, slice(self._half, None)),
        ):
            mean, blur = self._of(seen)
            self.value[at, half], self.blur[at, half] = mean[which], blur[which]

    def _of(self, seen: Seen) -> tuple[Floats, Floats]:
        """(P, L or 1) readings and variances."""
        mean = np.ascontiguousarray(seen.mean.T)
        slopes = np.ascontiguousarray(seen.slope.transpose(1, 2, 0))
        blur, felt = np.empty(mean.shape), np.zeros(len(self._spread))
        for k, (one, slope) in enumerate(zip(mean, slopes, strict=True)):
            column = Column.of(
                one, slope, ladder=self._ladder, stand=seen.stand, spread=self._spread
            )
            blur[k] = self._variance @ column.slope**2 + column.width**2 / 12.0
            felt = np.maximum(felt, column.felt)
        battery, contacts = (bool(one > FEELS) for one in felt[:2])
        self.felt = self.felt[0] or battery, self.felt[1] or contacts
        return mean, blur
