"""What does not add up, and the ways out of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from backprobe.book.model import Book
from backprobe.findings.model import (
    AnyFinding,
    CodesFound,
    DisplayRead,
    Failing,
    FuseFound,
    JobState,
    Looked,
    Reading,
    Works,
)
from backprobe.suspects.factor import ListFactor
from backprobe.suspects.model import Contradiction, Suspect
from backprobe.suspects.view import View
from backprobe.suspects.wording import Case, Told, best, found_words, reason_words

MISFIT = 0.2
"""A finding that fits the suspects left this badly does not add up: 0.02 is a misread figure,
1 is chance. Judgement."""
ENOUGH = 0.9
"""Suspects that together hold this chance are "every suspect"."""

ALTERED = "the machine may differ from the wiring book: an add-on, an altered or missing wire"
TWO = "there may be two defects at once"


def clashing(
    told: Mapping[str, Told], outside: float, without: Mapping[str, float]
) -> tuple[str, str] | None:
    """The two findings that leave the job to "not in this book" together, the one to take again first:
    `outside`, its chance now, falls to less than half without either; `without`: to what, by finding."""
    able = {
        name: chance
        for name, chance in without.items()
        if chance < outside / 2.0
        and name in told
        and isinstance(told[name].finding, Reading | DisplayRead | Works | FuseFound)
    }
    if len(able) < 2:
        return None
    one, other = sorted(able, key=lambda name: able[name])[:2]
    reads = isinstance(told[other].finding, Reading) > isinstance(told[one].finding, Reading)
    return (other, one) if reads else (one, other)


def contradictions(
    view: View,
    job: JobState,
    told: Mapping[str, Told],
    fits: Mapping[str, float],
    suspects: Sequence[Suspect],
    case: Case,
    *,
    slips: Mapping[str, Sequence[str]] | None = None,
    without: Mapping[str, str] | None = None,
    pairs: bool = False,
    clash: tuple[str, str] | None = None,
) -> tuple[Contradiction, ...]:
    """Findings no suspect explains, codes every likely suspect leaves open, and findings about
    things the book does not know. `slips`: pins beside that a reading is
    like; `without`: who would lead without a finding; `pairs`: two faults were weighed, and are no way out;
    `clash`: two findings that do not go together though each fits some of the suspects."""
    two = () if pairs else (TWO,)
    odd: list[Contradiction] = []
    for name, item in told.items():
        if isinstance(item.says, ListFactor) or isinstance(item.finding, Failing | Looked):
            continue
        clashes = clash is not None and name == clash[0]
        if fits.get(name, 1.0) > MISFIT and not clashes:
            continue
        words = f"does not fit the rest: {reason_words(view, item, case)}"
        if clash is not None and clashes:
            words = _clash_words(view.book, item, told[clash[1]].finding)
        odd.append(
            Contradiction(
                finding=name,
                words=words,
                without=(without or {}).get(name, ""),
                ways_out=(
                    *_beside(item.finding, (slips or {}).get(name, ())),
                    *_again(item.finding),
                    ALTERED,
                    *two,
                ),
            )
        )
    for finding in job.findings:
        if isinstance(finding, CodesFound) and finding.trusted:
            odd += _open_codes(view, finding, suspects, two)
        elif finding.trusted and finding.id not in told and _about(finding):
            odd.append(
                Contradiction(
                    finding=finding.id,
                    words=f"not weighed: {found_words(view.book, finding)}; the wiring book does not have "
                    "this place, or nothing flows there in this situation",
                    ways_out=(
                        "check the name and the situation as noted",
                        "add the missing row to the wiring book",
                    ),
                )
            )
    return tuple(odd)


def _clash_words(book: Book, told: Told, other: AnyFinding) -> str:
    """What was found, whether a sound machine shows it, and what it does not go together with."""
    says = told.says
    sound = not isinstance(says, ListFactor) and best(says.present, 0) > 1.0
    return (
        f"found {found_words(book, told.finding)}{', as on a sound machine' if sound else ''}: that does not "
        f'go together with "{found_words(book, other)}"'
    )


def _beside(finding: AnyFinding, places: Sequence[str]) -> tuple[str, ...]:
    """The pins beside that a reading would fit."""
    if not isinstance(finding, Reading):
        return ()
    return tuple(
        f"perhaps {place} was probed instead of {finding.p}: it reads so there" for place in places
    )


def _again(finding: AnyFinding) -> tuple[str, ...]:
    situation = finding.situation.words()
    match finding:
        case Reading():
            return (
                f"measure again: right pin, right side of the plug, other lead on {finding.n}",
                f"was it really with {situation}?",
            )
        case Works() | FuseFound() | DisplayRead():
            return (f"look again, with {situation}",)
        case _:
            return ("look again",)


def _about(finding: AnyFinding) -> bool:
    return isinstance(finding, Reading | DisplayRead | Works | FuseFound | Looked)


def _open_codes(
    view: View, found: CodesFound, suspects: Sequence[Suspect], two: tuple[str, ...]
) -> list[Contradiction]:
    """Codes that every likely suspect leaves open, and codes the book does not have."""
    likely: list[Suspect] = []
    held = 0.0
    for suspect in suspects:
        if held < ENOUGH:
            likely.append(suspect)
            held += suspect.chance
    odd: list[Contradiction] = []
    for code in dict.fromkeys((*found.active, *found.stored)):
        name = f"{found.unit} {code}"
        if code in found.by_test:
            continue
        if (found.unit, code) not in view.book.codes:
            odd.append(
                Contradiction(
                    finding=found.id,
                    words=f"code {name} is not in the wiring book and says nothing yet",
                    ways_out=("add its rule to the wiring book: which pin, low or high",),
                )
            )
        elif likely and all(name in suspect.leaves_open for suspect in likely):
            odd.append(
                Contradiction(
                    finding=found.id,
                    words=f"no likely suspect explains code {name}",
                    ways_out=(
                        "its rule in the wiring book may be wrong: which pin, low or high, when",
                        "it may be old, or made by a test: clear it and see whether it comes back",
                        *two,
                    ),
                )
            )
    return odd
