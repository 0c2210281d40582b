"""From a check and what it showed to the findings that say so."""

from __future__ import annotations

from dataclasses import replace
from math import inf

from backprobe.checks.model import Check, displayed
from backprobe.checks.outcomes import FOUND, NOTHING, WORDS, answers_of, places_of, running_in
from backprobe.checks.trap import ABOUT
from backprobe.findings.model import (
    Act,
    AnyFinding,
    CodesFound,
    Condition,
    DisplayRead,
    Failing,
    FuseFound,
    Instrument,
    JobState,
    Looked,
    Mentioned,
    NotPossible,
    Provoked,
    Reading,
    Works,
)

CONDITIONS: tuple[Condition, ...] = ("", "wet", "hot", "moved")
PROVE, TRAP = WORDS["prove"], WORDS["trap"]
REPAIRED: dict[str, bool | None] = {
    "": None,
    "passes": None,
    "fails": None,
    "fails, was bad": True,
    "fails, nothing found": False,
}
"""Answers to a repair; for one in which it still fails, whether damage was found when the place was
opened. It was mended or renewed in either case."""
CANNOT = "cannot"
"""The answer to any check that cannot be done on this job."""
INSTRUMENTS: dict[str, Instrument] = {
    "ohms": "ohmmeter",
    "amps": "clamp",
    "millivolts": "millivolts",
}


def findings_of(
    check: Check, job: JobState, *, value: float | None = None, word: str = ""
) -> tuple[AnyFinding, ...]:
    """The findings a done check leaves, in the visit of the job.

    `value` in SI (display values in the display's own measure, inf for OL) for readings; `word`
    one of the check's outcome words otherwise, or CANNOT for any check. A fault that was brought back opens a new visit,
    in which it is failing. ValueError when the answer does not fit the check.
    """
    if word == CANNOT:
        here = job.now.bare()
        return (NotPossible(visit=job.visit, situation=here, check=check.id, words=check.words),)
    return _shown(check, job, value, word)


def _shown(check: Check, job: JobState, value: float | None, word: str) -> tuple[AnyFinding, ...]:
    situation = replace(check.situation, after=None)
    visit = job.visit
    if check.does in ("volts", "drop", "millivolts", "ohms", "amps", "lamp", "display"):
        if value is None:
            raise ValueError(f"{check.does} needs a value")
        return (_reading(check, value, visit),)
    if check.does in FOUND:
        gone_through = {
            "look": _looked,
            "sweep": _swept,
            "beep": _beeped,
            "provoke": _provoked,
        }[check.does]
        return gone_through(check, visit, word)
    if check.does == "works":
        _must(word in ("works", "does not work"), check, word)
        return (
            Works(visit=visit, situation=situation, target=check.target, works=word == "works"),
        )
    if check.does == "swap":
        _must(word in ("works now", "no change"), check, word)
        return (
            Act(
                visit=visit,
                situation=replace(situation, key="off", on=frozenset()),
                act="replaced",
                target=check.target,
            ),
            Works(
                visit=visit, situation=situation, target=check.setting, works=word == "works now"
            ),
        )
    if check.does == "fuse":
        _must(word in ("blown", "good"), check, word)
        return (
            FuseFound(
                visit=visit,
                situation=situation,
                fuse=check.target,
                state="blown" if word == "blown" else "looks good",
            ),
        )
    if check.does == "new fuse":
        _must(word in ("blows", "holds"), check, word)
        return (
            Act(visit=visit, situation=job.now, act="replaced", target=check.target),
            FuseFound(
                visit=visit,
                situation=situation,
                fuse=check.target,
                state="blew" if word == "blows" else "held",
            ),
        )
    if check.does in ("codes", "unplug"):
        return (_codes(check, visit, word),)
    if check.does == "prove":
        return (_proven(check, visit, word),)
    if check.does == "trap":
        return _trapped(check, visit, word)
    if check.does == "repair":
        _must(word in REPAIRED, check, word)
        act = Act(visit=visit, situation=situation, act="repaired", target=check.target)
        damage = REPAIRED[word]
        if damage is None:
            return (act,)
        return Looked(visit=visit, situation=situation, target=check.target, damage=damage), act
    return ()


def _reading(check: Check, value: float, visit: int) -> AnyFinding:
    situation = replace(check.situation, after=None)
    if check.does == "display":
        unit, name = displayed(check)
        return DisplayRead(visit=visit, situation=situation, unit=unit, name=name, value=value)
    probe = check.probe
    if probe is None:
        raise ValueError(f"{check.id} has nothing to read")
    plain: Instrument = "min-max" if check.instrument == "min-max" else "meter"
    return Reading(
        visit=visit,
        situation=situation,
        instrument=INSTRUMENTS.get(check.does, plain),
        p=probe.p,
        n=probe.n,
        value=value,
    )


def _looked(check: Check, visit: int, word: str) -> tuple[AnyFinding, ...]:
    situation = replace(check.situation, after=None)
    found = word.removeprefix(f"{FOUND['look']} ")
    if word == NOTHING["look"]:
        return tuple(
            Looked(visit=visit, situation=situation, target=place, damage=False)
            for place in places_of(check)
        )
    _must(found in answers_of(check), check, word)
    return (Looked(visit=visit, situation=situation, target=found, damage=True),)


def _swept(check: Check, visit: int, word: str) -> tuple[AnyFinding, ...]:
    """Everything before the first that does not work does."""
    functions = places_of(check)
    failing = word.removeprefix(f"{FOUND['sweep']} ")
    _must(word == NOTHING["sweep"] or failing in functions, check, word)
    tried = functions if word == NOTHING["sweep"] else functions[: functions.index(failing) + 1]
    still = replace(check.situation, after=None)
    turning = replace(still, key="run")
    return tuple(
        Works(
            visit=visit,
            situation=turning if name in running_in(check) else still,
            target=name,
            works=name != failing,
        )
        for name in tried
    )


def _beeped(check: Check, visit: int, word: str) -> tuple[AnyFinding, ...]:
    """Every place gone through before the first that beeps is silent."""
    places = places_of(check)
    sounds = word.removeprefix(f"{FOUND['beep']} ")
    _must(check.probe is not None and (word == NOTHING["beep"] or sounds in places), check, word)
    gone_through = places if word == NOTHING["beep"] else places[: places.index(sounds) + 1]
    situation = replace(check.situation, after=None)
    fixed = check.probe.p if check.probe is not None else ""
    return tuple(
        Reading(
            visit=visit,
            situation=situation,
            instrument="beeper",
            p=fixed,
            n=place,
            value=0.0 if place == sounds else inf,
        )
        for place in gone_through
    )


def _provoked(check: Check, visit: int, word: str) -> tuple[AnyFinding, ...]:
    condition = next(c for c in CONDITIONS if c == check.condition)
    situation = replace(check.situation, after=None)
    places = places_of(check)
    if word == NOTHING["provoke"]:
        return (Provoked(visit=visit, situation=situation, places=places, condition=condition),)
    place = word.removeprefix(f"{FOUND['provoke']} ")
    _must(place in places, check, word)
    return (
        Provoked(
            visit=visit, situation=situation, places=places, condition=condition, shown_at=place
        ),
        Failing(visit=visit + 1, situation=situation, answer="yes", condition=condition),
    )


def _codes(check: Check, visit: int, word: str) -> CodesFound:
    unit, _, code = (check.setting if check.does == "unplug" else check.target).rpartition(" ")
    _must(word in ("active", "not active", "still active", "gone"), check, word)
    here = word in ("active", "still active")
    return CodesFound(
        visit=visit,
        situation=replace(check.situation, after=None),
        unit=unit,
        active=(code,) if here else (),
        absent=() if here else (code,),
        complete=False,
    )


def _proven(check: Check, visit: int, word: str) -> Failing:
    """A proof is a visit of its own: the machine was exposed once more."""
    _must(word in PROVE, check, word)
    return Failing(
        visit=visit + 1,
        situation=replace(check.situation, after=None),
        answer="gone" if word == PROVE[0] else "yes",
        condition=next(c for c in CONDITIONS if c == check.condition),
    )


def _trapped(check: Check, visit: int, word: str) -> tuple[AnyFinding, ...]:
    """Who left the trap comes again: another visit."""
    _must(word in TRAP, check, word)
    off = replace(check.situation, after=None)
    where = f" at {check.setting}" if check.setting else ""
    return (
        Mentioned(visit=visit, situation=off, about=ABOUT, words=f"left{where}; {word}"),
        Failing(visit=visit + 1, situation=off, answer="yes" if word == TRAP[0] else "gone"),
    )


def _must(fits: bool, check: Check, word: str) -> None:
    if not fits:
        raise ValueError(f"{word!r} is no answer to: {check.words}")
