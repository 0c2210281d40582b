"""Pairs of defects, measured; or the reason why not."""

from __future__ import annotations

from dataclasses import dataclass

from subject import Subject


@dataclass(frozen=True, kw_only=True)
class Measured:
    """Seconds per pair (of `session`: in all), and in words what was done."""

    seconds: float
    words: str


@dataclass(frozen=True, kw_only=True)
class Missing:
    """Why there is no figure."""

    words: str


Figure = Measured | Missing
NOT_BUILT = Missing(words="not measured: the pair kernel is not built yet")


def told(figure: Figure | None) -> str:
    """A figure in words."""
    return figure.words if figure else "not measured"


def six_probes(of: Subject, most: int) -> Figure:
    """Pairs at six probes with the 10 Mohm meter, consequences followed."""
    del of, most
    return NOT_BUILT


def all_probes(of: Subject, most: int) -> Figure:
    """Pairs at every node with both meters, in blocks that are thrown away."""
    del of, most
    return NOT_BUILT


def session(of: Subject) -> Figure:
    """What pairs add to the start of a session."""
    del of
    return NOT_BUILT
