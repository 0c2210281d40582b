"""What is known before the first check: code lists, what does not work, whether it fails now."""

from __future__ import annotations

from dataclasses import replace

from backprobe.book.model import Book
from backprobe.book.situations import Situation
from backprobe.findings.model import AnyFinding, CodesFound, Failing, Works
from oracles.technician import Hidden
from trials.draw import Case, Field, dead

COMPLAINTS = 2
"""Functions that do not work which the operator names."""


def arrival(of: Field, case: Case, hidden: Hidden, book: Book) -> tuple[AnyFinding, ...]:
    """The findings of a machine that has lived through its day and stands in the yard; in the
    words of `book`. `hidden` is left as it was found."""
    for situation in of.life:
        hidden.codes(situation)  # lived through: what blows is blown
    if case.rho is None or case.now:
        failing = Failing(answer="yes", situation=Situation(key="on"))
        return (*shown(of, hidden, book), failing)
    missing = _missing(of, hidden, book)
    stored: dict[str, tuple[str, ...]] = {}
    for situation in of.life:
        for unit, codes in hidden.codes(situation).items():
            stored[unit] = tuple(dict.fromkeys((*stored.get(unit, ()), *codes)))
    hidden.gone = True
    condition = case.condition if case.told else ""
    was: list[AnyFinding] = []
    if missing:
        was = [*_not_working(of, missing), Failing(answer="yes", condition=condition)]  # type: ignore[arg-type]
    elif condition:
        was = [Failing(answer="only when", condition=condition)]  # type: ignore[arg-type]
    visit = 2 if missing else 1
    on = Situation(key="on")
    now: list[AnyFinding] = [
        CodesFound(
            unit=unit,
            active=active,
            stored=tuple(c for c in stored[unit] if c not in active),
            situation=on,
        )
        for unit, active in hidden.codes(on).items()
        if unit in _units(book) and hidden.powered(unit, on)
    ]
    still = bool(dead(of, hidden)) or any(f.active for f in now if isinstance(f, CodesFound))
    now.append(Failing(answer="yes" if still else "gone", situation=on))
    return (*was, *(replace(f, visit=visit) for f in now))


def shown(of: Field, hidden: Hidden, book: Book) -> list[AnyFinding]:
    """What a machine that fails shows to whoever goes through its day: its code lists and what does
    not work."""
    return [*lists(of, hidden, book), *_not_working(of, _missing(of, hidden, book))]


def _missing(of: Field, hidden: Hidden, book: Book) -> list[str]:
    return [name for name in dead(of, hidden) if name in book.functions][:COMPLAINTS]


def lists(of: Field, hidden: Hidden, book: Book) -> list[AnyFinding]:
    """The code lists shown with the key on, cranking and, when it starts, running; and whether it
    starts."""
    starting = [name for name, f in of.book.functions.items() if f.key == "crank"]
    crank = Situation(key="crank")
    starts = all(hidden.works(name, crank) for name in starting)
    found: list[AnyFinding] = [
        CodesFound(unit=unit, active=codes, situation=situation)
        for situation in of.life
        if situation.key in ("on", "crank") or starts
        for unit, codes in hidden.codes(situation).items()
        if unit in _units(book) and hidden.powered(unit, situation)
    ]
    told = starting[-1] if starting else ""
    if told in book.functions:
        found.append(Works(target=told, works=starts, situation=crank))
    return found


def _units(book: Book) -> set[str]:
    return {pin.part for pin in book.roles}


def _not_working(of: Field, names: list[str]) -> list[AnyFinding]:
    functions = [(name, of.book.functions[name]) for name in names]
    return [
        Works(target=name, works=False, situation=Situation(key=f.key, on=frozenset(f.commands)))
        for name, f in functions
    ]
