"""The engine's desk: one worker for all questions of a shop, so that pages never wait in line for
a lock and a question asked twice is worked out once."""

from __future__ import annotations

from collections import OrderedDict, deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import suppress
from typing import Final

from anyio import to_thread

from backprobe.shop.ahead import worked_ahead
from backprobe.shop.job import Job
from backprobe.shop.outlook import Outlook
from backprobe.shop.workshop import CIRCUITS, Shop

KEPT: Final = 64
"""Answers kept, the latest used last."""


class Desk:
    """Outlooks of jobs, worked out one at a time in a thread of their own."""

    def __init__(self) -> None:
        self._worker = ThreadPoolExecutor(max_workers=1, thread_name_prefix="engine")
        self._asked: OrderedDict[Job, Future[Outlook]] = OrderedDict()
        self._ahead: deque[str] = deque(maxlen=CIRCUITS)
        self.noted_by: dict[tuple[str, int], str] = {}
        """The device each finding was noted from, by job and place, as long as this desk is kept."""

    def ask(self, job: Job) -> Future[Outlook]:
        """The outlook of a job, done or under way. One that failed is tried again."""
        found = self._asked.pop(job, None)
        if found is None or found.cancelled() or (found.done() and found.exception() is not None):
            found = self._worker.submit(_outlook, job)
        self._asked[job] = found
        while len(self._asked) > KEPT:
            _, oldest = self._asked.popitem(last=False)
            oldest.cancel()  # if nobody came to fetch it, it need not be begun
        return found

    def known(self, job: Job) -> Outlook | None:
        """The outlook of a job when it has been worked out already."""
        found = self._asked.get(job)
        if found is None or not found.done() or found.exception() is not None:
            return None
        return found.result()

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


def _outlook(job: Job) -> Outlook:
    return job.outlook


async def within(future: Future[Outlook], seconds: float) -> bool:
    """Whether the answer came, with or without success, within so many seconds."""
    if not future.done():
        await to_thread.run_sync(lambda: wait([future], timeout=seconds))
    return future.done()
