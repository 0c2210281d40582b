"""`backprobe --help` is quick and says what there is; a wrong line is answered in full."""

from __future__ import annotations

import subprocess
import sys
import time
from importlib import import_module

import pytest

from backprobe.base.version import VERSION
from backprobe.cli.__main__ import main
from backprobe.cli.exits import Exit
from backprobe.cli.verbs import VERBS

HEAVY = {"numpy", "scipy", "sqlalchemy", "starlette", "uvicorn", "jinja2", "can", "sqlite3"}


def test_help_takes_less_than_a_third_of_a_second() -> None:
    def seconds() -> float:
        start = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "backprobe.cli", "--help"], check=True, capture_output=True
        )
        return time.perf_counter() - start

    # The best of several: the least disturbed by whatever else the machine is doing.
    assert min(seconds() for _ in range(5)) < 0.3


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\nfrom backprobe.cli.__main__ import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "print('LOADED', *sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    loaded = set(done.stdout.rpartition("LOADED")[2].split())
    assert "backprobe.cli.__main__" in loaded
    assert not loaded & HEAVY


def test_help_names_every_verb_and_every_exit_code(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["--help"])
    said = " ".join(capsys.readouterr().out.split())
    assert left.value.code == Exit.DONE
    assert all(verb.name in said for verb in VERBS)
    assert all(f"{code.value} {code.meaning}" in said for code in Exit)


def test_every_verb_has_its_module_and_help(capsys: pytest.CaptureFixture[str]) -> None:
    for verb in VERBS:
        module = import_module(verb.module)
        assert callable(module.arguments)
        assert callable(module.run)
        with pytest.raises(SystemExit) as left:
            main([verb.name, "--help"])
        assert left.value.code == Exit.DONE
        assert " ".join(verb.words.split()) in " ".join(capsys.readouterr().out.split())


def test_no_verb_at_all_shows_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == Exit.USAGE
    assert capsys.readouterr().out.startswith("usage: backprobe ")


def test_error_unknown_verb_names_it(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["mendit"])
    assert left.value.code == Exit.USAGE
    assert "'mendit'" in capsys.readouterr().err


def test_version_is_the_package_s_own(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--version"])
    assert capsys.readouterr().out == f"backprobe {VERSION}\n"
