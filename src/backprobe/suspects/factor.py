"""What one finding says about every hypothesis.

All likelihoods are ratios to the chance of the finding if it had nothing to do with the machine
(a misread figure, a wrong pin): 1 says nothing, MISREAD is the floor of a reading that does not
fit, above 1 it fits better than chance. Ratios keep products of many findings within floats and
make "not in this book" and "the lead was on the wrong place" a plain 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from backprobe.defects.model import Flags, Floats, Ints

MISREAD = 0.02
"""Chance that a single reading is misread or mistyped. Judgement."""


ALIKE = 1e-3
"""Ratios this near to each other say the same."""
RHO = (0.1, 0.5, 0.9)
"""Chances, equally likely, that a defect that comes and goes shows in a visit. Judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A reading taken at another pin than was noted. `place`: that pin; ratios as in Factor."""

    place: str
    present: Floats
    gone: Floats

    def only(self, rows: Ints) -> Slip:
        """What it says about some hypotheses."""
        return replace(self, present=_picked(self.present, rows), gone=_picked(self.gone, rows))


@dataclass(frozen=True, slots=True, kw_only=True)
class Factor:
    """One finding. `present`, `gone` (H, W or 1): ratio while the defect shows, and while it does
    not. `lead`: the place of a meter reading, "" for anything else: it shares the visit's misplaced
    lead. `slips`: ratios, had the pin beside been probed. `jumps`: for a reading that
    jumped, the ratio under a defect that comes and goes, whichever state the visit is in.
    `background`: natural log of the chance that ratios refer to. `outside`: the ratio under "not
    in this book" where it is not a mixture of healthy and anything. `causes` (H,): for what was
    found wrong, the chance that the defect makes it so. `look`: for a look, by how much the ratio
    rises with the chance that the defect shows to the eye there. `either`: of two faults, it speaks
    for both as for the one it speaks for more."""

    finding: str
    present: Floats
    gone: Floats
    background: float
    lead: str = ""
    slips: tuple[Slip, ...] = ()
    jumps: Floats | None = None
    outside: float | None = None
    causes: Floats | None = None
    look: float = 0.0
    either: bool = False

    @property
    def tells_nothing_apart(self) -> bool:
        """True when it says the same of every hypothesis, shown or not."""
        told = [
            self.present,
            self.gone,
            *(part for s in self.slips for part in (s.present, s.gone)),
        ]
        told += [self.present if self.jumps is None else self.jumps]
        return _same(told) and (self.causes is None or _same([self.causes[:, None]]))

    def only(self, rows: Ints) -> Factor:
        """What it says about some hypotheses."""
        return replace(
            self,
            present=_picked(self.present, rows),
            gone=_picked(self.gone, rows),
            slips=tuple(slip.only(rows) for slip in self.slips),
            jumps=None if self.jumps is None else _picked(self.jumps, rows),
            causes=None if self.causes is None else self.causes[rows],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleFactor:
    """What a code list says about one rule of its unit, as Factor. `past` (H, W): ratio of
    its stored codes, which speak of the time when the complaint showed. `ends`, `past_ends`: the ratio
    where the rule holds for sure, and where it does not; None where there is nothing in between.
    `supply`: it asks for low volts of its unit's supply, as others ask of theirs."""

    present: Floats
    gone: Floats
    past: Floats | None
    ends: tuple[float, float] | None = None
    past_ends: tuple[float, float] | None = None
    supply: bool = False

    def only(self, rows: Ints) -> RuleFactor:
        """What it says about some hypotheses."""
        most = max(self.present.shape[0], self.gone.shape[0])
        if most == 1 and (self.past is None or self.past.shape[0] == 1):
            return self
        return replace(
            self,
            present=_picked(self.present, rows),
            gone=_picked(self.gone, rows),
            past=None if self.past is None else _picked(self.past, rows),
        )

    def then(self, other: RuleFactor, counts: tuple[int, int]) -> RuleFactor:
        """What it says about these hypotheses and then about others, so many of each."""
        past = None
        if self.past is not None and other.past is not None:
            past = _then(self.past, other.past, counts)
        return replace(
            self,
            present=_then(self.present, other.present, counts),
            gone=_then(self.gone, other.gone, counts),
            past=past,
        )


SILENT = RuleFactor(present=np.ones((1, 1)), gone=np.ones((1, 1)), past=None)
"""What a list says of a rule that it does not speak of."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ListFactor:
    """A code list. `rules` by code. `outside`: chance of the whole list under "not in this book"
    over the chance that the rules' ratios refer to. `causes` (H,): chance that the defect set at
    least one of the listed codes, None when none is listed."""

    finding: str
    unit: str
    rules: dict[str, RuleFactor] = field(default_factory=dict)
    background: float = 0.0
    outside: float = 1.0
    causes: Floats | None = None

    @property
    def tells_nothing_apart(self) -> bool:
        """True when it says the same of every hypothesis, shown or not."""
        alike = all(
            _same([rule.present, rule.gone]) and (rule.past is None or _same([rule.past]))
            for rule in self.rules.values()
        )
        return alike and (self.causes is None or _same([self.causes[:, None]]))

    def only(self, rows: Ints) -> ListFactor:
        """What it says about some hypotheses."""
        return replace(
            self,
            rules={code: rule.only(rows) for code, rule in self.rules.items()},
            causes=None if self.causes is None else self.causes[rows],
        )

    def then(self, other: ListFactor, counts: tuple[int, int]) -> ListFactor:
        """What it says about these hypotheses and then about others, so many of each."""
        codes = dict.fromkeys((*self.rules, *other.rules))
        rules = {
            code: self.rules.get(code, SILENT).then(other.rules.get(code, SILENT), counts)
            for code in codes
        }
        both = None
        if self.causes is not None and other.causes is not None:
            both = np.concatenate([self.causes, other.causes])
        return replace(self, rules=rules, causes=both)


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """An act that may end a defect. `mended` (H,): repaired there; `disturbed` (H,): touched."""

    finding: str
    mended: Flags
    disturbed: Flags


def _same(ratios: Sequence[Floats]) -> bool:
    """True when ratios (H, W or 1) do not differ between hypotheses, nor from each other."""
    return all(
        bool((np.abs(ratio - ratios[0][:1]) <= ALIKE * ratios[0][:1]).all()) for ratio in ratios
    )


def _picked(ratio: Floats, rows: Ints) -> Floats:
    return ratio if ratio.shape[0] == 1 else ratio[rows]


def _then(one: Floats, other: Floats, counts: tuple[int, int]) -> Floats:
    """Ratios (H, 1) of these hypotheses and then of others; one row where all are alike."""
    if one.shape[0] == other.shape[0] == 1 and (one == other).all():
        return one
    each = zip((one, other), counts, strict=True)
    return np.concatenate([np.broadcast_to(ratio, (count, 1)) for ratio, count in each])


def floored(ratio: Floats, misread: float = MISREAD) -> Floats:
    """A ratio that allows for a misread figure."""
    mixed: Floats = (1.0 - misread) * ratio + misread
    return mixed
