"""Every way the store can refuse: the whole text, and the file left as it was.

The database errors are SQLite's own, provoked for real: a full disk by `max_page_count`, a
read-only disk by `query_only`, a lock by a second connection.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import event

from backprobe.base.problems import Problem
from backprobe.findings.wire import from_plain
from backprobe.jobs import Store, StoreError
from backprobe.jobs.sqlite import APPLICATION_ID

TEXT = "machine tracked dumper, 12 V\n"
DIGEST = hashlib.sha256(TEXT.encode()).hexdigest()


def refusal(call: Callable[[], object]) -> str:
    with pytest.raises(StoreError) as caught:
        call()
    return str(caught.value)


def filled(path: Path) -> Path:
    with Store.open(path) as store:
        store.add_book("dumper", TEXT, DIGEST, "0.1")
        store.start_job("tracked dumper", DIGEST, "derates", 0.0, "0.1")
        for n in range(40):
            store.append("J-0001", {"type": "note", "padding": "x" * 500}, float(n))
    return path


def with_pragma(store: Store, pragma: str) -> Store:
    event.listen(
        store._engine, "connect", lambda connection, _: connection.execute(f"PRAGMA {pragma}")
    )
    store._engine.dispose()
    return store


@pytest.mark.parametrize(
    "content", [b"machine tracked dumper, 12 V\n", b"SQLite format 2\x00" + bytes(84), b"\x00"]
)
def test_error_not_a_database(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "notes.txt"
    path.write_bytes(content)
    assert refusal(lambda: Store.open(path)) == (
        f"error: {path} is not a database, not a Backprobe store [store-foreign]\n"
        "  why: writing jobs into it would damage it; it was left as it is\n"
        "  do:  give the name of a store, or a new name to start one"
    )
    assert path.read_bytes() == content
    assert list(tmp_path.iterdir()) == [path]


def test_error_another_programs_database(tmp_path: Path) -> None:
    path = tmp_path / "parts.db"
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE jobs (id INTEGER)")
    other.commit()
    other.close()
    before = path.read_bytes()
    assert refusal(lambda: Store.open(path)) == (
        f"error: {path} is another program's database, not a Backprobe store [store-foreign]\n"
        "  why: writing jobs into it would damage it; it was left as it is\n"
        "  do:  give the name of a store, or a new name to start one"
    )
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_error_newer_schema(tmp_path: Path) -> None:
    path = filled(tmp_path / "shop.backprobe")
    later = sqlite3.connect(path)
    later.execute("INSERT INTO migrations VALUES (7, 'from the future')")
    later.commit()
    later.close()
    before = path.read_bytes()
    assert refusal(lambda: Store.open(path)) == (
        f"error: {path} has schema 7; this Backprobe knows schemas up to 2 [store-newer]\n"
        "  why: a newer Backprobe wrote it, and this one could misread it; it was left as it is\n"
        "  do:  update Backprobe on this computer"
    )
    assert path.read_bytes() == before


@pytest.mark.parametrize("where", ["schema", "cut short", "cut in its head"])
def test_error_damaged_file(tmp_path: Path, where: str) -> None:
    path = filled(tmp_path / "shop.backprobe")
    whole = path.read_bytes()
    spoilt = {
        "schema": whole[:100] + b"\xa5" * 3996 + whole[4096:],
        "cut short": whole[:5000],
        "cut in its head": whole[:60],
    }[where]
    path.write_bytes(spoilt)
    assert refusal(lambda: Store.open(path)) == (
        f"error: {path} is damaged [store-corrupt]\n"
        "  why: the disk, a copy made while it was open, or another program spoilt it; "
        "it was left as it is\n"
        "  do:  copy the file away, then put the last good backup in its place"
    )
    assert path.read_bytes() == spoilt


def test_error_damaged_events_are_told_when_they_are_read(tmp_path: Path) -> None:
    path = filled(tmp_path / "shop.backprobe")
    whole = path.read_bytes()
    at = whole.rindex(b'{"padding"') // 4096 * 4096
    path.write_bytes(whole[:at] + b"\xa5" * 4096 + whole[at + 4096 :])
    with Store.open(path) as store:
        assert refusal(lambda: store.events("J-0001")).startswith(
            f"error: {path} is damaged [store-corrupt]\n"
        )


@pytest.mark.parametrize("body", ["{", "[1]", "null", '"x"', "", b"\xff"])
def test_a_damaged_event_does_not_take_the_others_along(tmp_path: Path, body: str | bytes) -> None:
    path = filled(tmp_path / "shop.backprobe")
    hand = sqlite3.connect(path)
    hand.execute("UPDATE events SET body = ? WHERE number = 2", (body,))
    hand.commit()
    hand.close()
    with Store.open(path) as store:
        events = store.events("J-0001")
    assert [event.number for event in events] == list(range(1, 41))
    assert events[1].event == {"type": "damaged"}
    assert isinstance(from_plain(events[1].event), Problem)
    assert {event.event["type"] for event in events if event.number != 2} == {"note"}


def test_error_read_only(tmp_path: Path) -> None:
    path = filled(tmp_path / "shop.backprobe")
    with with_pragma(Store.open(path), "query_only = ON") as store:
        assert refusal(lambda: store.append("J-0001", {"type": "note"}, 0.0)) == (
            f"error: {path} cannot be written [store-read-only]\n"
            "  why: the file, its folder or the disk is read-only for this user\n"
            "  do:  allow writing to the file and its folder, or copy the store to a place of "
            "your own"
        )
        assert len(store.events("J-0001")) == 40


def test_error_disk_full(tmp_path: Path) -> None:
    path = filled(tmp_path / "shop.backprobe")
    with with_pragma(Store.open(path), "max_page_count = 1") as store:
        big = {"type": "note", "padding": "x" * 100_000}
        assert refusal(lambda: store.append("J-0001", big, 0.0)) == (
            f"error: {path} cannot grow: the disk is full [store-disk-full]\n"
            "  why: the last entry was not kept; everything before it is safe\n"
            "  do:  free some space, then enter it again"
        )
    with Store.open(path) as store:
        assert len(store.events("J-0001")) == 40
        assert store.append("J-0001", {"type": "note"}, 0.0) == 41


def test_error_locked(tmp_path: Path) -> None:
    path = filled(tmp_path / "shop.backprobe")
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with Store.open(path, wait_s=0.05) as store:
        assert len(store.events("J-0001")) == 40, "reading goes on beside a writer"
        assert refusal(lambda: store.append("J-0001", {"type": "note"}, 0.0)) == (
            f"error: {path} is held by another program [store-locked]\n"
            "  why: one writer at a time; another Backprobe, a backup or a sync tool has it open\n"
            "  do:  close the other program or wait until it is done, then try again"
        )
        other.execute("ROLLBACK")
        other.close()
        assert store.append("J-0001", {"type": "note"}, 0.0) == 41


@pytest.mark.parametrize("name", ["no such folder/shop.backprobe", "."])
def test_error_cannot_open(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    assert refusal(lambda: Store.open(path)) == (
        f"error: {path} cannot be opened [store-no-open]\n"
        "  why: the folder does not exist, the name is a folder, or this user may not enter it\n"
        "  do:  check the name; create the folder first"
    )


def test_error_anything_else_the_database_says(tmp_path: Path) -> None:
    path = filled(tmp_path / "shop.backprobe")
    breaker = sqlite3.connect(path)
    breaker.execute("DROP TABLE events")
    breaker.commit()
    breaker.close()
    with Store.open(path) as store:
        assert refusal(lambda: store.events("J-0001")) == (
            f"error: {path}: no such table: events [store-failed]\n"
            "  why: the database refused, for a reason Backprobe does not know; nothing was kept\n"
            "  do:  try again; if it stays, copy the file away and report the words above"
        )


@pytest.mark.parametrize("job", ["J-0002", "J-x", "7", "", "J-99999999999"])
def test_error_unknown_job(tmp_path: Path, job: str) -> None:
    path = filled(tmp_path / "shop.backprobe")
    with Store.open(path) as store:
        text = (
            f"error: there is no job {job} in {path} [job-unknown]\n"
            "  why: the number is mistyped, or the job was written into another store\n"
            "  do:  list the jobs and take the number from there"
        )
        assert refusal(lambda: store.job(job)) == text
        assert refusal(lambda: store.events(job)) == text
        assert refusal(lambda: store.append(job, {"type": "note"}, 0.0)) == text


def test_error_unknown_book(tmp_path: Path) -> None:
    path = filled(tmp_path / "shop.backprobe")
    with Store.open(path) as store:
        text = (
            f"error: no wiring book with the digest abc is in {path} [book-unknown]\n"
            "  why: a job keeps the exact text it was worked with, so the text must be stored "
            "first\n"
            "  do:  add the book, then start the job again"
        )
        assert refusal(lambda: store.book_text("abc")) == text
        assert refusal(lambda: store.start_job("dumper", "abc", "derates", 0.0, "0.1")) == text
        assert len(store.jobs()) == 1


def test_error_wrong_digest(tmp_path: Path) -> None:
    path = filled(tmp_path / "shop.backprobe")
    with Store.open(path) as store:
        assert refusal(lambda: store.add_book("dumper", TEXT, "abc", "0.1")) == (
            f"error: the text of dumper has the digest {DIGEST}, not abc [book-digest]\n"
            "  why: the text changed between reading and storing it\n"
            "  do:  read the book again and store what was read"
        )


def test_error_an_id_used_for_another_event(tmp_path: Path) -> None:
    path = filled(tmp_path / "shop.backprobe")
    with Store.open(path) as store:
        store.append("J-0001", {"type": "note", "text": "dry"}, 0.0, "phone-1")
        other = {"type": "note", "text": "wet"}
        assert refusal(lambda: store.append("J-0001", other, 0.0, "phone-1")) == (
            "error: event 41 of J-0001 already has the id phone-1 and says something else "
            "[event-id-reused]\n"
            "  why: an id stands for one event, so that sending it twice does no harm\n"
            "  do:  send the new event under an id of its own"
        )


def test_the_file_says_whose_it_is(tmp_path: Path) -> None:
    path = filled(tmp_path / "shop.backprobe")
    assert path.read_bytes()[68:72] == b"BkPr" == APPLICATION_ID.to_bytes(4, "big")


def test_every_slug_has_its_paragraph_in_the_manual() -> None:
    import re

    source = Path(__file__).parents[2]
    code = (source / "src/backprobe/jobs/errors.py").read_text(encoding="utf-8")
    manual = (source / "docs/jobs.md").read_text(encoding="utf-8")
    slugs = set(re.findall(r'"((?:store|job|book|event)-[a-z-]+)"', code))
    assert len(slugs) >= 11
    assert slugs == set(re.findall(r"^\| `([a-z-]+)` ", manual, re.MULTILINE))
