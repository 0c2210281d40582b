"""A skip is counted with its reason; with CI=true it is a failure."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

CONFTEST = Path(__file__).parents[1] / "conftest.py"
INNER = """
import pytest

def test_runs():
    assert True

def test_needs_something_absent():
    pytest.skip("the thing is not installed")

@pytest.mark.xfail(reason="known", strict=True)
def test_known():
    assert False
"""


def run(folder: Path, *, ci: str) -> subprocess.CompletedProcess[str]:
    shutil.copy(CONFTEST, folder)
    (folder / "test_inner.py").write_text(INNER, encoding="utf-8")
    (folder / "pytest.ini").write_text("[pytest]\n", encoding="utf-8")
    return subprocess.run(
        [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", str(folder)],
        cwd=folder,
        env={**os.environ, "CI": ci, "COLUMNS": "200"},
        capture_output=True,
        text=True,
        check=False,
    )


def test_a_skip_is_counted_with_its_reason(tmp_path: Path) -> None:
    done = run(tmp_path, ci="")
    assert done.returncode == pytest.ExitCode.OK, done.stdout
    assert "not tested here: 1 (1 x the thing is not installed)" in done.stdout
    assert "1 passed, 1 skipped, 1 xfailed" in done.stdout.splitlines()[-1]


def test_in_ci_a_skip_fails_the_run(tmp_path: Path) -> None:
    done = run(tmp_path, ci="true")
    assert done.returncode == pytest.ExitCode.TESTS_FAILED
    assert "with CI=true nothing may be skipped. the thing is not installed" in done.stdout
    assert "1 failed, 1 passed, 1 xfailed" in done.stdout.splitlines()[-1]


def test_in_ci_a_whole_file_left_out_fails_the_run(tmp_path: Path) -> None:
    (tmp_path / "test_left_out.py").write_text(
        "import pytest\npytest.importorskip('no_such_thing')\n", encoding="utf-8"
    )
    done = run(tmp_path, ci="true")
    assert done.returncode == pytest.ExitCode.INTERRUPTED
    assert "no_such_thing" in done.stdout
    assert "1 error" in done.stdout.splitlines()[-1]
