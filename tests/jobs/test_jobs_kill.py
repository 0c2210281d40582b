"""Killed at any moment, or with two writers at once, the store loses nothing it acknowledged.

SIGKILL is the end of a process, not of the power: that a finished commit survives a power cut rests
on SQLite's synchronous=FULL (sqlite.org/pragma.html), which another test sees set.
"""

from __future__ import annotations

import hashlib
import os
import random
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from backprobe.jobs import Store

TEXT = "machine tracked dumper, 12 V\n"
DIGEST = hashlib.sha256(TEXT.encode()).hexdigest()
PADDING = "x" * 3000  # several pages an event, so that a torn one could show

WRITER = f"""
import sys
from backprobe.jobs import Store
store = Store.open(sys.argv[1])
for n in range(int(sys.argv[3])):
    event = {{"type": "note", "who": sys.argv[2], "n": n, "padding": "{PADDING}"}}
    print(store.append("J-0001", event, float(n)), flush=True)
"""

OPENER = f"""
import sys
from backprobe.jobs import Store
print("ready", flush=True)
sys.stdin.readline()
store = Store.open(sys.argv[1])
store.add_book("dumper", {TEXT!r}, {DIGEST!r}, sys.argv[2])
store.close()
"""


def start(code: str, *args: str | Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, args)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )


def new_store(path: Path) -> None:
    with Store.open(path) as store:
        store.add_book("dumper", TEXT, DIGEST, "0.1")
        store.start_job("tracked dumper", DIGEST, "derates", 0.0, "0.1")


def test_killed_at_random_moments_every_acknowledged_event_is_there(tmp_path: Path) -> None:
    path = tmp_path / "shop.backprobe"
    new_store(path)
    rng = random.Random(20)
    kept: list[tuple[str, int]] = []
    for turn in range(6):
        with start(WRITER, path, f"turn {turn}", 100_000) as child:
            assert child.stdout is not None
            acknowledged = [int(child.stdout.readline())]
            time.sleep(rng.uniform(0.0, 0.12))
            child.kill()
            # a last number may be cut short by the kill: only whole lines were acknowledged
            rest = child.stdout.read().split("\n")[:-1]
            acknowledged += [int(line) for line in rest]
        with Store.open(path) as store:
            rows = store.events("J-0001")
        assert [row.number for row in rows] == list(range(1, len(rows) + 1))
        found = [(row.event["who"], row.event["n"]) for row in rows]
        assert all(row.event["padding"] == PADDING for row in rows)
        assert found[: len(kept)] == kept, "an event of an earlier turn changed"
        assert acknowledged == list(range(len(kept) + 1, len(kept) + 1 + len(acknowledged)))
        written = found[len(kept) :]
        assert written == [(f"turn {turn}", n) for n in range(len(written))]
        # committed, and killed before it could say so: one at most
        assert len(written) - len(acknowledged) in {0, 1}
        kept = found
    assert len(kept) > 6


def test_killed_while_the_file_is_being_made_it_can_be_opened_again(tmp_path: Path) -> None:
    rng = random.Random(21)
    code = OPENER.replace("store.close()", "print('done', flush=True)")
    finished = 0
    for turn in range(4):
        path = tmp_path / f"{turn}.backprobe"
        with start(code, path, "0.1") as child:
            assert child.stdin is not None
            assert child.stdout is not None
            assert child.stdout.readline() == "ready\n"
            child.stdin.write("go\n")
            child.stdin.flush()
            time.sleep(rng.uniform(0.0, 0.02))
            child.kill()
            finished += "done" in child.stdout.read()
        new_store(path)
        with Store.open(path) as store:
            assert store.append("J-0001", {"type": "note"}, 0.0) == 1
    assert finished < 4, "every kill came too late to prove anything"


def test_two_programs_writing_at_once_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "shop.backprobe"
    new_store(path)
    writers = {who: start(WRITER, path, who, 80) for who in ("a", "b")}
    said = {who: list(map(int, child.communicate()[0].split())) for who, child in writers.items()}
    assert [child.returncode for child in writers.values()] == [0, 0]
    with Store.open(path) as store:
        rows = store.events("J-0001")
    assert [row.number for row in rows] == list(range(1, 161))
    for who, numbers in said.items():
        mine = [row for row in rows if row.event["who"] == who]
        assert [row.event["n"] for row in mine] == list(range(80))
        assert [row.number for row in mine] == numbers


def test_two_programs_opening_a_new_file_at_once_both_succeed(tmp_path: Path) -> None:
    path = tmp_path / "shop.backprobe"
    openers = [start(OPENER, path, "0.1") for _ in range(2)]
    for child in openers:
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
    for child in openers:
        child.communicate("go\n")
    assert [child.returncode for child in openers] == [0, 0]
    with Store.open(path) as store:
        assert len(store.books()) == 1


@pytest.mark.parametrize("threads", [4])
def test_threads_sharing_a_store_lose_nothing(tmp_path: Path, threads: int) -> None:
    path = tmp_path / "shop.backprobe"
    new_store(path)
    with Store.open(path) as store:
        crew = [
            threading.Thread(
                target=lambda who=who: [
                    store.append("J-0001", {"type": "note", "who": who, "n": n}, 0.0)
                    for n in range(25)
                ]
            )
            for who in range(threads)
        ]
        for thread in crew:
            thread.start()
        for thread in crew:
            thread.join()
        rows = store.events("J-0001")
    assert [row.number for row in rows] == list(range(1, 25 * threads + 1))
    for who in range(threads):
        mine = [row.event["n"] for row in rows if row.event["who"] == who]
        assert mine == list(range(25))
