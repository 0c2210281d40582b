"""Random job states: is any check that may be proposed unsafe?

    make safe ARGS="--states 10000 --demo 2000 --seed 1"

Every check that passes the rules is judged in every state, not only the three that would be
offered, by volts and amps solved one defect at a time (tests/oracles/safe_hands.py).
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from backprobe.book import read_book
from backprobe.book.model import Book
from backprobe.checks.generate import from_scene
from backprobe.checks.layout import layout_of
from backprobe.checks.model import Check
from backprobe.checks.narrow import narrowed
from backprobe.checks.safety import Live, allowed
from backprobe.checks.scene import scene_of
from backprobe.checks.steps import steps
from backprobe.defects.predict import Circuit
from backprobe.findings.model import JobState
from backprobe.kinds import KINDS
from backprobe.shop.demo import book_text
from backprobe.shop.outlook import engine, usual_life
from oracles.decode import changes_of
from oracles.job_states import States
from oracles.machines import machine
from oracles.safe_hands import Judge

LIVE = 60
"""Defects under which the rules look at volts."""
STEPS = 20
"""Every so many states the steps are read through as well."""
TOUCH = ("unplug ", "plug ", "pull ", "lift ", "fit ", "put ")


class Survey:
    """Judges all that may be proposed in random states of one machine."""

    def __init__(self, book: Book, seed: int, hidden: int = 2) -> None:
        self.layout = layout_of(book, KINDS)
        circuit = Circuit.of(book)
        rng = np.random.default_rng(seed)
        count = circuit.defects.atom_of.size
        some = np.concatenate([[0], np.sort(rng.choice(np.arange(1, count), LIVE, replace=False))])
        near = circuit.within(some)
        self.live = Live(near, narrowed(near, np.zeros(1, np.int64)))
        suspects = [
            tuple(changes_of(near.net, near.ports, near.cases, int(h)))
            for h in (0, *rng.choice(np.arange(1, some.size), hidden, replace=False))
        ]
        self.judge = Judge(book, circuit.net, suspects)
        self.states = States(book, circuit.defects, usual_life(book), seed)
        self.defects = circuit.defects
        self.wrong: Counter[str] = Counter()
        self._judged: dict[Check, list[str]] = {}
        self.checks = 0

    @property
    def judged(self) -> int:
        """Different checks judged."""
        return len(self._judged)

    def one(self, *, read: bool = False) -> None:
        """Draw a state and judge what may be proposed in it."""
        job, belief = self.states.state(), self.states.belief()
        scene = scene_of(self.layout, job, self.defects, belief)
        for check in allowed(self.layout, from_scene(scene), self.live):
            self.checks += 1
            for words in (*self._physical(check), *(self._order(job, check) if read else ())):
                self.wrong[words] += 1
                if self.wrong[words] == 1:
                    print(f"{words}   {check.id}", flush=True)

    def _physical(self, check: Check) -> list[str]:
        situation = replace(check.situation.bare(), renewed=frozenset())
        bare = replace(
            check, situation=situation, id="", words="", seconds=0.0, opens=(), disturbs=()
        )
        if bare not in self._judged:
            self._judged[bare] = self.judge.wrong(bare)
        return self._judged[bare]

    def _order(self, job: JobState, check: Check) -> Iterator[str]:
        """Plugs, fuses, leads and cables are touched with the key off only."""
        key = job.now.key
        for step in steps(self.layout, job, check):
            low = step.lower()
            if low.startswith(("key off", "key stays off", "when done: key off")):
                key = "off"
            if low.startswith(TOUCH) and key != "off":
                yield "hands on plugs with the key not off"
            if low.startswith(("key on", "start the engine")) or "cranks" in low:
                key = "on"


def synthetic(seed: int) -> Book:
    """A machine out of the generator; every second function is said to move it."""
    lines = machine(100 + 10 * (seed % 4), seed).text.splitlines()
    functions = [number for number, line in enumerate(lines) if line.startswith("function ")]
    for number in functions[::2]:
        lines[number] += ", moves the machine"
    book, problems = read_book("\n".join(lines), f"machine {seed}")
    assert book is not None, problems
    return book


def demo() -> Book:
    """The demo machine."""
    book, _ = read_book(book_text("tracked-dumper"), "tracked-dumper.book")
    assert book is not None
    return book


def main() -> None:
    """Print what was judged and what was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--states", type=int, default=10_000, help="states in all")
    parser.add_argument("--demo", type=int, default=2_000, help="of these on the demo machine")
    parser.add_argument("--machines", type=int, default=8, help="synthetic machines for the rest")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    shares = [(demo, options.demo)]
    rest = np.array_split(np.arange(options.states - options.demo), options.machines)
    shares += [(partial(synthetic, k + 1), part.size) for k, part in enumerate(rest)]
    states = checks = judged = solved = 0
    wrong: Counter[str] = Counter()
    for number, (book, count) in enumerate(shares):
        if not count:
            continue
        began = time.process_time()
        survey = Survey(book(), options.seed + number)
        with engine():
            for state in range(count):
                survey.one(read=state % STEPS == 0)
        states, checks = states + count, checks + survey.checks
        judged, solved = judged + survey.judged, solved + survey.judge.solved
        wrong.update(survey.wrong)
        print(
            f"{'demo machine' if not number else f'synthetic machine {number}'}: {count} states, "
            f"{survey.checks} checks, {survey.judged} different ones, "
            f"{sum(survey.wrong.values())} unsafe, {time.process_time() - began:.0f} s",
            flush=True,
        )
    print(
        f"{states} states, seed {options.seed}: {checks} checks that may be proposed, {judged} "
        f"different ones, {solved} circuits solved; {sum(wrong.values())} unsafe"
    )
    for words, times in wrong.most_common():
        print(f"{times:6d}  {words}")


if __name__ == "__main__":
    main()
