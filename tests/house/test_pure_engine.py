"""The engine opens no file, asks no clock and no chance, prints nothing, and does not depend on
the order of sets."""

from __future__ import annotations

import os
import random
import socket
import subprocess
import sys
import time
import uuid
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from exercises import EXERCISES
from listener import listening

HERE = Path(__file__).parent


@pytest.mark.parametrize("name", EXERCISES)
def test_the_engine_asks_nothing_of_the_world(name: str, capfd: pytest.CaptureFixture[str]) -> None:
    with listening() as heard:
        made = EXERCISES[name]()
    assert made
    assert heard == []
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("name", EXERCISES)
def test_the_engine_says_the_same_under_every_hash_seed(name: str) -> None:
    said = set()
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, str(HERE / "exercises.py"), name],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        said.add(done.stdout)
    assert len(said) == 1


def _connect() -> None:
    with socket.socket() as plug:
        plug.connect_ex(("127.0.0.1", 9))


# Looked up while listening, hence the lambdas.
ASKING: dict[str, tuple[Callable[[], object], str]] = {
    "a file by name": (lambda: open(__file__).close(), "open"),  # noqa: PTH123
    "a file by a path in a variable": (Path(__file__).read_text, "open"),
    "a folder": (lambda: list(HERE.iterdir()), "os."),
    "a socket": (_connect, "socket."),
    "a process": (lambda: subprocess.run([sys.executable, "-V"], check=True), "subprocess."),
    "the clock": (lambda: time.time(), "time.time"),
    "a pause": (lambda: time.sleep(0), "time.sleep"),
    "a random number": (lambda: random.random(), "random.random"),
    "random bytes": (lambda: os.urandom(4), "os.urandom"),
    "a random id": (lambda: uuid.uuid4(), "uuid.uuid4"),
    "an unseeded generator": (lambda: np.random.default_rng(), "numpy.random.default_rng"),
    "the global generator": (lambda: np.random.rand(), "numpy.random.rand"),
}


@pytest.mark.parametrize("what", ASKING)
def test_the_listener_hears_one_who_asks_for(what: str) -> None:
    ask, named = ASKING[what]
    with listening() as heard:
        ask()
    assert any(line.startswith(named) for line in heard), heard


def test_the_listener_lets_a_seeded_generator_pass() -> None:
    with listening() as heard:
        assert np.random.default_rng(7).integers(10) == np.random.default_rng(7).integers(10)
    assert heard == []


def test_the_listener_hears_nothing_after_the_block() -> None:
    with listening() as heard:
        pass
    Path(__file__).read_text(encoding="utf-8")
    time.time()
    assert heard == []


def test_a_module_of_ours_that_opens_a_file_while_it_loads_is_heard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "backprobe_sly.py").write_text("open(__file__).close()\n", encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    with listening() as heard:
        __import__("backprobe_sly")
    assert any("backprobe_sly.py" in line for line in heard)
