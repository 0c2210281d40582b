"""`serve` and `demo`: the address, the port that is taken, and what a second start finds."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from backprobe.cli.exits import Exit
from backprobe.shop.demo import JOBS


@contextmanager
def serving(*words: object) -> Iterator[str]:
    """A Backprobe that serves on a free port; gives its address."""
    program = subprocess.Popen(
        [sys.executable, "-m", "backprobe.cli", *map(str, words), "--port", "0", "--json"],
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert program.stdout is not None
        said = "".join(program.stdout.readline() for _ in range(3))
        yield json.loads(said)["address"]
    finally:
        program.terminate()
        program.communicate(timeout=30)
    assert program.returncode == Exit.DONE


def page(address: str) -> str:
    with urllib.request.urlopen(address, timeout=30) as answer:
        assert answer.status == 200
        return str(answer.read().decode("utf-8"))


def test_the_demo_serves_its_jobs_on_this_computer_only(tmp_path: Path) -> None:
    with serving("demo") as address:
        assert address.startswith("http://127.0.0.1:")
        said = page(address)
        assert all(job.serial in said or job.complaint[:30] in said for job in JOBS)


def test_a_demo_that_is_kept_is_found_again(command, tmp_path: Path) -> None:
    shop = tmp_path / "kept.backprobe"
    with serving("demo", "--shop", shop):
        pass
    command("note", "1", "looked hinge: nothing, key off", "--shop", shop)
    with serving("demo", "--shop", shop):
        pass
    assert len(command("jobs", "--shop", shop, "--json").json) == len(JOBS)
    assert len(command("so-far", "1", "--shop", shop, "--json").json["findings"]) == 4


def test_a_demo_that_is_not_kept_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    with serving("demo"):
        assert [p.name for p in tmp_path.glob("backprobe-demo-*/*.backprobe")] == ["demo.backprobe"]
    assert list(tmp_path.iterdir()) == []


def test_error_port_taken_says_so_and_offers_another(command, shop: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        said = command("serve", "--port", port, "--shop", shop)
        again = port + 1 if port < 65535 else 8787
    assert said.code == Exit.REFUSED
    assert said.err == (
        f"error: Port {port} on 127.0.0.1 cannot be used. [port-taken]\n"
        "  why: Another program has it, perhaps a Backprobe that runs already, or it is no port "
        "a user may take.\n"
        f"  do:  Close the other program, or take another port: --port {again}\n"
    )


def test_error_no_port_at_all(command, shop: Path) -> None:
    said = command("serve", "--port", "70000", "--shop", shop)
    assert said.code == Exit.REFUSED
    assert "Port 70000 on 127.0.0.1 cannot be used." in said.err
    assert "--port 8787" in said.err
