"""The command line after a repair: what is proven, what is left to do."""

from __future__ import annotations

import re
from pathlib import Path

from backprobe.cli.exits import Exit


def mend(command, shop: Path) -> None:
    for words in (
        "looked engine strap: damage",
        "new visit; repaired engine strap",
        "failing gone",
    ):
        assert command("note", "2", words, "--shop", shop).code == Exit.DONE


def test_could_be_says_that_the_repair_holds_and_lists_no_suspects(command, shop: Path) -> None:
    mend(command, shop)
    said = command("could-be", "2", "--shop", shop)
    assert said.code == Exit.DONE
    proof = (
        "Proven: engine strap.\n"
        "Before engine strap was mended: engine cranks dead. Since then: gone in 1 visit.\n"
        "A fault may still be there: "
    )
    assert "The repair holds.\n" in said.out
    assert proof in said.out
    assert len(said.out.splitlines()) == 4, said.out
    whole = command("could-be", "2", "--all", "--shop", shop)
    assert proof in whole.out
    assert re.search(r"mended +still there: (under )?1 %", whole.out)
    assert command("could-be", "2", "--shop", shop, "--json").json["state"] == "proven"


def test_so_far_and_check_next_say_so_too(command, shop: Path) -> None:
    assert command("so-far", "2", "--shop", shop, "--json").json["proof"] is None
    mend(command, shop)
    assert "Proven: engine strap.\n" in command("so-far", "2", "--shop", shop).out
    assert command("so-far", "2", "--shop", shop, "--json").json["proof"]["holds"] is True
    said = command("check-next", "2", "--shop", shop).out
    assert said.startswith("The repair holds. ")
    assert "Put everything back, clear the codes, write it up" in said
    assert "Then: backprobe answer" not in said
