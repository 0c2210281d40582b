"""The shop: books and jobs kept in a file, and the use cases that both faces share.

The only place where the engine and the outside world meet: files, clock and caches live here.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Self

import numpy as np

from backprobe.base.problems import Problem
from backprobe.base.version import VERSION
from backprobe.book import read_book
from backprobe.book.model import Book
from backprobe.defects.predict import Circuit
from backprobe.findings.model import AnyFinding
from backprobe.findings.wire import from_plain, to_plain
from backprobe.jobs import BookRow, JobRow, Store, StoreError
from backprobe.shop.as_written import as_written
from backprobe.shop.crew import everyone
from backprobe.shop.job import Job

__all__ = ["JobCard", "JobRow", "Shop", "StoreError", "UnusableBookError", "digest_of"]

CIRCUITS = 4
"""Books whose circuits are kept ready."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobCard:
    """A job from the file: its head, the job itself, events that could not be read, its book's
    name, and whether a newer text of that book exists."""

    row: JobRow
    job: Job
    problems: tuple[Problem, ...]
    book_name: str
    newer_book: bool


class UnusableBookError(Exception):
    """A book with errors was to be used; `problems` says which."""

    def __init__(self, name: str, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(f"the wiring book {name} has errors")


class Shop:
    """Books and jobs of one file. `clock` gives seconds since 1970-01-01 UTC."""

    def __init__(self, store: Store, clock: Callable[[], float] = time.time) -> None:
        self._store = store
        self._clock = clock

    @classmethod
    def open(cls, path: str | Path, clock: Callable[[], float] = time.time) -> Self:
        """The shop kept at `path`, made when there is none. StoreError says what is wrong."""
        return cls(Store.open(path), clock)

    def close(self) -> None:
        """Let go of the file."""
        self._store.close()

    def add_book(self, name: str, text: str) -> tuple[Problem, ...]:
        """Keep a book under a name; an unusable one is refused and the old one stays.

        Returns its warnings and notes. UnusableBookError carries the errors.
        """
        book, problems = read_book(text, name)
        if book is None:
            raise UnusableBookError(name, problems)
        self._store.add_book(name, text, digest_of(text), VERSION)
        return problems

    def books(self) -> dict[str, str]:
        """Name and newest digest of every book."""
        return _newest(self._store.books())

    def book_name(self, digest: str) -> str:
        """The name under which a text was last kept, "" when it is not known."""
        names = [row.name for row in self._store.books() if row.digest == digest]
        return names[-1] if names else ""

    def book_text(self, name: str) -> str:
        """The newest text of a book. KeyError when there is no such book."""
        return self._store.book_text(self.books()[name])

    def book(self, name: str) -> Book:
        """The newest version of a book, read. KeyError when there is no such book."""
        return self.circuit(self.books()[name]).book

    def as_written(self, name: str) -> tuple[Problem, ...]:
        """What a book says a healthy machine does, where no machine does that. KeyError as book()."""
        digest = self.books()[name]
        return _as_written(digest, self._store.book_text(digest))

    def circuit(self, digest: str) -> Circuit:
        """The circuit of one text of a book."""
        return _circuit(digest, self._store.book_text(digest))

    def healthy(self, digest: str) -> Circuit:
        """The same of a healthy machine alone, with a memory of its own: it can be read while the
        engine is at work on the other."""
        return _healthy(digest, self._store.book_text(digest))

    def start_job(
        self,
        book: str,
        complaint: str,
        *,
        machine: str = "",
        serial: str = "",
        hours: float | None = None,
        findings: Sequence[AnyFinding] = (),
    ) -> str:
        """Start a job on a book's newest text and note what is known. Returns its id.

        KeyError when there is no such book.
        """
        digest = self.books()[book]
        name = machine or self.circuit(digest).book.machine.name
        job = self._store.start_job(
            name, digest, complaint, self._clock(), VERSION, serial=serial, hours=hours
        )
        self.note(job, *findings)
        return job

    def note(
        self,
        job: str,
        *findings: AnyFinding,
        client_id: str | None = None,
        ago_s: float = 0.0,
    ) -> list[str]:
        """Add findings to a job, all or none; returns their ids once they are on the disk.

        A finding is stamped with its id and, when it has none, the job's own clock, `ago_s`
        earlier for one that was kept elsewhere meanwhile. The same client id again adds nothing.
        """
        started = self._store.job(job).started_at
        events: list[tuple[Mapping[str, Any], float, str | None]] = []
        for k, finding in enumerate(findings):
            now = self._clock()
            stamped = replace(finding, at_s=finding.at_s or max(now - started - ago_s, 0.0))
            key = f"{client_id}/{k}" if client_id else None
            events.append((to_plain(replace(stamped, id="")), now, key))
        return [f"f{number}" for number in self._store.append_all(job, events)]

    def sent(self, job: str, mark: str) -> tuple[int, str] | None:
        """The first event whose client id begins with `mark`: its number, from 1, and that id."""
        for event in self._store.events(job):
            if event.client_id is not None and event.client_id.startswith(mark):
                return event.number, event.client_id
        return None

    def jobs(self) -> tuple[JobRow, ...]:
        """All jobs, oldest first."""
        return self._store.jobs()

    def card(self, job: str) -> JobCard:
        """A job with its findings. StoreError when there is no such job."""
        row = self._store.job(job)
        findings, problems = self._events(job)
        books = self._store.books()
        name = next((b.name for b in reversed(books) if b.digest == row.book_digest), "")
        return JobCard(
            row=row,
            job=Job(circuit=self.circuit(row.book_digest), findings=findings),
            problems=problems,
            book_name=name,
            newer_book=bool(name) and _newest(books)[name] != row.book_digest,
        )

    def findings(self, job: str) -> tuple[AnyFinding, ...]:
        """The findings of a job, without reading its book. StoreError when there is no such job."""
        return self._events(job)[0]

    def add_photo(self, jpeg: bytes) -> str:
        """Keep a photo that `photos.cleaned` made; its digest is what a finding names it by."""
        return self._store.add_photo(jpeg)

    def photo(self, digest: str) -> bytes | None:
        """A photo as JPEG, None when there is none."""
        return self._store.photo(digest)

    def _events(self, job: str) -> tuple[tuple[AnyFinding, ...], tuple[Problem, ...]]:
        findings: list[AnyFinding] = []
        problems: list[Problem] = []
        for event in self._store.events(job):
            finding = from_plain(event.event)
            if isinstance(finding, Problem):
                problems.append(finding)
            else:
                findings.append(replace(finding, id=f"f{event.number}"))
        return tuple(findings), tuple(problems)


def _newest(books: Iterable[BookRow]) -> dict[str, str]:
    return {row.name: row.digest for row in books}


def digest_of(text: str) -> str:
    """sha256 of a book's text, as hex digits."""
    return hashlib.sha256(text.encode()).hexdigest()


@lru_cache(maxsize=CIRCUITS)
def _healthy(digest: str, text: str) -> Circuit:
    whole = Circuit.of(_circuit(digest, text).book)
    return whole.within(np.zeros(1, np.int64), rough=True)


@lru_cache(maxsize=CIRCUITS)
def _as_written(digest: str, text: str) -> tuple[Problem, ...]:
    # On a circuit of its own: pages are laid out by several threads, a circuit serves one at a time.
    return as_written(Circuit.of(_circuit(digest, text).book))


@lru_cache(maxsize=CIRCUITS)
def _circuit(digest: str, text: str) -> Circuit:
    book, problems = read_book(text, digest[:12])
    if book is None:
        raise UnusableBookError(digest[:12], problems)
    return Circuit.of(book, everyone())
