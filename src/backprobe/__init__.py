"""Backprobe: the one defect behind many fault codes, and the next check that finds it."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Final

from backprobe.base.version import VERSION

if TYPE_CHECKING:
    from backprobe.base.problems import Problem, Spot
    from backprobe.book import read_book
    from backprobe.book.model import Book
    from backprobe.book.situations import Lead, Situation
    from backprobe.checks.model import Check, Outcome, Priced, Proposal
    from backprobe.checks.ranging import Clamped, Drop, Ohms, Parted, Placed
    from backprobe.defects.model import Probe
    from backprobe.findings.model import (
        Act,
        AnyFinding,
        Approved,
        Bet,
        Closed,
        CodesFound,
        DisplayRead,
        Failing,
        Finding,
        FuseFound,
        JobState,
        Looked,
        Mentioned,
        NotPossible,
        Photo,
        Provoked,
        Reading,
        Recalled,
        Withdrawn,
        Works,
    )
    from backprobe.shop.closing import closing
    from backprobe.shop.expect import Expected, defects_at, effects_at
    from backprobe.shop.job import Job, start
    from backprobe.shop.putting_back import putting_back
    from backprobe.shop.say import hear, told
    from backprobe.shop.whereabouts import Whereabouts, whereabouts
    from backprobe.shop.write_up import WriteUp, write_up
    from backprobe.suspects.model import Contradiction, Proof, Reason, Suspect, Verdict

__version__ = VERSION

_HOMES: Final = {
    "backprobe.base.problems": ("Problem", "Spot"),
    "backprobe.book": ("read_book",),
    "backprobe.book.model": ("Book",),
    "backprobe.book.situations": ("Lead", "Situation"),
    "backprobe.checks.model": ("Check", "Outcome", "Priced", "Proposal"),
    "backprobe.checks.ranging": ("Clamped", "Drop", "Ohms", "Parted", "Placed"),
    "backprobe.defects.model": ("Probe",),
    "backprobe.findings.model": (
        "Act",
        "AnyFinding",
        "Approved",
        "Bet",
        "Closed",
        "CodesFound",
        "DisplayRead",
        "Failing",
        "Finding",
        "FuseFound",
        "JobState",
        "Looked",
        "Mentioned",
        "NotPossible",
        "Photo",
        "Provoked",
        "Reading",
        "Recalled",
        "Withdrawn",
        "Works",
    ),
    "backprobe.shop.closing": ("closing",),
    "backprobe.shop.expect": ("Expected", "defects_at", "effects_at"),
    "backprobe.shop.job": ("Job", "start"),
    "backprobe.shop.putting_back": ("putting_back",),
    "backprobe.shop.say": ("hear", "told"),
    "backprobe.shop.whereabouts": ("Whereabouts", "whereabouts"),
    "backprobe.shop.write_up": ("WriteUp", "write_up"),
    "backprobe.suspects.model": ("Contradiction", "Proof", "Reason", "Suspect", "Verdict"),
}
"""Where the public names live; each is imported when first asked for, so that `import backprobe`
and `backprobe --help` stay light."""
_HOME: Final = {name: module for module, names in _HOMES.items() for name in names}

__all__ = [
    "Act",
    "AnyFinding",
    "Approved",
    "Bet",
    "Book",
    "Check",
    "Clamped",
    "Closed",
    "CodesFound",
    "Contradiction",
    "DisplayRead",
    "Drop",
    "Expected",
    "Failing",
    "Finding",
    "FuseFound",
    "Job",
    "JobState",
    "Lead",
    "Looked",
    "Mentioned",
    "NotPossible",
    "Ohms",
    "Outcome",
    "Parted",
    "Photo",
    "Placed",
    "Priced",
    "Probe",
    "Problem",
    "Proof",
    "Proposal",
    "Provoked",
    "Reading",
    "Reason",
    "Recalled",
    "Situation",
    "Spot",
    "Suspect",
    "Verdict",
    "Whereabouts",
    "Withdrawn",
    "Works",
    "WriteUp",
    "__version__",
    "closing",
    "defects_at",
    "effects_at",
    "hear",
    "putting_back",
    "read_book",
    "start",
    "told",
    "whereabouts",
    "write_up",
]


def __getattr__(name: str) -> object:
    """A public name, imported from its home and kept."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    thing: object = getattr(import_module(_HOME[name]), name)
    globals()[name] = thing
    return thing


def __dir__() -> list[str]:
    return sorted(set(globals()) | set(__all__))
