"""What a wiring book says a healthy machine does, where no machine does that.

A book can be read without a fault in its text and still be wrong: two pins of the key switch changed
over, a ground row left out. Every suspect is then judged against a machine that never was.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from backprobe.base.problems import Problem
from backprobe.book.situations import Situation
from backprobe.defects.predict import Circuit
from backprobe.shop.outlook import usual_life
from backprobe.suspects.codes import rule_chance, rules_of
from backprobe.suspects.view import View

AS_WRITTEN = (
    "healthy-unit-dead",
    "healthy-fuse-blows",
    "healthy-relay-buzzes",
    "healthy-code-set",
)
"""The slugs of what is found, each with its paragraph in docs/problems.md."""
SET = 0.5
"""Chance from which a code counts as set."""


def as_written(circuit: Circuit) -> tuple[Problem, ...]:
    """Warnings about what the healthy machine of a book does with the key on, while cranking, with the
    engine running and with everything switched on."""
    healthy = circuit.within(np.zeros(1, np.int64))
    life = usual_life(circuit.book)
    return (
        *_dead_units(healthy, life),
        *_blown(healthy, life),
        *_restless(healthy, life),
        *_codes(healthy, life),
    )


def _dead_units(healthy: Circuit, life: tuple[Situation, ...]) -> Iterator[Problem]:
    for unit in dict.fromkeys(pin.part for pin in healthy.book.roles):
        if (unit, "power") not in healthy.net.state:
            continue
        for one in life:
            # While cranking a unit may give in.
            if one.key != "crank" and healthy.state(one, unit, "power")[0] == 0:
                yield _warning(
                    "healthy-unit-dead",
                    f"By this book {unit} has no supply on a healthy machine: {one.words()}.",
                    "Look at the rows of its feed and ground, of the fuse and relay before it, and at "
                    "the pins of the key switch. If it is meant to be off then, leave it.",
                )
                break


def _blown(healthy: Circuit, life: tuple[Situation, ...]) -> Iterator[Problem]:
    found: dict[str, Situation] = {}
    resting = healthy.net.resting[healthy.lasting]
    for one in life:
        states = healthy.settled(one).states[0]
        for number in healthy.lasting[states[healthy.lasting] != resting]:
            found.setdefault(healthy.net.states[number].owner, one)
    for fuse, one in found.items():
        yield _warning(
            "healthy-fuse-blows",
            f"By this book {fuse} opens on a healthy machine: {one.words()}.",
            "Look at its rating, at the loads behind it and at two rows that join feed and ground.",
        )


def _restless(healthy: Circuit, life: tuple[Situation, ...]) -> Iterator[Problem]:
    for one in life:
        parts = healthy.moving(one, 0)
        if parts:
            yield _warning(
                "healthy-relay-buzzes",
                f"By this book {', '.join(parts)} never comes to rest on a healthy machine: "
                f"{one.words()}.",
                "A relay or unit that takes away its own supply: look at the rows of its coil and "
                "contacts.",
            )
            return


def _codes(healthy: Circuit, life: tuple[Situation, ...]) -> Iterator[Problem]:
    units = dict.fromkeys(rule.unit for rule in healthy.book.codes.values())
    view = View(healthy.book, healthy)
    for asking in (True, False):
        for rule in (rule for unit in units for rule in rules_of(view, unit)):
            for one in life:
                chance = rule_chance(view, rule, (one,), gone=False)
                if not asking and chance is not None and chance[0, 0] > SET:
                    yield _warning(
                        "healthy-code-set",
                        f"By this book {rule.unit} sets {rule.code} on a healthy machine: "
                        f"{one.words()}.",
                        "Look at the limits of the code and at the rows of its sensor and supply.",
                    )
                    break
        if asking:
            view.fetch()


def _warning(slug: str, what: str, remedy: str) -> Problem:
    return Problem(
        slug=slug,
        weight="warning",
        at=None,
        what=what,
        why="Every suspect is judged against what a healthy machine does by its book.",
        remedy=remedy,
    )
