"""Books and jobs go in and come out; the same event twice is kept once."""

from __future__ import annotations

import hashlib
import re
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import MetaData, create_engine, func, insert, select
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateTable

from backprobe.findings.model import Reading
from backprobe.findings.wire import from_plain, to_plain
from backprobe.jobs import BookRow, EventRow, JobRow, Store, StoreError
from backprobe.jobs.migrations import STEPS
from backprobe.jobs.tables import EVENTS, METADATA

TEXT = "machine tracked dumper, 12 V\nG2: ground stud, on frame  # caf\u00e9\n"
DIGEST = hashlib.sha256(TEXT.encode()).hexdigest()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "shop.backprobe") as store:
        yield store


@pytest.fixture
def job(store: Store) -> str:
    store.add_book("dumper", TEXT, DIGEST, "0.1")
    return store.start_job("tracked dumper", DIGEST, "no power, hard start", 1000.5, "0.1")


def test_a_job_comes_back_as_it_was_started(tmp_path: Path) -> None:
    path = tmp_path / "shop.backprobe"
    with Store.open(path) as store:
        store.add_book("dumper", TEXT, DIGEST, "0.1")
        first = store.start_job("tracked dumper", DIGEST, "derates", 1000.5, "0.1", "4411-7", 812.4)
        second = store.start_job("tracked dumper", DIGEST, "no crank", 2000.0, "0.2")
    with Store.open(str(path)) as store:
        assert (first, second) == ("J-0001", "J-0002")
        assert store.jobs() == (
            JobRow(
                id="J-0001",
                machine="tracked dumper",
                serial="4411-7",
                hours=812.4,
                book_digest=DIGEST,
                complaint="derates",
                started_at=1000.5,
                tool_version="0.1",
            ),
            store.job("J-0002"),
        )
        assert store.job("J-0002").hours is None
        assert store.job("J-1") == store.job("J-0001")
        assert store.book_text(DIGEST) == TEXT


def test_every_text_of_a_book_is_kept_and_the_same_text_once(store: Store) -> None:
    later = TEXT + "F3 feeds work light left\n"
    digest = hashlib.sha256(later.encode()).hexdigest()
    first = store.add_book("dumper", TEXT, DIGEST, "0.1")
    second = store.add_book("dumper", later, digest, "0.1")
    assert store.add_book("dumper", TEXT, DIGEST, "0.2") == first
    other = store.add_book("sister machine", TEXT, DIGEST, "0.2")
    assert store.books() == (first, second, other)
    assert other == BookRow(number=3, name="sister machine", digest=DIGEST, tool_version="0.2")
    assert (store.book_text(DIGEST), store.book_text(digest)) == (TEXT, later)


def test_events_come_back_numbered_and_in_order(store: Store, job: str) -> None:
    other = store.start_job("loader", DIGEST, "lights dead", 0.0, "0.1")
    numbers = [store.append(job, {"type": "note", "n": n}, 2000.0 + n) for n in range(3)]
    assert store.append(other, {"type": "note"}, 5.0) == 1
    assert numbers == [1, 2, 3]
    assert store.events(job) == tuple(
        EventRow(number=n + 1, at=2000.0 + n, client_id=None, event={"type": "note", "n": n})
        for n in range(3)
    )


def test_a_finding_goes_through_the_store_unchanged(store: Store, job: str) -> None:
    finding = Reading(id="1", instrument="ohmmeter", p="X14.3", n="G2", value=float("inf"))
    store.append(job, to_plain(finding), 1.0)
    assert from_plain(store.events(job)[0].event) == finding


def test_the_same_event_sent_twice_is_kept_once(store: Store, job: str) -> None:
    first = store.append(job, {"type": "note", "a": 1, "b": 2}, 1.0, "phone-1")
    store.append(job, {"type": "note"}, 2.0)
    assert store.append(job, {"b": 2, "a": 1, "type": "note"}, 9.0, "phone-1") == first == 1
    assert [row.at for row in store.events(job)] == [1.0, 2.0]
    other = store.start_job("loader", DIGEST, "lights dead", 0.0, "0.1")
    assert store.append(other, {"type": "other"}, 1.0, "phone-1") == 1


def test_an_event_json_cannot_carry_is_refused_and_nothing_is_kept(store: Store, job: str) -> None:
    with pytest.raises(ValueError, match='an event needs a "type"'):
        store.append(job, {"note": "x"}, 1.0)
    with pytest.raises(ValueError, match="Out of range float values are not JSON compliant"):
        store.append(job, {"type": "x", "v": float("inf")}, 1.0)
    assert store.events(job) == ()


def test_the_file_is_set_for_safety(store: Store, job: str, tmp_path: Path) -> None:
    with store._engine.connect() as connection:
        setting = lambda name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()  # noqa: E731
        assert setting("journal_mode") == "wal"
        assert setting("synchronous") == 2  # FULL, sqlite.org/pragma.html
        assert setting("foreign_keys") == 1
        assert setting("busy_timeout") == 5000


def test_a_job_without_its_book_is_stopped_by_the_database_too(store: Store, job: str) -> None:
    with (
        store._engine.connect() as connection,
        pytest.raises(Exception, match="FOREIGN KEY constraint failed"),
    ):
        connection.execute(insert(EVENTS).values(job=99, number=1, at=0.0, body="{}"))


def test_the_table_definitions_are_what_the_migrations_make(store: Store) -> None:
    made = MetaData()
    made.reflect(store._engine)
    assert set(made.tables) == set(METADATA.tables)
    for name, table in METADATA.tables.items():
        shape = lambda t: [  # noqa: E731
            (c.name, c.type._type_affinity, c.nullable, c.primary_key) for c in t.columns
        ]
        assert shape(made.tables[name]) == shape(table)
        keys = lambda t: {(f.parent.name, f.target_fullname) for f in t.foreign_keys}  # noqa: E731
        assert keys(made.tables[name]) == keys(table)


def test_every_table_carries_its_comment_in_the_file(store: Store, tmp_path: Path) -> None:
    store.close()
    rows = sqlite3.connect(tmp_path / "shop.backprobe")
    made = dict(rows.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table'"))
    rows.close()
    assert set(made) == set(METADATA.tables)
    for name, sql in made.items():
        assert re.match(rf"CREATE TABLE {name} \(  -- \w.{{20}}", sql), sql


def test_the_manual_shows_the_schema_as_it_is() -> None:
    manual = (Path(__file__).parents[2] / "docs" / "jobs.md").read_text(encoding="utf-8")
    for step in STEPS:
        for statement in step.statements:
            assert statement.strip() in manual


def test_the_words_are_those_of_postgresql_too() -> None:
    # compiled for PostgreSQL by SQLAlchemy: same type words, no SQLite speciality
    dialect = postgresql.dialect()
    for table in METADATA.sorted_tables:
        compiled = str(CreateTable(table).compile(dialect=dialect))
        words = set(re.findall(r"INTEGER|TEXT|DOUBLE PRECISION|SERIAL", compiled))
        statements = [statement for step in STEPS for statement in step.statements]
        written = next(s for s in statements if f"CREATE TABLE {table.name} " in s)
        plain = re.sub(r"--.*", "", written)
        assert words == set(re.findall(r"INTEGER|TEXT|DOUBLE PRECISION|SERIAL", plain))
        assert not re.search(r"AUTOINCREMENT|ROWID|STRICT|BLOB|DATETIME|PRAGMA", plain)
    last = select(func.max(EVENTS.c.number)).where(EVENTS.c.job == 1)
    assert "max(events.number)" in str(last.compile(dialect=dialect))


def test_a_step_that_fails_half_way_leaves_no_trace(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from backprobe.jobs import migrations

    path = tmp_path / "shop.backprobe"
    Store.open(path).close()
    step = migrations.Migration(
        number=len(STEPS) + 1,
        name="broken",
        statements=("CREATE TABLE half (n INTEGER)", "CREATE TABEL x"),
    )
    monkeypatch.setattr(migrations, "STEPS", (*STEPS, step))
    with pytest.raises(StoreError, match="store-failed"):
        Store.open(path)
    engine = create_engine(f"sqlite:///{path}")
    made = MetaData()
    made.reflect(engine)
    with engine.connect() as connection:
        assert migrations.schema_of(connection) == len(STEPS)
    engine.dispose()
    assert "half" not in made.tables


def test_a_file_of_the_first_schema_is_brought_to_the_newest_with_all_that_is_in_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from backprobe.jobs import migrations

    path = tmp_path / "shop.backprobe"
    with monkeypatch.context() as before:
        before.setattr(migrations, "STEPS", STEPS[:1])
        with Store.open(path) as old:
            old.add_book("dumper", TEXT, DIGEST, "0.1")
            old.start_job("tracked dumper", DIGEST, "no power", 1000.5, "0.1")
    with Store.open(path) as store:
        assert [job.complaint for job in store.jobs()] == ["no power"]
        digest = store.add_photo(b"\xff\xd8 a photo")
        assert store.photo(digest) == b"\xff\xd8 a photo"


def test_a_photo_is_kept_once_and_found_by_its_digest(store: Store) -> None:
    photo = bytes(range(256)) * 40
    digest = store.add_photo(photo)
    assert digest == hashlib.sha256(photo).hexdigest()
    assert store.add_photo(photo) == digest
    assert store.photo(digest) == photo
    assert store.photo("0" * 64) is None


def test_events_that_belong_together_are_kept_all_or_none(store: Store, job: str) -> None:
    store.append(job, {"type": "x", "n": 1}, 1.0, "b")
    with pytest.raises(StoreError, match="event-id-reused"):
        store.append_all(job, [({"type": "x", "n": 2}, 2.0, "a"), ({"type": "x"}, 2.0, "b")])
    assert [event.client_id for event in store.events(job)] == ["b"]
    with pytest.raises(ValueError, match='an event needs a "type"'):
        store.append_all(job, [({"type": "x"}, 2.0, None), ({}, 2.0, None)])
    assert store.append_all(job, [({"type": "x"}, 3.0, "c"), ({"type": "y"}, 3.0, "d")]) == [2, 3]
    assert store.append_all(job, [({"type": "x"}, 3.0, "c"), ({"type": "y"}, 3.0, "d")]) == [2, 3]
    assert store.append_all(job, []) == []
    assert len(store.events(job)) == 3
