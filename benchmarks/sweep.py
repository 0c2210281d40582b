"""Follow the proposals on the demo machine with one hidden defect after another.

    make sweep ARGS="--jobs 100 --seed 1 --drawn evenly"

A defect is drawn (by its base rate, or every defect alike), its severity by weight; those that set
no code are passed over. The job begins with the code lists a display shows, "does the engine
start", and "failing now"; then the first proposal is followed for at most eight checks. Wrong
repairs are followed too: they are counted beside the checks, and three end the job. The hidden
machine is solved by the engine itself, so this measures the weighing and the planning, not
the circuit; outside checks of that are in tests/outside.
"""

from __future__ import annotations

import argparse
import time

import numpy as np

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.model import Ints
from backprobe.findings.model import AnyFinding, CodesFound, Failing, Works
from backprobe.shop.demo import book_text
from backprobe.shop.job import Job, start
from backprobe.shop.outlook import usual_life
from oracles.technician import Machine, follow

CHECKS = 8
CRANK = Situation(key="crank")


def arrival(machine: Machine) -> list[AnyFinding]:
    """What is known before the first check; nothing when the defect sets no code."""
    starts = machine.works("engine starts", CRANK)
    lives = [s for s in usual_life(machine.book) if s.key in ("on", "crank") or starts]
    lists: list[AnyFinding] = [
        CodesFound(unit=unit, active=codes, situation=situation)
        for situation in lives
        for unit, codes in machine.codes(situation).items()
        if machine.powered(unit, situation)
    ]
    if not any(isinstance(f, CodesFound) and f.active for f in lists):
        return []
    return [
        *lists,
        Works(target="engine starts", works=starts, situation=CRANK),
        Failing(answer="yes", situation=Situation(key="on")),
    ]


def draws(job: Job, rng: np.random.Generator, *, evenly: bool) -> Ints:
    """Hypothesis numbers in random order, without end for practical purposes."""
    defects = job.circuit.defects
    rate = np.array([atom.rate for atom in defects.atoms])[defects.atom_of] * defects.weight
    share = np.where(rate > 0, defects.weight, 0.0) if evenly else rate
    return rng.choice(len(share), size=20_000, p=share / share.sum())


def main() -> None:
    """Print a line per job and the summary."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--drawn", choices=("by rate", "evenly"), default="by rate")
    options = parser.parse_args()
    book, _ = read_book(book_text("tracked-dumper"), "tracked-dumper.book")
    assert book is not None
    fresh = start(book)
    atoms, atom_of = fresh.circuit.defects.atoms, fresh.circuit.defects.atom_of
    steps, minutes, right, vain = [], [], 0, 0
    began = time.monotonic()
    for hypothesis in draws(
        fresh, np.random.default_rng(options.seed), evenly=options.drawn == "evenly"
    ):
        machine = Machine(fresh.circuit, int(hypothesis), seed=len(steps))
        known = arrival(machine)
        if not known:
            continue
        walked = follow(fresh.note(*known), machine, most=CHECKS)
        right += walked.right
        vain += walked.in_vain
        steps.append(walked.steps)
        minutes.append(walked.seconds / 60.0)
        name = atoms[atom_of[hypothesis]].id
        print(
            f"{len(steps):4d}  {'right' if walked.right else 'WRONG'}  {walked.steps} checks, "
            f"{walked.in_vain} in vain "
            f"{minutes[-1]:5.1f} min  {name}",
            flush=True,
        )
        if not walked.right:
            print("      led by", ", ".join(f"{g} {p:.0%}" for g, p in walked.leading))
        if len(steps) >= options.jobs:
            break
    done = max(1, len(steps))
    print(
        f"right within {CHECKS} checks: {right} of {len(steps)} ({right / done:.0%}); "
        f"checks {np.mean(steps):.1f}, minutes {np.median(minutes):.0f} (median); "
        f"mended in vain {vain / done:.2f} a job; {time.monotonic() - began:.0f} s"
    )


if __name__ == "__main__":
    main()
