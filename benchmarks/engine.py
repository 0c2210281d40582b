"""The engine's own figures: seconds per defect, of a session's start, of a round, and memory."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter as waited

import numpy as np
from subject import METERS, Subject, clock

from backprobe.book import read_book
from backprobe.checks.generate import candidates
from backprobe.circuit.instruments import show_in_blocks
from backprobe.defects.predict import Circuit
from backprobe.findings.model import AnyFinding
from backprobe.shop.answer import answered
from backprobe.shop.crew import everyone
from backprobe.shop.job import Job, start
from backprobe.shop.memory import give_back
from backprobe.shop.outlook import next_step, standing, usual_life
from backprobe.suspects.together import NODES, only_together
from oracles.machines import Machine, machine
from oracles.technician import Machine as Broken
from oracles.technician import arrival


@dataclass(frozen=True, kw_only=True)
class Singles:
    """Seconds per hypothesis: brought to rest from key off, and read; shares of hypotheses that
    move a state or never rest; state patterns."""

    settled: float
    read: float
    count: int
    moved: float
    restless: float
    patterns: int

    @property
    def seconds(self) -> float:
        """Both."""
        return self.settled + self.read


def singles(of: Subject, *, most: int = 1_000_000) -> Singles:
    """Every single (at most so many, at random) at every node with both meters, consequences
    followed, from a cold start."""
    meters, circuit = METERS, Circuit.of(of.machine.book)
    if circuit.cases.count > most:
        drawn = np.random.default_rng(7).choice(circuit.cases.count - 1, most - 1, replace=False)
        circuit = circuit.within(np.append(0, 1 + np.sort(drawn)))
    began = clock()
    settled = circuit.settled(of.run)
    rest = clock() - began
    count, seen, read = circuit.cases.count, 0, 0.0
    taps = of.taps(of.nodes, meters)
    began = clock()
    for rows, shown in show_in_blocks(circuit._bases, settled, taps):
        read += clock() - began
        assert np.isfinite(shown).all()
        seen += len(rows)
        began = clock()
    assert seen == count
    states = settled.states
    return Singles(
        settled=rest / count,
        read=read / count,
        count=count,
        moved=float((states != states[0]).any(axis=1).mean()),
        restless=float((~settled.steady).mean()),
        patterns=len(np.unique(states, axis=0)),
    )


def session(text: str) -> dict[str, float]:
    """Seconds from a book's text to every single settled in four situations, and every pair of
    defects, each at its likeliest severity, brought to rest there from key off and those found that
    show only together; part by part, as somebody who waits for it counts them."""
    took: dict[str, float] = {}
    began = waited()
    book, _ = read_book(text, "synthetic")
    assert book is not None
    took["reading the book"] = waited() - began
    began = waited()
    circuit = Circuit.of(book, everyone())
    took["network and defects"] = waited() - began
    began = waited()
    for situation in usual_life(book):
        circuit.settled(situation)
    took["four situations, singles"] = waited() - began
    if len(circuit.net.nodes) <= NODES:
        began = waited()
        for situation in usual_life(book):
            only_together(circuit, situation.bare())
        took["all pairs"] = waited() - began
    return took


@dataclass(frozen=True, kw_only=True)
class Rounds:
    """Rounds of a few jobs: seconds of weighing, of planning, and how many checks were scored."""

    weighing: tuple[float, ...]
    planning: tuple[float, ...]
    checks: tuple[int, ...]
    first: tuple[float, ...]
    hypotheses: int

    @property
    def seconds(self) -> tuple[float, ...]:
        """Both parts of every round but the first of a job, which meets the machine cold."""
        return tuple(a + b for a, b in zip(self.weighing, self.planning, strict=True))


def rounds(made: Machine, *, jobs: int = 4, steps: int = 4, seed: int = 11) -> Rounds:
    """Jobs with a hidden defect that sets a code; the first proposal is followed every time."""
    fresh = start(made.book)
    defects = fresh.circuit.defects
    rate = np.array([atom.rate for atom in defects.atoms])[defects.atom_of] * defects.weight
    rng = np.random.default_rng(seed)
    draws = iter(rng.choice(len(rate), size=4000, p=rate / rate.sum()))
    weighing: list[float] = []
    planning: list[float] = []
    checks: list[int] = []
    first: list[float] = []
    done = 0
    while done < jobs:
        broken = Broken(fresh.circuit, int(next(draws)), seed=done)
        known = arrival(broken, usual_life(made.book))
        if not any(finding.active for finding in known):  # type: ignore[union-attr]
            continue
        done += 1
        job, times, _ = _turn(fresh, known)
        first.append(sum(times))
        for _ in range(steps):
            offer = job.proposal.next[0] if job.proposal.next else None
            if offer is None or offer.check.does in ("stop", "repair"):
                break
            answer = answered(offer.check, broken.answer(offer.check), job.state)
            job, times, scored = _turn(job, answer)
            weighing.append(times[0])
            planning.append(times[1])
            checks.append(scored)
    return Rounds(
        weighing=tuple(weighing),
        planning=tuple(planning),
        checks=tuple(checks),
        first=tuple(first),
        hypotheses=len(rate),
    )


def _turn(job: Job, findings: Sequence[AnyFinding]) -> tuple[Job, tuple[float, float], int]:
    """A job with more findings, the seconds its weighing and its plan took, and how many checks
    were scored."""
    job = job.note(*findings)
    began = clock()
    now = standing(job.circuit, job.findings)
    weighed = clock()
    next_step(now)
    planned = clock()
    scored = len(candidates(job.book, now.state, now.circuit.defects, now.belief))
    return job, (weighed - began, planned - weighed), scored


def of_its_own(nodes: int, *, returned: bool = False) -> dict[str, dict[str, float]]:
    """A session's start in a process of its own: `seconds` by part, by the wall; `busy`, processor
    seconds of all threads; `peak` megabytes resident.
    `returned`: with an allocator (glibc) told to give back what is freed above 256 kB."""
    told = {"MALLOC_MMAP_THRESHOLD_": "262144"} if returned else {}
    run = subprocess.run(
        [sys.executable, __file__, str(nodes)],
        capture_output=True, text=True, check=True, env={**os.environ, **told},
    )  # fmt: skip
    found: dict[str, dict[str, float]] = json.loads(run.stdout)
    return found


def _peak() -> float:
    """Megabytes; the figure getrusage gives would be inherited from the process before."""
    status = Path("/proc/self/status").read_text(encoding="ascii")
    line = next(line for line in status.splitlines() if line.startswith("VmHWM"))
    return int(line.split()[1]) / 1024.0


def _own(nodes: int) -> None:
    give_back()  # as the shop does
    text = machine(nodes).text
    before, began = _peak(), clock()
    seconds = session(text)
    busy = {"session": clock() - began}
    print(
        json.dumps(
            {"seconds": seconds, "busy": busy, "peak": {"libraries": before, "session": _peak()}}
        )
    )


if __name__ == "__main__":
    _own(int(sys.argv[1]))
