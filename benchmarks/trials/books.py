"""The machines of the trials, and wiring books that are a little wrong about them.

A wrong book is the machine's own with 2 % of its facts changed (lengths, sizes, ohms, limits,
pulls); one in ten also has a row missing, two pins changed over in its rows, or lacks a consumer
that somebody added to the machine. What proofreading finds no shop works with: another one is drawn.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from backprobe.book import read_book
from backprobe.book.model import Book
from backprobe.defects.predict import Circuit
from backprobe.shop.as_written import as_written
from backprobe.shop.demo import BOOKS, book_text
from backprobe.shop.outlook import engine
from oracles.machines import machine

DEMO = "tracked-dumper"
MACHINES = (DEMO, "synthetic 160 2", DEMO, "synthetic 300 1", DEMO, "synthetic 220 4")
"""In the order in which jobs come in: every other one is the demo machine."""
WRONG_BOOKS = 12
"""Different wrong books of a machine."""
FACT_WRONG = 0.02
ROW_WRONG = 0.10
NUMBER = r"(?<![\w.])(\d+(?:\.\d+)?) "
CONSUMERS = re.compile(r"^([^:#]+): (?:lamp|solenoid|pump|horn|heater|motor)\b")


@cache
def text_of(name: str) -> str:
    """The wiring book of a machine."""
    if name in BOOKS:
        return book_text(name)
    _, nodes, seed = name.split()
    return machine(int(nodes), int(seed)).text


@cache
def book_of(name: str) -> Book:
    """The machine as it is."""
    book = _read(text_of(name))
    assert book is not None, name
    return book


@dataclass(frozen=True)
class WrongBook:
    """A book that is a little wrong, what is wrong with it, and the ways in which those drawn before
    it were wrong that proofreading found."""

    book: Book
    changed: tuple[str, ...]
    found_wrong: tuple[tuple[str, ...], ...] = ()


@cache
def wrong_book(name: str, number: int) -> WrongBook:
    """One of the wrong books of a machine. One that cannot be read, or of which proofreading says
    what it does not say of the true book, is passed over."""
    found: list[tuple[str, ...]] = []
    for attempt in range(20):
        rng = np.random.default_rng([number, len(text_of(name)), attempt])
        text, changed = spoiled(text_of(name), rng)
        book = _read(text)
        if book is None:
            continue
        if set(proofread(book)) <= set(_of_the_true_book(name)):
            return WrongBook(book, changed, tuple(found))
        found.append(changed)
    raise RuntimeError(f"no wrong book {number} of {name} can be read")


def proofread(book: Book) -> tuple[str, ...]:
    """What proofreading says of a book's healthy machine."""
    with engine():
        return tuple(problem.what for problem in as_written(Circuit.of(book)))


@cache
def _of_the_true_book(name: str) -> tuple[str, ...]:
    return proofread(book_of(name))


def _read(text: str) -> Book | None:
    book, _ = read_book(text, "trial")
    return book


def spoiled(text: str, rng: np.random.Generator) -> tuple[str, tuple[str, ...]]:
    """A book's text with facts changed, and the changes."""
    lines, changed = text.splitlines(), []
    for k, line in enumerate(lines):
        if rng.random() < FACT_WRONG and (other := _other(line, rng)) != line:
            lines[k] = other
            changed.append(other)
    if rng.random() < ROW_WRONG:
        way = (_without_a_row, _crossed, _without_a_consumer)[int(rng.integers(3))]
        lines, what = way(lines, rng)
        changed.append(what)
    return "\n".join(lines) + "\n", tuple(changed)


def _other(line: str, rng: np.random.Generator) -> str:
    """One fact of a line changed; the line itself when it has none that counts."""
    ways: list[tuple[str, Callable[[float], float]]] = [
        (NUMBER + r"(m\b)(?!m|in)", lambda x: x * float(np.exp(rng.normal(0.0, 0.5)))),
        (NUMBER + r"(mm2)", lambda x: x * float(rng.choice([0.5, 2.0]))),
        (NUMBER + r"(k?ohm)", lambda x: x * float(rng.choice([0.4, 2.5]))),
        (NUMBER + r"(W\b)", lambda x: x * float(rng.choice([0.5, 2.0]))),
        (NUMBER + r"(%)", lambda x: min(95.0, x * float(rng.choice([0.6, 1.6])))),
        (r"(?<=[<>] )" + NUMBER + r"([VA]\b)", lambda x: x * float(rng.choice([0.7, 1.4]))),
    ]
    found = [(pattern, turn) for pattern, turn in ways if re.search(pattern, line)]
    pull = re.search(r"pull up (\S+ k?ohm) to .*?(?=,|$)", line)
    if pull and rng.random() < 0.5:
        return line.replace(pull.group(0), f"pull down {pull.group(1)}")
    if line.lstrip().startswith("#") or not found:
        return line
    pattern, turn = found[int(rng.integers(len(found)))]
    return re.sub(pattern, lambda m: f"{turn(float(m[1])):.3g} {m[2]}", line, count=1)


def _rows(lines: list[str]) -> list[int]:
    return [k for k, line in enumerate(lines) if " > " in line and ":" not in line]


def _without_a_row(lines: list[str], rng: np.random.Generator) -> tuple[list[str], str]:
    gone = int(rng.choice(_rows(lines)))
    return lines[:gone] + lines[gone + 1 :], f"missing: {lines[gone]}"


def _crossed(lines: list[str], rng: np.random.Generator) -> tuple[list[str], str]:
    """Two numbered pins of one part changed over in all rows."""
    rows = _rows(lines)
    pins: dict[str, set[str]] = {}
    for k in rows:
        for part, pin in re.findall(r"([A-Za-z]\w*)\.(\d+)\b", lines[k]):
            pins.setdefault(part, set()).add(f"{part}.{pin}")
    part = str(rng.choice(sorted(p for p, its in pins.items() if len(its) > 2)))
    one, two = (str(pin) for pin in rng.choice(sorted(pins[part]), 2, replace=False))
    swap = {one: two, two: one}
    either = re.compile(rf"(?<![\w.])({re.escape(one)}|{re.escape(two)})(?!\w)")
    for k in rows:
        lines[k] = either.sub(lambda m: swap[m[1]], lines[k])
    return lines, f"changed over: {one} and {two}"


def _without_a_consumer(lines: list[str], rng: np.random.Generator) -> tuple[list[str], str]:
    """A consumer that is on the machine and in no line of the book."""
    names = [m[1] for line in lines if (m := CONSUMERS.match(line))]
    gone = str(rng.choice(names))
    used = re.compile(rf"(?<![\w]){re.escape(gone)}(?![\w])")
    return [line for line in lines if not used.search(line)], f"added to the machine: {gone}"
