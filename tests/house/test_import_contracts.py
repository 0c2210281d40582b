"""The contracts on imports hold, and each of them is seen to break when it is broken."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def lint(root: Path) -> subprocess.CompletedProcess[str]:
    """import-linter over the sources below `root`, with the contracts found there."""
    return subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()"],
        cwd=root,
        env={**os.environ, "PYTHONPATH": str(root / "src"), "COLUMNS": "300"},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of the sources to break."""
    shutil.copytree(
        ROOT / "src", tmp_path / "src", ignore=shutil.ignore_patterns("__pycache__", "static")
    )
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def test_all_contracts_are_kept() -> None:
    done = lint(ROOT)
    assert done.returncode == 0, done.stdout
    assert "4 kept, 0 broken" in done.stdout


BREAKS = {
    "a lower room imports a higher one": (
        "kinds/records.py",
        "import backprobe.book.situations",
        "backprobe.kinds.records -> backprobe.book.situations",
    ),
    "a store in the engine": (
        "checks/model.py",
        "import sqlite3",
        "backprobe.checks.model -> sqlite3",
    ),
    "a file in the engine by way of a function": (
        "book/situations.py",
        "def _read() -> None:\n    import pathlib",
        "backprobe.book.situations -> pathlib",
    ),
    "a face that asks the store": (
        "cli/verbs.py",
        "import backprobe.jobs",
        "backprobe.cli.verbs -> backprobe.jobs",
    ),
    "SQL in the shop": ("shop/__init__.py", "import sqlalchemy", "backprobe.shop -> sqlalchemy"),
}


@pytest.mark.parametrize("what", BREAKS)
def test_the_contracts_notice(what: str, copy: Path) -> None:
    name, line, named = BREAKS[what]
    path = copy / "src" / "backprobe" / name
    path.write_text(path.read_text(encoding="utf-8") + f"\n{line}\n", encoding="utf-8")
    done = lint(copy)
    assert done.returncode == 1
    assert named in done.stdout


def test_a_new_room_must_be_given_its_place(copy: Path) -> None:
    room = copy / "src" / "backprobe" / "attic"
    room.mkdir()
    (room / "__init__.py").write_text('"""A room nobody placed."""\n', encoding="utf-8")
    done = lint(copy)
    assert done.returncode == 1
    assert "backprobe.attic" in done.stdout
