"""`backprobe answer JOB cannot`: kept in the job, honoured, taken back."""

from __future__ import annotations

from pathlib import Path

from backprobe.cli.exits import Exit


def test_a_check_that_cannot_be_done_is_kept_and_taken_back(command, shop: Path) -> None:
    def first() -> str:
        return command("check-next", "2", "--shop", shop, "--json").json["next"][0]["check"]["id"]

    asked = first()
    said = command("answer", "2", "cannot", "--shop", shop)
    assert said.code == Exit.DONE
    assert said.out.startswith("f6  cannot be done here: ")
    offered = command("check-next", "2", "--shop", shop, "--json").json["next"]
    assert asked not in [offer["check"]["id"] for offer in offered]
    assert command("note", "2", "undo f6", "--shop", shop).code == Exit.DONE
    assert first() == asked
