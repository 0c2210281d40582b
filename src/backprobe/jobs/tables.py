"""The tables as the newest schema has them. Their words are in `migrations`, comments included."""

from __future__ import annotations

from sqlalchemy import Column, Double, ForeignKey, Integer, MetaData, Table, Text

METADATA = MetaData()

MIGRATIONS = Table(
    "migrations",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("name", Text, nullable=False),
)

BOOK_TEXTS = Table(
    "book_texts",
    METADATA,
    Column("digest", Text, primary_key=True),
    Column("text", Text, nullable=False),
)

BOOKS = Table(
    "books",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("name", Text, nullable=False),
    Column("digest", Text, ForeignKey("book_texts.digest"), nullable=False),
    Column("tool_version", Text, nullable=False),
)

JOBS = Table(
    "jobs",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("machine", Text, nullable=False),
    Column("serial", Text, nullable=False),
    Column("hours", Double, nullable=True),
    Column("book_digest", Text, ForeignKey("book_texts.digest"), nullable=False),
    Column("complaint", Text, nullable=False),
    Column("started_at", Double, nullable=False),
    Column("tool_version", Text, nullable=False),
)

EVENTS = Table(
    "events",
    METADATA,
    Column("job", Integer, ForeignKey("jobs.number"), primary_key=True, autoincrement=False),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("at", Double, nullable=False),
    Column("client_id", Text, nullable=True),
    Column("body", Text, nullable=False),
)

PHOTOS = Table(
    "photos",
    METADATA,
    Column("digest", Text, primary_key=True),
    Column("body", Text, nullable=False),
)
