"""Who works: one after the other, or several at once. What comes out is the same."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

T = TypeVar("T")


class Crew(Protocol):
    """Works jobs off that have nothing to do with each other."""

    @property
    def many(self) -> int:
        """How many are at work at once."""

    def work(self, jobs: Sequence[Callable[[], T]]) -> list[T]:
        """What each job gives, in their order."""


class _Alone:
    """One who works one job after the other."""

    many = 1

    def work(self, jobs: Sequence[Callable[[], T]]) -> list[T]:
        """What each job gives, in their order."""
        return [job() for job in jobs]


ALONE: Crew = _Alone()
