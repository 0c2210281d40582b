"""A predictor that looks at some hypotheses only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from backprobe.book.situations import Situation
from backprobe.defects.model import Defects, Ints, Predictor, Probe, Seen


def narrowed(predictor: Predictor, rows: Ints) -> Predictor:
    """The predictor for hypotheses `rows` (healthy first), in their order. One that can narrow
    itself saves its own work."""
    within = getattr(predictor, "within", None)
    if within is not None:
        result: Predictor = within(rows)
        return result
    return _Some(predictor, rows)


@dataclass(frozen=True, slots=True)
class _Some:
    """Rows of another predictor."""

    whole: Predictor
    rows: Ints

    @property
    def defects(self) -> Defects:
        """The same atoms with fewer severities."""
        all_of = self.whole.defects
        return replace(
            all_of,
            atom_of=all_of.atom_of[self.rows],
            weight=all_of.weight[self.rows],
            ohm=all_of.ohm[self.rows],
            spread=all_of.spread[self.rows],
        )

    def seen(self, situation: Situation, probes: Sequence[Probe], *, gone: bool = False) -> Seen:
        """Readings under the chosen hypotheses."""
        seen = self.whole.seen(situation, probes, gone=gone)
        return Seen(
            mean=seen.mean[self.rows],
            slope=seen.slope[self.rows],
            settled=seen.settled[self.rows],
            stand=None if seen.stand is None else seen.stand[self.rows],
        )

    def both(self, situation: Situation, probes: Sequence[Probe]) -> tuple[Seen, Seen]:
        """Readings under the chosen hypotheses, present and gone."""
        return self.seen(situation, probes), self.seen(situation, probes, gone=True)

    def state(
        self, situation: Situation, part: str, state: str, *, gone: bool = False
    ) -> NDArray[np.int8]:
        """States under the chosen hypotheses."""
        return self.whole.state(situation, part, state, gone=gone)[self.rows]

    def in_cells(self, rows: Ints) -> Predictor:
        """The chosen hypotheses through their severity cells."""
        return self.whole.in_cells(self.rows[rows])
