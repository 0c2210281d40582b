"""All that is particular to SQLite: how a file is recognised, opened and written by one at a time.

Another database needs a page like this one and nothing else.
"""

from __future__ import annotations

import sqlite3
import time
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL
from sqlalchemy.pool import ConnectionPoolEntry

from backprobe.jobs.errors import not_ours, translated

# "BkPr"; SQLite keeps it in bytes 68 to 71 of the file (sqlite.org/fileformat.html, 1.3)
APPLICATION_ID = 0x426B5072
_MAGIC = b"SQLite format 3\x00"
HEADER = 100


def open_file(path: Path, wait_s: float) -> Engine:
    """An engine on the file, made if it is missing. `wait_s`: how long to wait for another writer.

    Raises StoreError, before SQLite touches the file, when it is something else.
    """
    _refuse_foreign(path)
    _mark(path, wait_s)
    engine = create_engine(
        URL.create("sqlite", database=str(path)), connect_args={"timeout": wait_s}
    )
    event.listen(engine, "connect", _connected)
    event.listen(engine, "begin", _begun)
    return engine


def _refuse_foreign(path: Path) -> None:
    try:
        with path.open("rb") as file:
            head = file.read(HEADER)
    except FileNotFoundError:
        return
    except OSError as error:
        raise translated(str(path), _as_sqlite(str(error), sqlite3.SQLITE_CANTOPEN)) from error
    if not head:
        return
    if not head.startswith(_MAGIC):
        raise not_ours(str(path), "not a database")
    if len(head) < HEADER:
        raise translated(str(path), _as_sqlite("cut short", sqlite3.SQLITE_CORRUPT))
    if int.from_bytes(head[68:72], "big") != APPLICATION_ID:
        raise not_ours(str(path), "another program's database")


def _as_sqlite(words: str, code: int) -> sqlite3.Error:
    """What SQLite would have said, had it been asked."""
    same = sqlite3.OperationalError(words)
    same.sqlite_errorcode = code
    return same


def _mark(path: Path, wait_s: float) -> None:
    """Marks an empty file as ours and turns write-ahead logging on; both are no-ops afterwards."""
    until = time.monotonic() + wait_s
    while True:
        try:
            connection = sqlite3.connect(path, timeout=wait_s, isolation_level=None)
            try:
                if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
                    # in the file itself before the log starts, so that `_refuse_foreign` sees it
                    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                connection.execute("PRAGMA journal_mode = WAL")
                return
            finally:
                connection.close()
        except sqlite3.Error as error:
            # SQLite does not wait by itself while two programs both turn the log on
            busy = (getattr(error, "sqlite_errorcode", 0) & 0xFF) == sqlite3.SQLITE_BUSY
            if not busy or time.monotonic() > until:
                raise translated(str(path), error) from error
            time.sleep(0.01)


def _connected(connection: sqlite3.Connection, _record: ConnectionPoolEntry) -> None:
    # the driver must not begin transactions by itself: `_begun` does
    connection.isolation_level = None
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = FULL")


def _begun(connection: Connection) -> None:
    # a writer takes the file at once, so that what it read is still true when it writes
    writing = connection.get_execution_options().get("writing", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")
