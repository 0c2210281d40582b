"""Numbered steps from an empty file to the newest schema. A step, once released, never changes.

Each step and its record are one transaction: after a crash a step is done or not begun.
Plain SQL that SQLite and PostgreSQL both take.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, insert, inspect, select

from backprobe.jobs.tables import MIGRATIONS


@dataclass(frozen=True, slots=True, kw_only=True)
class Migration:
    """One step: its statements, run in order."""

    number: int
    name: str
    statements: tuple[str, ...]


_RECORD = """
CREATE TABLE migrations (  -- which schema steps this file has been through
    number INTEGER NOT NULL PRIMARY KEY,
    name TEXT NOT NULL
)
"""

_BOOK_TEXTS = """
CREATE TABLE book_texts (  -- every text of a wiring book ever worked with; never changed, never deleted
    digest TEXT NOT NULL PRIMARY KEY,  -- sha256 of the UTF-8 text, 64 hex digits
    text TEXT NOT NULL
)
"""

_BOOKS = """
CREATE TABLE books (  -- which text a book had under its name, oldest first
    number INTEGER NOT NULL PRIMARY KEY,
    name TEXT NOT NULL,
    digest TEXT NOT NULL REFERENCES book_texts (digest),
    tool_version TEXT NOT NULL,  -- of the Backprobe that read it
    UNIQUE (name, digest)
)
"""

_JOBS = """
CREATE TABLE jobs (  -- one machine's visit to the shop; all that happens in it is in events
    number INTEGER NOT NULL PRIMARY KEY,  -- shown as J-0007
    machine TEXT NOT NULL,
    serial TEXT NOT NULL,
    hours DOUBLE PRECISION,  -- of the hour meter, when known
    book_digest TEXT NOT NULL REFERENCES book_texts (digest),
    complaint TEXT NOT NULL,
    started_at DOUBLE PRECISION NOT NULL,  -- seconds since 1970-01-01 UTC
    tool_version TEXT NOT NULL
)
"""

_EVENTS = """
CREATE TABLE events (  -- what happened in a job; only ever added to
    job INTEGER NOT NULL REFERENCES jobs (number),
    number INTEGER NOT NULL,  -- counts from 1 in each job, without gaps
    at DOUBLE PRECISION NOT NULL,  -- seconds since 1970-01-01 UTC, by the caller's clock
    client_id TEXT,  -- the sender's own id: the same event sent twice is kept once
    body TEXT NOT NULL,  -- the event as JSON, with its "type"
    PRIMARY KEY (job, number),
    UNIQUE (job, client_id)
)
"""

_PHOTOS = """
CREATE TABLE photos (  -- photos of jobs, made small and bare; which job and finding is in its events
    digest TEXT NOT NULL PRIMARY KEY,  -- sha256 of the JPEG, 64 hex digits
    body TEXT NOT NULL  -- the JPEG in base64
)
"""

STEPS: tuple[Migration, ...] = (
    Migration(
        number=1,
        name="books, jobs and events",
        statements=(_RECORD, _BOOK_TEXTS, _BOOKS, _JOBS, _EVENTS),
    ),
    Migration(number=2, name="photos", statements=(_PHOTOS,)),
)


def schema_of(connection: Connection) -> int:
    """The number of the last step this database has been through; 0 when it is empty."""
    if not inspect(connection).has_table("migrations"):
        return 0
    return max(connection.execute(select(MIGRATIONS.c.number)).scalars(), default=0)


def take(connection: Connection, step: Migration) -> None:
    """Run one step and record it, inside the caller's transaction."""
    for statement in step.statements:
        connection.exec_driver_sql(statement)
    connection.execute(insert(MIGRATIONS).values(number=step.number, name=step.name))
