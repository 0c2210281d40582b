"""Pieces of the engine's work, for the tests that watch the engine from outside.

An exercise is a function of nothing that returns what the engine made, as text (`told`). Add one
whenever a room learns something new: it is then run under the listener and under changed hash
seeds. Texts an exercise needs are read when this file is loaded, not in the exercise.
"""

from __future__ import annotations

import dataclasses
import pkgutil
import sys
from collections.abc import Callable
from importlib import import_module

import numpy as np

import backprobe
from backprobe.book.situations import Situation
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, CodesFound, Failing, Reading, Withdrawn

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


def import_all_rooms() -> str:
    """Import every module of the engine."""
    names = every_engine_module()
    for name in names:
        import_module(name)
    return "\n".join(names)


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


EXERCISES: dict[str, Callable[[], str]] = {
    "import all rooms": import_all_rooms,
    "fold a job": fold_a_job,
}


if __name__ == "__main__":  # `python exercises.py NAME`: one exercise in a fresh interpreter
    print(EXERCISES[sys.argv[1]]())
