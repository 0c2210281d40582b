"""Words and figures on every console: JSON, narrow code pages, broken pipes, alignment."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from math import inf, nan
from pathlib import Path

import pytest

from backprobe.book.situations import Situation
from backprobe.cli.exits import Exit
from backprobe.cli.lay import table, wrapped
from backprobe.cli.plain import plain, to_json


@dataclass(frozen=True)
class Thing:
    name: str
    value: float


def test_plain_turns_anything_into_what_json_knows() -> None:
    thing = {
        "a": (Thing("x", 1.5), Thing("y", inf)),
        "b": frozenset({"q", "p"}),
        "c": [nan, -inf, None, True, 3],
        ("d", 1): Path("x"),
    }
    assert plain(thing) == {
        "a": [{"name": "x", "value": 1.5}, {"name": "y", "value": "inf"}],
        "b": ["p", "q"],
        "c": [None, "-inf", None, True, 3],
        "('d', 1)": "x",
    }


def test_json_is_ascii_and_strict() -> None:
    text = to_json({"words": "12 Ω ± 0.1", "situation": Situation(on=frozenset({"S2", "S1"}))})
    assert text.isascii()
    assert json.loads(text)["words"] == "12 Ω ± 0.1"
    assert json.loads(text)["situation"]["on"] == ["S1", "S2"]


def test_columns_stand_under_each_other_and_the_last_one_wraps(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    text = table([("a", "1", "word " * 20), ("bbb", "22", "x")], ("name", "n", "said"))
    lines = text.splitlines()
    assert lines[0] == "name  n   said"
    assert lines[1].startswith("a     1   word word")
    assert lines[2].startswith("          word")
    assert lines[-1] == "bbb   22  x"
    assert max(map(len, lines)) <= 60


def test_a_figure_stays_with_its_unit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    text = wrapped("x" * 54 + " 12.3 V and so on, about 90 % of it")
    assert text.splitlines()[1].startswith("12.3 V")


def run(*words: str, encoding: str, **more: object) -> subprocess.CompletedProcess[bytes]:
    env = {**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"}
    return subprocess.run(
        [sys.executable, "-m", "backprobe.cli", *words],
        env=env,
        capture_output=True,
        check=False,
        **more,  # type: ignore[call-overload]
    )


@pytest.mark.parametrize("encoding", ["ascii", "cp437", "cp1252", "utf-8"])
def test_no_console_is_too_old_for_the_words(encoding: str, tmp_path: Path) -> None:
    book = tmp_path / "ohm.book"
    book.write_text(
        "machine Ωmega ± größer 机, 12 V\nbattery: battery 12 V\n# Ω\nR1 resistor\n",
        encoding="utf-8",
    )
    done = run("proofread", str(book), encoding=encoding)
    assert b"Traceback" not in done.stderr
    assert done.returncode in (Exit.DONE, Exit.PROBLEMS)
    assert b"ohm.book" in done.stdout


def test_a_reader_that_goes_away_is_no_defect(tmp_path: Path) -> None:
    program = subprocess.Popen(
        [sys.executable, "-m", "backprobe.cli", "can-break", "hinge", "--book", "tracked-dumper"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert program.stdout is not None
    assert program.stderr is not None
    program.stdout.close()
    assert b"Traceback" not in program.stderr.read()
    program.stderr.close()
    assert program.wait(timeout=60) == Exit.DONE
