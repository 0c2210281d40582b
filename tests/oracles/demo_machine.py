"""The demo machine for the outside checks: its circuit, four situations, samples of its defects."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.predict import Circuit
from backprobe.shop.demo.books import book_text

SITUATIONS = {
    "key off": Situation(key="off"),
    "key on, lights and horn": Situation(key="on", on=frozenset({"S1", "S2", "S3"})),
    "cranking": Situation(key="crank"),
    "running, everything commanded": Situation(
        key="run", on=frozenset({"S1", "S2", "S3", "S4", "S5", "S6", "S7"})
    ),
}


@cache
def demo_circuit() -> Circuit:
    """The tracked dumper with all its defects."""
    book, problems = read_book(book_text("tracked-dumper"), "tracked-dumper.book")
    assert book is not None, "\n".join(str(problem) for problem in problems)
    return Circuit.of(book)


def sample(circuit: Circuit, count: int, seed: int) -> NDArray[np.int64]:
    """Healthy, one hypothesis of every kind of defect, 15 that change many pins at once, and others
    drawn at random; sorted."""
    rng = np.random.default_rng(seed)
    kinds = np.array([circuit.defects.atoms[atom].kind for atom in circuit.defects.atom_of])
    chosen = {0}
    for kind in sorted(set(kinds)):
        of_kind = np.flatnonzero(kinds == kind)
        chosen.add(int(rng.choice(of_kind)))
    many = np.flatnonzero(np.diff(circuit.cases.start) > 2)
    chosen.update(int(h) for h in rng.choice(many, size=min(15, len(many)), replace=False))
    for hypothesis in rng.permutation(len(kinds)):
        if len(chosen) >= count:
            break
        chosen.add(int(hypothesis))
    return np.array(sorted(chosen), np.int64)


def pins(nodes: tuple[str, ...]) -> NDArray[np.bool_]:
    """Which nodes a probe can touch: pins and lugs from the wire's side, bodies, posts. The rest
    are inside a part ("rail sensor:3") and, with its plug off, hang on their leak alone."""
    return np.array([":" not in node or "<" in node for node in nodes], bool)
