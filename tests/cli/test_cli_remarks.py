"""What `note` and `answer` say of a reading that cannot tell."""

from __future__ import annotations

from pathlib import Path

from backprobe.cli.exits import Exit


def test_note_names_the_loaded_reading(command, shop: Path) -> None:
    said = command("note", "2", "volts engine 0.0, key off", "--shop", shop)
    assert said.code == Exit.DONE
    lines = " ".join(said.out.split())
    assert lines.startswith("f6 volts engine 0.0 V, key off f6 ! It cannot tell: ")
    assert lines.endswith("Read it under load: volts at bare metal of the engine, cranking.")
    (noted,) = command("note", "2", "volts engine 0.0, key off", "--shop", shop, "--json").json
    assert noted["remark"].startswith("It cannot tell: ")
