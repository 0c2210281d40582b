"""`backprobe where`: places, the way to range them, and what is refused."""

from __future__ import annotations

from pathlib import Path

from backprobe.cli.exits import Exit

TAIL = ", key on, F4 pulled, metering valve unplugged, lamp 55 W from F4.1 to F4.2"


def test_where_says_place_and_way(command, shop: Path) -> None:
    command("start", "tracked-dumper", "fuse F4 blows", "--shop", shop)
    command("note", "4", "fuse F4 blown", "--shop", shop)
    command("note", "4", f"millivolts X10.1b to metering valve.1 20{TAIL}", "--shop", shop)
    said = command("where", "4", "--how", "--shop", shop)
    assert said.code == Exit.DONE
    assert "wire 29b (F4 to X10), wire 29c (X10 to metering valve):" in said.out
    assert "look first" in said.out
    assert "bonnet stay" in said.out
    assert "Ranged by f2." in said.out
    order = [
        said.out.index(one) for one in ("Pull F4.", "  ! The lamp gets hot", "Put a 55 W lamp")
    ]
    assert order == sorted(order)
    assert "83 mV" in said.out
    found = command("where", "4", "--json", "--shop", shop).json
    assert found["used"] == ["f2"]
    assert len(found["at_m"]) == len(found["chances"])
    assert abs(sum(found["chances"]) - 1.0) < 1e-9
    assert found["within"]["chance"] >= 0.8


def test_where_refuses_a_wire_the_book_lacks(command, shop: Path) -> None:
    said = command("where", "1", "--wire", "999z", "--shop", shop)
    assert said.code == Exit.REFUSED
    assert said.err == (
        "error: The book has no wire '999z'. [place-not-found]\n"
        "  why: A place along the loom is a place along one of its wires.\n"
        "  do:  Type the wire's name as the book prints it.\n"
    )
