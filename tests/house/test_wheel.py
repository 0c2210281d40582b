"""The wheel installs and runs without the repository, and holds everything the package needs."""

from __future__ import annotations

import socket
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path
from urllib.request import urlopen

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "src" / "backprobe"

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built offline by the build tools of the test environment."""
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [
            *(sys.executable, "-m", "pip", "--quiet", "wheel", "--no-deps"),
            *("--no-build-isolation", "--wheel-dir", str(folder), str(ROOT)),
        ],
        check=True,
        capture_output=True,
    )
    (built,) = folder.glob("backprobe-*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The scripts folder of a fresh environment with the wheel in it.

    The dependencies are lent by the test environment through a path file, which does not pass
    on that environment's own link to the repository.
    """
    home = tmp_path_factory.mktemp("laptop")
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(home)], check=True)
    scheme = sysconfig.get_preferred_scheme("prefix")
    paths = sysconfig.get_paths(
        "venv" if "venv" in sysconfig.get_scheme_names() else scheme,
        vars={"base": str(home), "platbase": str(home)},
    )
    python = Path(paths["scripts"]) / Path(sys.executable).name
    subprocess.run(
        [
            *(sys.executable, "-m", "pip", "--quiet", "--python", str(python)),
            *("install", "--no-deps", str(wheel)),
        ],
        check=True,
        capture_output=True,
    )
    lent = "\n".join({sysconfig.get_path("purelib"), sysconfig.get_path("platlib")})
    (Path(paths["purelib"]) / "lent.pth").write_text(f"{lent}\n", encoding="utf-8")
    return Path(paths["scripts"])


def test_every_file_of_the_package_is_in_the_wheel(wheel: Path) -> None:
    held = set(zipfile.ZipFile(wheel).namelist())
    files = {
        path.relative_to(PACKAGE.parent).as_posix()
        for path in PACKAGE.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts and path.suffix != ".pyc"
    }
    assert "backprobe/py.typed" in files
    assert files - held == set()


def test_the_wheel_holds_the_licence_and_nothing_foreign(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert any(name.endswith("licenses/LICENSE") for name in names)
    tops = {name.split("/", 1)[0] for name in names}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"backprobe"}


def test_the_command_runs_without_the_repository(installed: Path, tmp_path: Path) -> None:
    done = subprocess.run(
        [str(installed / "backprobe"), "--version"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.startswith("backprobe 0.")


def test_the_package_is_imported_from_the_wheel(installed: Path, tmp_path: Path) -> None:
    code = "import backprobe, numpy; print(backprobe.__file__)"
    done = subprocess.run(
        [str(installed / Path(sys.executable).name), "-c", code],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    assert Path(done.stdout.strip()).is_relative_to(installed.parent)


def test_the_demo_serves_without_the_repository(installed: Path, tmp_path: Path) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    serving = subprocess.Popen(
        [str(installed / "backprobe"), "demo", "--port", str(port)],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert serving.stdout is not None
        assert f"127.0.0.1:{port}" in serving.stdout.readline()
        with urlopen(f"http://127.0.0.1:{port}/", timeout=30) as answer:
            assert answer.status == 200
            assert b"tracked dumper" in answer.read()
    finally:
        serving.terminate()
        serving.communicate(timeout=20)
