"""The machine's processors at work for the engine, whose compiled loops let go of the interpreter."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import TypeVar

from backprobe.circuit.crew import ALONE, Crew

T = TypeVar("T")
MOST = 8
"""Processors used: each more takes some twenty megabytes, and waits for the same memory."""


class Threads:
    """So many threads of one process."""

    def __init__(self, many: int) -> None:
        self.many = many
        self._pool: tuple[int, ThreadPoolExecutor] | None = None

    def work(self, jobs: Sequence[Callable[[], T]]) -> list[T]:
        """What each job gives, in their order."""
        if self._pool is None or self._pool[0] != os.getpid():
            # Threads do not come along into a process that was forked off.
            self._pool = os.getpid(), ThreadPoolExecutor(self.many, thread_name_prefix="crew")
        return list(self._pool[1].map(_done, jobs))


def _done(job: Callable[[], T]) -> T:
    return job()


@cache
def everyone() -> Crew:
    """Threads for all processors this process may use."""
    many = min(MOST, processors())
    return Threads(many) if many > 1 else ALONE


def processors() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):  # not on every system
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
