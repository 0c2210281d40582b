"""What can go wrong with the store, in words that say which file and what to do."""

from __future__ import annotations

import sqlite3

from sqlalchemy.exc import DBAPIError


class StoreError(Exception):
    """The store could not do it, and nothing of it was kept.

    `slug` names the paragraph of docs/jobs.md; `what`, `why` and `remedy` are whole phrases.
    """

    def __init__(self, slug: str, what: str, why: str, remedy: str) -> None:
        self.slug = slug
        self.what = what
        self.why = why
        self.remedy = remedy
        super().__init__(slug, what, why, remedy)

    def __str__(self) -> str:
        return f"error: {self.what} [{self.slug}]\n  why: {self.why}\n  do:  {self.remedy}"


def not_ours(path: str, found: str) -> StoreError:
    """The file at `path` is `found`, not a store."""
    return StoreError(
        "store-foreign",
        f"{path} is {found}, not a Backprobe store",
        "writing jobs into it would damage it; it was left as it is",
        "give the name of a store, or a new name to start one",
    )


def newer(path: str, theirs: int, ours: int) -> StoreError:
    """The store was written by a later version of this program."""
    return StoreError(
        "store-newer",
        f"{path} has schema {theirs}; this Backprobe knows schemas up to {ours}",
        "a newer Backprobe wrote it, and this one could misread it; it was left as it is",
        "update Backprobe on this computer",
    )


def unknown_job(path: str, job: str) -> StoreError:
    """No job has this id."""
    return StoreError(
        "job-unknown",
        f"there is no job {job} in {path}",
        "the number is mistyped, or the job was written into another store",
        "list the jobs and take the number from there",
    )


def unknown_book(path: str, digest: str) -> StoreError:
    """No book text has this digest."""
    return StoreError(
        "book-unknown",
        f"no wiring book with the digest {digest} is in {path}",
        "a job keeps the exact text it was worked with, so the text must be stored first",
        "add the book, then start the job again",
    )


def wrong_digest(name: str, digest: str, actual: str) -> StoreError:
    """The digest given is not the text's."""
    return StoreError(
        "book-digest",
        f"the text of {name} has the digest {actual}, not {digest}",
        "the text changed between reading and storing it",
        "read the book again and store what was read",
    )


def reused(job: str, client_id: str, number: int) -> StoreError:
    """The same client id came with another event."""
    return StoreError(
        "event-id-reused",
        f"event {number} of {job} already has the id {client_id} and says something else",
        "an id stands for one event, so that sending it twice does no harm",
        "send the new event under an id of its own",
    )


def translated(path: str, error: DBAPIError | sqlite3.Error) -> StoreError:
    """A database error as a StoreError that names the file."""
    origin = error.orig if isinstance(error, DBAPIError) else error
    code = getattr(origin, "sqlite_errorcode", None)
    # the low byte is the primary result code (sqlite.org/rescode.html)
    primary = None if code is None else code & 0xFF
    if primary == sqlite3.SQLITE_NOTADB:
        return not_ours(path, "not a database")
    if primary == sqlite3.SQLITE_CORRUPT:
        return StoreError(
            "store-corrupt",
            f"{path} is damaged",
            "the disk, a copy made while it was open, or another program spoilt it; "
            "it was left as it is",
            "copy the file away, then put the last good backup in its place",
        )
    if primary == sqlite3.SQLITE_READONLY:
        return StoreError(
            "store-read-only",
            f"{path} cannot be written",
            "the file, its folder or the disk is read-only for this user",
            "allow writing to the file and its folder, or copy the store to a place of your own",
        )
    if primary == sqlite3.SQLITE_FULL:
        return StoreError(
            "store-disk-full",
            f"{path} cannot grow: the disk is full",
            "the last entry was not kept; everything before it is safe",
            "free some space, then enter it again",
        )
    if primary in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}:
        return StoreError(
            "store-locked",
            f"{path} is held by another program",
            "one writer at a time; another Backprobe, a backup or a sync tool has it open",
            "close the other program or wait until it is done, then try again",
        )
    if primary == sqlite3.SQLITE_CANTOPEN:
        return StoreError(
            "store-no-open",
            f"{path} cannot be opened",
            "the folder does not exist, the name is a folder, or this user may not enter it",
            "check the name; create the folder first",
        )
    return StoreError(
        "store-failed",
        f"{path}: {origin}",
        "the database refused, for a reason Backprobe does not know; nothing was kept",
        "try again; if it stays, copy the file away and report the words above",
    )
