"""Where the shop's file is kept by default, on each system."""

from __future__ import annotations

from pathlib import Path

import pytest

from backprobe.shop.place import usual_place

HOME = Path("/people/jo")


@pytest.mark.parametrize(
    ("platform", "env", "expected"),
    [
        ("win32", {"LOCALAPPDATA": "/c/Local"}, Path("/c/Local/backprobe/shop.backprobe")),
        ("win32", {}, HOME / "AppData/Local/backprobe/shop.backprobe"),
        ("darwin", {}, HOME / "Library/Application Support/backprobe/shop.backprobe"),
        ("linux", {}, HOME / ".local/share/backprobe/shop.backprobe"),
        ("linux", {"XDG_DATA_HOME": "/data"}, Path("/data/backprobe/shop.backprobe")),
        # XDG Base Directory Specification 0.8: relative paths are invalid and to be ignored
        ("linux", {"XDG_DATA_HOME": "data"}, HOME / ".local/share/backprobe/shop.backprobe"),
    ],
)
def test_it_follows_the_habit_of_the_system(
    platform: str, env: dict[str, str], expected: Path
) -> None:
    assert usual_place(env, platform, HOME) == expected
