"""What a picture of a job needs: the leading suspects with their faults, and the volts at every
pin, healthy and under each of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from threading import RLock
from typing import Final

import numpy as np

from backprobe.book.situations import Situation
from backprobe.checks.layout import Layout
from backprobe.checks.scene import atom_chances, history
from backprobe.defects.model import Atom, Flags, Floats, Probe
from backprobe.findings.model import JobState
from backprobe.shop.job import Job
from backprobe.shop.outlook import engine

_READING: Final = RLock()
FAINT: Final = 0.02
"""Faults with a smaller share of their suspect's chance are left out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leading:
    """A suspect with its faults and their chances, likeliest first; `hypothesis` is its likeliest
    fault at the likeliest severity."""

    group: str
    words: str
    chance: float
    faults: tuple[tuple[Atom, float], ...]
    hypothesis: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NodeVolts:
    """Volts to battery minus: (cases, nodes), not a number where the book knows no such place;
    `steady` (cases,) False where relays chatter."""

    volts: Floats
    steady: Flags


def leading(job: Job) -> tuple[Leading, ...]:
    """The suspects of a job, likeliest first, with the faults behind them."""
    belief, defects = job.belief, job.weighed.defects
    chances = atom_chances(defects, belief)
    found = []
    for suspect in job.suspects:
        numbers = [n for n, atom in enumerate(defects.atoms) if n and atom.group == suspect.group]
        ranked = sorted(numbers, key=lambda n: (-chances[n], n))
        total = float(chances[numbers].sum())
        rows = np.flatnonzero(np.isin(defects.atom_of, numbers))
        found.append(
            Leading(
                group=suspect.group,
                words=suspect.words,
                chance=suspect.chance,
                faults=tuple(
                    (defects.atoms[n], float(chances[n]))
                    for n in ranked
                    if chances[n] > FAINT * total
                ),
                hypothesis=int(rows[np.argmax(belief.hypothesis[rows])]),
            )
        )
    return tuple(found)


def lived_through(layout: Layout, state: JobState, situation: Situation) -> Situation:
    """The situation with all the machine went through before it: what blew stays blown."""
    return situation.coming_after(history(layout, state))


def node_volts(
    job: Job, situation: Situation, hypotheses: Sequence[int], nodes: Sequence[str]
) -> NodeVolts:
    """What a voltmeter to battery minus shows at every node, one row for each hypothesis
    (0 = healthy)."""
    known = [name for name in nodes if _known(job, name)]
    wanted = sorted({0, *hypotheses})
    with engine():
        whole = job.weighed if max(wanted) else job.circuit
        near = whole.within(np.array(wanted, np.int64), rough=True)
        seen = near.seen(situation, [Probe(kind="volts", p=name) for name in known])
    place = {name: column for column, name in enumerate(known)}
    row = {hypothesis: number for number, hypothesis in enumerate(wanted)}
    volts = np.full((len(hypotheses), len(nodes)), np.nan)
    for column, name in enumerate(nodes):
        if name in place:
            volts[:, column] = [seen.mean[row[h], place[name]] for h in hypotheses]
    return NodeVolts(volts=volts, steady=seen.settled[[row[h] for h in hypotheses]])


def healthy_volts(job: Job, situation: Situation, nodes: Sequence[str]) -> NodeVolts:
    """What a voltmeter to battery minus shows at every node of a healthy machine, in one row. `job`: one on
    a circuit that nobody else works with (`Shop.healthy`), so that it need not wait for the engine."""
    known = [name for name in nodes if _known(job, name)]
    with _READING:
        seen = job.circuit.seen(situation, [Probe(kind="volts", p=name) for name in known])
    place = {name: column for column, name in enumerate(known)}
    read = [seen.mean[0, place[name]] if name in place else np.nan for name in nodes]
    return NodeVolts(volts=np.array([read], np.float64), steady=seen.settled[:1])


def _known(job: Job, name: str) -> bool:
    net = job.circuit.net
    return net.alias.get(name, name) in net.node
