"""Codes counted off a lamp, on the command line."""

from __future__ import annotations

from pathlib import Path

from backprobe.cli.exits import Exit
from cli.conftest import Command


def test_blinks_are_noted_as_the_code_they_stand_for_or_refused(
    command: Command, tmp_path: Path
) -> None:
    shop = tmp_path / "s.backprobe"
    command("start", "tracked-dumper", "no power", "--shop", shop)
    refused = command("note", "1", "codes ECU blinks 9-9", "--shop", shop)
    assert refused.code == Exit.PROBLEMS
    assert "The book has no code of ECU that blinks 9-9. [say-unknown-blinks]" in refused.err
    assert "2-1 (157/4)" in refused.err
    noted = command("note", "1", "codes ECU blinks 2-1 stored 5-1", "--shop", shop)
    assert noted.code == Exit.DONE, noted.err
    (found,) = command("so-far", "1", "--shop", shop, "--json").json["findings"]
    assert "codes ECU 157/4 stored 168/4" in str(found)
