"""Pieces of the engine's work, for the tests that watch the engine from outside.

An exercise is a function of nothing that returns what the engine made, as text (`told`). Add one
whenever a room learns something new: it is then run under the listener and under changed hash
seeds. Texts an exercise needs are read when this file is loaded, not in the exercise.
"""

from __future__ import annotations

import dataclasses
import pkgutil
from collections.abc import Callable
from importlib import import_module

import numpy as np

import backprobe
from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.checks.plan import plan
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, CodesFound, Failing, Reading, Withdrawn
from backprobe.shop.demo import book_text
from backprobe.suspects.verdict import judge

ENGINE = ("base", "kinds", "book", "findings", "circuit", "defects", "suspects", "checks")


def told(thing: object) -> str:
    """Any result as text. Members of a set, which have no order, are sorted; all else stays."""
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        fields = [f"{f.name}={told(getattr(thing, f.name))}" for f in dataclasses.fields(thing)]
        return f"{type(thing).__name__}({', '.join(fields)})"
    if isinstance(thing, np.ndarray):
        return told(thing.tolist())
    if isinstance(thing, set | frozenset):
        return "{" + ", ".join(sorted(map(told, thing))) + "}"
    if isinstance(thing, dict):
        return "{" + ", ".join(f"{told(k)}: {told(v)}" for k, v in thing.items()) + "}"
    if isinstance(thing, list | tuple):
        return "[" + ", ".join(map(told, thing)) + "]"
    return repr(thing)


def every_engine_module() -> list[str]:
    """The full name of each module of the engine."""
    return sorted(
        module.name
        for room in ENGINE
        for module in pkgutil.walk_packages(
            [f"{backprobe.__path__[0]}/{room}"], prefix=f"backprobe.{room}."
        )
    )


MODULES = every_engine_module()
for _name in MODULES:  # Python itself reads folders and files while it imports
    import_module(_name)


def call_up_all_rooms() -> str:
    """Every module of the engine, once imported, is there without a look at the disk."""
    return "\n".join(import_module(name).__name__ for name in MODULES)


def fold_a_job() -> str:
    """A visit with codes, plugs opened, a reading, one thing taken back."""
    open_plugs = Situation(unplugged=frozenset({"X14", "X22", "lift pump"}))
    return told(
        fold(
            [
                CodesFound(id="1", unit="ECU", active=("157/4", "3509/4")),
                Failing(id="2", answer="gone"),
                Act(id="3", act="unplugged", target="X14", situation=open_plugs),
                Act(id="4", act="pulled", target="F12", situation=open_plugs),
                Reading(id="5", p="X14.3", value=12.4, situation=open_plugs),
                Withdrawn(id="6", finding="4"),
            ]
        )
    )


DUMPER = book_text("tracked-dumper")
SMALL = book_text("unplugged-sensor")


def read_a_book() -> str:
    """The demo machine's book, from text to checked objects."""
    book, problems = read_book(DUMPER, "dumper.book")
    assert book is not None
    return told((sorted(book.wires), problems))


def solve_a_machine() -> str:
    """A small machine: assembled, settled and read under every defect, fuses remembered."""
    book, _ = read_book(SMALL, "small.book")
    assert book is not None
    circuit = Circuit.of(book)
    situation = Situation(key="run", after=Situation(key="on"))
    pin = next(iter(book.roles))
    seen = circuit.seen(situation, [Probe(kind="volts", p=str(pin))])
    return told((seen.mean.round(6), seen.settled))


def weigh_and_plan() -> str:
    """One code on the small machine: suspects, reasons and the next check."""
    book, _ = read_book(SMALL, "small.book")
    assert book is not None
    circuit = Circuit.of(book)
    unit, code = next(iter(book.codes))
    job = fold(
        [CodesFound(id="f1", unit=unit, active=(code,), situation=Situation(key="run"))],
        usual_life=(Situation(key="on"), Situation(key="run")),
    )
    belief, verdict = judge(book, circuit, job)
    proposal = plan(book, circuit, job, belief, verdict)
    leading = [(s.group, round(s.chance, 9)) for s in verdict.suspects[:5]]
    return told((leading, [priced.check.id for priced in proposal.next]))


EXERCISES: dict[str, Callable[[], str]] = {
    "call up all rooms": call_up_all_rooms,
    "fold a job": fold_a_job,
    "read a book": read_a_book,
    "solve a machine": solve_a_machine,
    "weigh and plan": weigh_and_plan,
}
