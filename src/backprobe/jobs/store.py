"""The store: books and jobs in one file, events only ever added.

What a call returned is on the disk. Times come from the caller, in seconds since 1970-01-01 UTC.
Every call raises StoreError, and only that, when the file does not play along.
"""

from __future__ import annotations

import hashlib
import json
import re
import sqlite3
from base64 import b64decode, b64encode
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, Engine, RowMapping, func, insert, select
from sqlalchemy.exc import DBAPIError

from backprobe.jobs import errors, migrations
from backprobe.jobs.sqlite import open_file
from backprobe.jobs.tables import BOOK_TEXTS, BOOKS, EVENTS, JOBS, PHOTOS


@dataclass(frozen=True, slots=True, kw_only=True)
class BookRow:
    """One text a book had under its name. `number` rises with every new text."""

    number: int
    name: str
    digest: str
    tool_version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRow:
    """The head of a job. `hours` of the hour meter, None when not known."""

    id: str
    machine: str
    serial: str
    hours: float | None
    book_digest: str
    complaint: str
    started_at: float
    tool_version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EventRow:
    """One event of a job; `number` counts from 1 without gaps."""

    number: int
    at: float
    client_id: str | None
    event: Mapping[str, Any]


class Store:
    """Books and jobs in one file. Threads may share it; processes may open the same file."""

    def __init__(self, engine: Engine, where: str) -> None:
        self._engine = engine
        self._writing = engine.execution_options(writing=True)
        self._where = where

    @classmethod
    def open(cls, path: str | Path, *, wait_s: float = 5.0) -> Self:
        """The store at `path`, made when there is none, brought to the newest schema.

        `wait_s`: how long a call waits for another writer before it gives up.
        """
        file = Path(path)
        store = cls(open_file(file, wait_s), str(file))
        try:
            store._migrate()
        except BaseException:
            store.close()
            raise
        return store

    def close(self) -> None:
        """Lets go of the file."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def add_book(self, name: str, text: str, digest: str, tool_version: str) -> BookRow:
        """Keeps a text of the book `name`; the same text again is the same row.

        `digest`: sha256 of the UTF-8 text, as hex digits.
        """
        actual = hashlib.sha256(text.encode()).hexdigest()
        if digest != actual:
            raise errors.wrong_digest(name, digest, actual)
        with self._write() as connection:
            if not _has_text(connection, digest):
                connection.execute(insert(BOOK_TEXTS).values(digest=digest, text=text))
            same = select(BOOKS).where(BOOKS.c.name == name, BOOKS.c.digest == digest)
            found = connection.execute(same).mappings().one_or_none()
            if found is not None:
                return BookRow(**found)
            number = 1 + (connection.scalar(select(func.max(BOOKS.c.number))) or 0)
            row = BookRow(number=number, name=name, digest=digest, tool_version=tool_version)
            connection.execute(
                insert(BOOKS).values(
                    number=number, name=name, digest=digest, tool_version=tool_version
                )
            )
        return row

    def books(self) -> tuple[BookRow, ...]:
        """Every text of every book, oldest first."""
        with self._read() as connection:
            rows = connection.execute(select(BOOKS).order_by(BOOKS.c.number)).mappings().all()
        return tuple(BookRow(**row) for row in rows)

    def book_text(self, digest: str) -> str:
        """The text with this digest."""
        with self._read() as connection:
            text: str | None = connection.scalar(
                select(BOOK_TEXTS.c.text).where(BOOK_TEXTS.c.digest == digest)
            )
        if text is None:
            raise errors.unknown_book(self._where, digest)
        return text

    def start_job(
        self,
        machine: str,
        book_digest: str,
        complaint: str,
        at: float,
        tool_version: str,
        serial: str = "",
        hours: float | None = None,
    ) -> str:
        """A new job's id, "J-0001" and up. Its book must have been added."""
        with self._write() as connection:
            if not _has_text(connection, book_digest):
                raise errors.unknown_book(self._where, book_digest)
            number = 1 + (connection.scalar(select(func.max(JOBS.c.number))) or 0)
            connection.execute(
                insert(JOBS).values(
                    number=number,
                    machine=machine,
                    serial=serial,
                    hours=hours,
                    book_digest=book_digest,
                    complaint=complaint,
                    started_at=at,
                    tool_version=tool_version,
                )
            )
        return _job_id(number)

    def jobs(self) -> tuple[JobRow, ...]:
        """All jobs, oldest first."""
        with self._read() as connection:
            rows = connection.execute(select(JOBS).order_by(JOBS.c.number)).mappings().all()
        return tuple(_job_row(row) for row in rows)

    def job(self, job: str) -> JobRow:
        """The head of one job."""
        number = self._number(job)
        with self._read() as connection:
            row = connection.execute(select(JOBS).where(JOBS.c.number == number)).mappings().first()
        if row is None:
            raise errors.unknown_job(self._where, job)
        return _job_row(row)

    def append(
        self, job: str, event: Mapping[str, Any], at: float, client_id: str | None = None
    ) -> int:
        """Adds one event and returns its number once it is on the disk.

        The same `client_id` with the same event again returns the first number and adds nothing.
        Raises ValueError for an event without a "type" or one that JSON cannot carry.
        """
        return self.append_all(job, [(event, at, client_id)])[0]

    def append_all(
        self, job: str, events: Sequence[tuple[Mapping[str, Any], float, str | None]]
    ) -> list[int]:
        """Adds events, each as `append` does, all of them or none. Returns their numbers."""
        for event, _, _ in events:
            if not isinstance(event.get("type"), str):
                raise ValueError('an event needs a "type"')
        bodies = [json.dumps(event, sort_keys=True, allow_nan=False) for event, _, _ in events]
        number = self._number(job)
        with self._write() as connection:
            if connection.scalar(select(JOBS.c.number).where(JOBS.c.number == number)) is None:
                raise errors.unknown_job(self._where, job)
            return [
                self._append(connection, number, job, body, at, client_id)
                for body, (_, at, client_id) in zip(bodies, events, strict=True)
            ]

    def _append(
        self,
        connection: Connection,
        at_job: int,
        job: str,
        body: str,
        at: float,
        client_id: str | None,
    ) -> int:
        if client_id is not None:
            sent = connection.execute(
                select(EVENTS.c.number, EVENTS.c.body).where(
                    EVENTS.c.job == at_job, EVENTS.c.client_id == client_id
                )
            ).one_or_none()
            if sent is not None:
                if sent.body != body:
                    raise errors.reused(job, client_id, sent.number)
                return int(sent.number)
        last = select(func.max(EVENTS.c.number)).where(EVENTS.c.job == at_job)
        number = 1 + (connection.scalar(last) or 0)
        connection.execute(
            insert(EVENTS).values(job=at_job, number=number, at=at, client_id=client_id, body=body)
        )
        return number

    def events(self, job: str) -> tuple[EventRow, ...]:
        """The events of a job in order. One whose text is damaged has the type "damaged"."""
        number = self._number(job)
        with self._read() as connection:
            if connection.scalar(select(JOBS.c.number).where(JOBS.c.number == number)) is None:
                raise errors.unknown_job(self._where, job)
            rows = connection.execute(
                select(EVENTS).where(EVENTS.c.job == number).order_by(EVENTS.c.number)
            ).all()
        return tuple(
            EventRow(number=row.number, at=row.at, client_id=row.client_id, event=_event(row.body))
            for row in rows
        )

    def add_photo(self, jpeg: bytes) -> str:
        """Keeps a photo and returns its digest; the same photo again is kept once."""
        digest = hashlib.sha256(jpeg).hexdigest()
        with self._write() as connection:
            known = select(PHOTOS.c.digest).where(PHOTOS.c.digest == digest)
            if connection.scalar(known) is None:
                body = b64encode(jpeg).decode("ascii")
                connection.execute(insert(PHOTOS).values(digest=digest, body=body))
        return digest

    def photo(self, digest: str) -> bytes | None:
        """The photo with this digest, None when there is none."""
        with self._read() as connection:
            body: str | None = connection.scalar(
                select(PHOTOS.c.body).where(PHOTOS.c.digest == digest)
            )
        return None if body is None else b64decode(body)

    def _migrate(self) -> None:
        with self._read() as connection:
            done = migrations.schema_of(connection)
        newest = migrations.STEPS[-1].number
        if done > newest:
            raise errors.newer(self._where, done, newest)
        for step in migrations.STEPS[done:]:
            with self._write() as connection:
                # asked again inside: another process may have taken the step meanwhile
                if migrations.schema_of(connection) < step.number:
                    migrations.take(connection, step)

    @contextmanager
    def _read(self) -> Iterator[Connection]:
        with self._told(), self._engine.begin() as connection:
            yield connection

    @contextmanager
    def _write(self) -> Iterator[Connection]:
        """One transaction of the one writer; committed when the block ends, else undone."""
        with self._told(), self._writing.begin() as connection:
            yield connection

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except (DBAPIError, sqlite3.Error) as error:
            raise errors.translated(self._where, error) from error

    def _number(self, job: str) -> int:
        found = re.fullmatch(r"J-(\d{1,9})", job)
        if not found:
            raise errors.unknown_job(self._where, job)
        return int(found[1])


def _event(body: str) -> Mapping[str, Any]:
    """An event, whatever became of its text: one that is lost must not take the others along."""
    try:
        event = json.loads(body)
    except ValueError:
        event = None
    return event if isinstance(event, dict) else {"type": "damaged"}


def _job_id(number: int) -> str:
    return f"J-{number:04d}"


def _job_row(row: RowMapping) -> JobRow:
    values = dict(row)
    return JobRow(id=_job_id(values.pop("number")), **values)


def _has_text(connection: Connection, digest: str) -> bool:
    query = select(BOOK_TEXTS.c.digest).where(BOOK_TEXTS.c.digest == digest)
    return connection.scalar(query) is not None
