"""Checks and proposals, as frozen data. Seconds inside, minutes on the screen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from backprobe.book.situations import Situation
from backprobe.defects.model import Probe

Does = Literal[
    "volts",
    "drop",
    "amps",
    "ohms",
    "beep",
    "millivolts",
    "look",
    "swap",
    "unplug",
    "lamp",
    "works",
    "sweep",
    "codes",
    "display",
    "provoke",
    "trap",
    "repair",
    "prove",
    "fuse",
    "new fuse",
    "stop",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One thing a check may show. `low`..`high` in SI for readings, `typical` between them, `word`
    otherwise; `chance` now; `leaves`: groups with their chance after it, likeliest first."""

    words: str
    chance: float
    leaves: tuple[tuple[str, float], ...]
    low: float | None = None
    high: float | None = None
    typical: float | None = None
    word: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One thing to do. `id` is stable within a book; `target` the part, plug, group or function
    it is about; `probe` what is read, if anything is; `opens` what must be opened or unplugged;
    `hazards` slugs of kinds.hazards; `seconds` the check alone."""

    id: str
    does: Does
    target: str
    words: str
    situation: Situation
    probe: Probe | None = None
    instrument: str = ""
    setting: str = ""
    opens: tuple[str, ...] = ()
    disturbs: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    people: int = 1
    seconds: float = 120.0
    condition: str = ""


def displayed(check: Check) -> tuple[str, str]:
    """(unit, name) of the value a display check reads. Either may hold spaces."""
    probe = check.probe
    unit = probe.p.rpartition(":")[0] if probe is not None else ""
    return unit, check.target.removeprefix(f"{unit} ")


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """A check with its price and promise now. `seconds`: opening, key changes, waits, the check
    and closing; `healthy` with `tolerance` in SI; `gain_s`: expected seconds saved by doing it;
    `steps`: what to do, in order, in plain words; `cautions`: words with their authority."""

    check: Check
    seconds: float
    healthy: float | None
    tolerance: float | None
    healthy_words: str
    outcomes: tuple[Outcome, ...]
    gain_s: float
    bits: float
    steps: tuple[str, ...]
    cautions: tuple[tuple[str, str], ...]
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """What to do next: the best check and up to two others, or the end of the search. Half of the
    jobs believed to be like this one end within `half_s` from now, nine in ten within `ninety_s`:
    mended and proven, or handed on. `ask`: that the customer must be asked first, and why."""

    next: tuple[Priced, ...]
    half_s: float
    ninety_s: float
    ask: str = ""
    words: str
