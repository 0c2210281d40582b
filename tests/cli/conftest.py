"""What the tests of the command line share: the command itself, and a demo shop."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from backprobe.cli.__main__ import main
from backprobe.shop.demo_shop import fill
from backprobe.shop.workshop import Shop


@dataclass(frozen=True)
class Said:
    """One run of the command."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


Command = Callable[..., Said]


@pytest.fixture
def command(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Command:
    """`backprobe` in this process: command("jobs", "--shop", file)."""
    monkeypatch.setenv("COLUMNS", "88")

    def run(*words: object) -> Said:
        capsys.readouterr()
        code = main([str(word) for word in words])
        said = capsys.readouterr()
        return Said(code=code, out=said.out, err=said.err)

    return run


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A file with the demo shop in it."""
    path = tmp_path / "demo.backprobe"
    filled = Shop.open(path, clock=lambda: 1_700_000_000.0)
    fill(filled)
    filled.close()
    return path
