"""What many kinds share: sources, attributes, failures and checks of the usual sort."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import Final

from backprobe.kinds.records import (
    CONTACT_CELLS,
    SEVERITY,
    Across,
    Attribute,
    Bridge,
    Cell,
    Failure,
    Move,
    Series,
    State,
    Task,
    Through,
    Value,
)

PRACTICE: Final = "common practice, no source"
JUDGED: Final = "judgement"
RATE: Final = "judgement: no field statistics for compact machines were found"
MODES: Final = "mode shares MIL-HDBK-338B (as transcribed), total a judgement"

VOLTS: Final = Attribute(
    name="volts",
    unit="V",
    default=12.0,
    low=6.0,
    high=48.0,
    meaning="nominal voltage; the machine's own when not given",
    source=PRACTICE,
    bare=True,
)
IN: Final = Attribute(
    name="in",
    unit="word",
    default="",
    meaning="key positions in which it is operated by itself: any of on, crank, run",
    source="a fact of the machine",
)
WITH: Final = Attribute(
    name="with",
    unit="word",
    default="",
    meaning="switches or functions that must be on for it to be operated",
    source="a fact of the machine",
)
KEY: Final = State(name="key", words=("off", "on", "crank", "run"), rest="off")

LEAK_CELLS: Final = (
    Cell(ohm=1.0, spread=3.0, weight=0.35),
    Cell(ohm=30.0, spread=3.0, weight=0.35),
    Cell(ohm=500.0, spread=4.0, weight=0.30),
)
"""How hard a part's inside shorts. Weights: judgement, no source."""
DRIFT: Final = (Cell(ohm=1.0, spread=2.0, weight=1.0),)
"""A drift is anywhere from half to twice what its failure says. Judgement."""


def opens(branch: str, words: str, rate: float, source: str, **more: float) -> Failure:
    """A broken coil, filament or element. `more`: sometimes, wet, hot, moved, visible, mend_s."""
    return _with(
        Failure(
            name="open",
            words=words,
            changes=(Series(branch=branch, ohm=inf),),
            rate=rate,
            source=source,
        ),
        more,
    )


def worn(branch: str, words: str, rate: float, source: str, **more: float) -> Failure:
    """Burnt or dirty switching contacts: a resistance anywhere from 0.1 ohm to open."""
    return _with(
        Failure(
            name="bad contact",
            words=words,
            changes=(Series(branch=branch, ohm=SEVERITY),),
            rate=rate,
            source=source,
            cells=CONTACT_CELLS,
            sometimes=0.4,
        ),
        more,
    )


def sticks(p: str, n: str, words: str, rate: float, source: str, **more: float) -> Failure:
    """Contacts that stay closed (welded, jammed)."""
    return _with(
        Failure(
            name="stuck closed",
            words=words,
            changes=(Bridge(p=p, n=n, ohm=0.01),),
            rate=rate,
            source=source,
            sometimes=0.15,
        ),
        more,
    )


def shorts(
    name: str, p: str, n: str, words: str, ohm: Value, rate: float, source: str, **more: float
) -> Failure:
    """A bridge inside the part; with `ohm` SEVERITY it runs over LEAK_CELLS."""
    return _with(
        Failure(
            name=name,
            words=words,
            changes=(Bridge(p=p, n=n, ohm=ohm),),
            rate=rate,
            source=source,
            cells=LEAK_CELLS if ohm == SEVERITY else (),
        ),
        more,
    )


def shorted_turns(branch: str, attribute: str, left: float, rate: float, source: str) -> Failure:
    """A coil with shorted turns: `left` is the share of the ohms of `attribute` that is left."""
    return Failure(
        name="shorted turns",
        words="coil shorted inside, draws too much",
        changes=(Series(branch=branch, ohm=lambda a: -(1.0 - left) * float(a[attribute])),),
        rate=rate,
        source=source,
        hot=2.0,
    )


def _with(failure: Failure, more: dict[str, float]) -> Failure:
    return replace(failure, **more)  # type: ignore[arg-type]


def look(words: str, seconds: float = 60.0) -> Task:
    """A close look, key off."""
    return Task(
        name="look", does="look", words=words, seconds=seconds, source=PRACTICE, needs="off"
    )


def works(words: str, *hazards: str, seconds: float = 30.0) -> Task:
    """Does it do its job when commanded?"""
    return Task(
        name="works",
        does="works",
        words=words,
        seconds=seconds,
        source=PRACTICE,
        needs="on",
        hazards=hazards,
    )


def supply_volts(p: str, words: str, *hazards: str, n: str = "@minus") -> Task:
    """Volts at a live pin, under load, against battery minus."""
    return Task(
        name=f"volts at {p}",
        does="volts",
        words=words,
        seconds=90.0,
        source=PRACTICE,
        p=p,
        n=n,
        needs="on",
        hazards=hazards,
    )


def drop(p: str, n: str, words: str, *hazards: str) -> Task:
    """Voltage drop across a piece of the current's path, under load."""
    return Task(
        name=f"drop {p} to {n}",
        does="drop",
        words=words,
        seconds=120.0,
        source="voltage drop method, common practice",
        p=p,
        n=n,
        needs="on",
        hazards=hazards,
    )


def ohms(p: str, n: str, words: str, *hazards: str) -> Task:
    """Ohms of the part itself, unplugged."""
    return Task(
        name=f"ohms {p} to {n}",
        does="ohms",
        words=words,
        seconds=120.0,
        source=PRACTICE,
        p=p,
        n=n,
        needs="dead",
        hazards=("ohms-live", *hazards),
    )


def unplug(words: str) -> Task:
    """Key off, unplug, wait, key on: does the rest come back?"""
    return Task(
        name="unplug",
        does="unplug",
        words=words,
        seconds=180.0,
        source="common practice: a latched 5 V output comes back only with a key cycle",
        hazards=("unplug-live",),
    )


def conducts(branch: str, p: str, n: str, volts: Value) -> tuple[Move, Move]:
    """The moves of a diode from p to n: the state and the branch are called alike. A microampere
    the wrong way is needed to block it again, or it would flutter."""
    return (
        Move(
            state=branch,
            leaves="blocking",
            to="conducting",
            quantity=Across(p=p, n=n),
            above=volts,
            pace=0,
        ),
        Move(
            state=branch,
            leaves="conducting",
            to="blocking",
            quantity=Through(branch=branch),
            below=-1e-6,
            pace=0,
        ),
    )
