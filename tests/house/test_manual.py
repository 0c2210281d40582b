"""The manual is current: generated pages, links, the map of rooms, the words of `make help`."""

from __future__ import annotations

import re
import shutil
import statistics
import subprocess
from pathlib import Path

import make_docs
import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "src" / "backprobe"
PAGES = [*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")]


def test_the_generated_pages_are_current() -> None:
    assert [path.name for path in make_docs.stale()] == [], "run `make docs`"


def test_a_page_that_differs_is_noticed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(make_docs, "ROOT", tmp_path)
    for path, text in make_docs.stale().items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    assert make_docs.stale() == {}
    page = tmp_path / "docs" / "command-line.md"
    page.write_text(page.read_text(encoding="utf-8") + "more\n", encoding="utf-8")
    assert list(make_docs.stale()) == [page]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    links = re.findall(r"\]\(([^)#\s]+)[^)]*\)", page.read_text(encoding="utf-8"))
    local = [link for link in links if "://" not in link]
    assert [link for link in local if not (page.parent / link).exists()] == []


def test_the_map_names_every_room_and_no_other() -> None:
    table = (ROOT / "docs" / "house.md").read_text(encoding="utf-8").partition("\n## ")[0]
    named = set(re.findall(r"^\| `(\w+)/` \|", table, flags=re.MULTILINE))
    rooms = {path.parent.name for path in PACKAGE.glob("*/__init__.py")}
    assert named == rooms


def test_every_decision_is_listed() -> None:
    folder = ROOT / "docs" / "decisions"
    listed = (folder / "README.md").read_text(encoding="utf-8")
    assert [path.name for path in folder.glob("0*.md") if path.name not in listed] == []


def test_files_stay_small() -> None:
    lengths = {
        str(path.relative_to(PACKAGE)): len(path.read_text(encoding="utf-8").splitlines())
        for path in PACKAGE.rglob("*.py")
    }
    assert {name: length for name, length in lengths.items() if length > 600} == {}
    assert statistics.median(lengths.values()) < 200


@pytest.mark.skipif(shutil.which("make") is None, reason="make is not installed")
def test_make_alone_prints_its_targets() -> None:
    done = subprocess.run(["make"], cwd=ROOT, capture_output=True, text=True, check=True)
    named = set(re.findall(r"^  make (\w+)", done.stdout, flags=re.MULTILINE))
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    (phony,) = re.findall(r"^\.PHONY: (.*)$", makefile, flags=re.MULTILINE)
    assert named == set(phony.split())


def test_the_pictures_of_the_guide_are_small_and_all_of_them_are_named() -> None:
    folder = PACKAGE / "web" / "static" / "guide"
    guide = (ROOT / "docs" / "guide.md").read_text(encoding="utf-8")
    named = set(re.findall(r"/static/guide/([\w-]+\.png)\)", guide))
    assert {path.name for path in folder.iterdir()} == named
    assert {p.name: p.stat().st_size for p in folder.iterdir() if p.stat().st_size > 60_000} == {}
