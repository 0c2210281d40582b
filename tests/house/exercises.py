"""Pieces of the engine's work, for the tests that watch the engine from outside.

An exercise is a function of nothing that returns what the engine made, as text. Add one whenever
a room learns something new: it is then run under the listener and under changed hash seeds.
"""

from __future__ import annotations

import pkgutil
import sys
from collections.abc import Callable
from importlib import import_module

import backprobe

ENGINE = ("base", "kinds", "book", "findings", "circuit", "defects", "suspects", "checks")


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


EXERCISES: dict[str, Callable[[], str]] = {
    "import all rooms": import_all_rooms,
}


if __name__ == "__main__":  # `python exercises.py NAME`: one exercise in a fresh interpreter
    print(EXERCISES[sys.argv[1]]())
