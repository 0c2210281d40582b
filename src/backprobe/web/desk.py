"""The engine's desk: one worker for all questions of a shop, so that pages never wait in line for
a lock and a question asked twice is worked out once."""

from __future__ import annotations

from collections import OrderedDict, deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import suppress
from threading import Lock
from typing import Any, Final, TypeVar

from anyio import to_thread

from backprobe.shop.ahead import worked_ahead
from backprobe.shop.job import Job
from backprobe.shop.outlook import Outlook
from backprobe.shop.workshop import CIRCUITS, Shop
from backprobe.suspects.model import Verdict

T = TypeVar("T")
KEPT: Final = 64
"""Answers kept, the latest used last."""


class Desk:
    """Outlooks of jobs, worked out one at a time in a thread of their own."""

    def __init__(self) -> None:
        self._worker = ThreadPoolExecutor(max_workers=1, thread_name_prefix="engine")
        self._asked: OrderedDict[Job, tuple[Future[Verdict], Future[Outlook]]] = OrderedDict()
        self._ahead: deque[str] = deque(maxlen=CIRCUITS)
        self.noted_by: dict[tuple[str, int], str] = {}
        """The device each finding was noted from, by job and place, as long as this desk is kept."""
        self.noting = Lock()
        """Held from asking whether a form was sent before until it is kept: twice at one moment is once."""

    def ask(self, job: Job) -> Future[Outlook]:
        """The outlook of a job, done or under way. One that failed is tried again."""
        return self._both(job)[1]

    def weigh(self, job: Job) -> Future[Verdict]:
        """What it could be, the first half of the outlook, likewise; the plan follows by itself."""
        return self._both(job)[0]

    def known(self, job: Job) -> Outlook | None:
        """The outlook of a job when it has been worked out already."""
        found = self._asked.get(job)
        return _result(found[1]) if found else None

    def weighed(self, job: Job) -> Verdict | None:
        """What it could be, when that has been worked out already."""
        found = self._asked.get(job)
        return _result(found[0]) if found else None

    def _both(self, job: Job) -> tuple[Future[Verdict], Future[Outlook]]:
        found = self._asked.pop(job, None)
        if found is None or any(_failed(half) for half in found):
            found = self._worker.submit(_verdict, job), self._worker.submit(_outlook, job)
        self._asked[job] = found
        while len(self._asked) > KEPT:
            _, oldest = self._asked.popitem(last=False)
            for half in oldest:
                half.cancel()  # if nobody came to fetch it, it need not be begun
        return found

    def begin(self, shop: Shop, book: str) -> None:
        """Work ahead for a job about to be begun on a book of the shop; whoever asks for an outlook
        meanwhile comes next."""
        digest = shop.books()[book]
        if digest not in self._ahead:
            self._ahead.append(digest)
            self._step(worked_ahead(shop.circuit(digest)))

    def _step(self, steps: Iterator[None]) -> None:
        def on() -> None:
            if next(steps, self) is not self:
                self._step(steps)

        with suppress(RuntimeError):  # the desk is closed
            self._worker.submit(on)

    def close(self) -> None:
        """Let the worker go; what it is at is finished first."""
        self._worker.shutdown(wait=False, cancel_futures=True)


def _verdict(job: Job) -> Verdict:
    return job.verdict


def _outlook(job: Job) -> Outlook:
    return job.outlook


def _failed(future: Future[Any]) -> bool:
    return future.cancelled() or (future.done() and future.exception() is not None)


def _result(future: Future[T]) -> T | None:
    return future.result() if future.done() and not _failed(future) else None


async def within(future: Future[T], seconds: float) -> bool:
    """Whether the answer came, with or without success, within so many seconds."""
    if not future.done():
        await to_thread.run_sync(lambda: wait([future], timeout=seconds))
    return future.done()
