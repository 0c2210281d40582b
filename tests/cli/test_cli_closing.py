"""Putting back, closing and writing up on the command line, as the page does it."""

from __future__ import annotations

from pathlib import Path

import pytest

from backprobe.cli.exits import Exit

STRAP = "engine strap"


@pytest.fixture
def opened(command, shop: Path) -> Path:
    """The demo shop with two things open on job 2."""
    for words in ("unplugged X10", "pulled F5"):
        assert command("note", "2", words, "--shop", shop).code == Exit.DONE
    return shop


def test_things_are_taken_off_the_put_back_list_one_by_one(command, opened: Path) -> None:
    assert command("put-back", "2", "--shop", opened).out == "X10 unplugged\nF5 pulled\n"
    assert command("put-back", "2", "x10", "--shop", opened).out == "F5 pulled\n"
    assert "Put back: F5 pulled\n" in command("so-far", "2", "--shop", opened).out
    said = command("put-back", "2", "F5", "pulled", "--shop", opened)
    assert said.out == "Nothing to put back.\n"
    assert command("put-back", "2", "--shop", opened, "--json").json == {
        "job": "J-0002",
        "put_back": [],
    }


def test_what_is_not_on_the_list_is_refused(command, opened: Path) -> None:
    assert command("note", "2", "unplugged X1", "--shop", opened).code != Exit.DONE
    said = command("put-back", "2", "X11", "--shop", opened)
    assert said.code == Exit.REFUSED
    assert said.err == (
        "error: 'X11' is not one thing of the put-back list of J-0002. [not-on-the-list]\n"
        "  why: Each thing is put back by itself, so that none is forgotten.\n"
        "  do:  On the list: X10 unplugged; F5 pulled.\n"
    )
    assert command("put-back", "2", "--shop", opened).out == "X10 unplugged\nF5 pulled\n"


def test_a_job_with_something_open_is_not_closed_until_it_is_said_why(
    command, opened: Path
) -> None:
    said = command("close", "2", "--cause", "strap", "--shop", opened)
    assert said.code == Exit.PROBLEMS
    assert said.err == (
        "error: Still on the put-back list: X10 unplugged, F5 pulled. [close-still-open]\n"
        "  why: The next one at the machine would not know.\n"
        "  do:  Say why it stays like this, or put it back first.\n"
    )
    assert "Not closed yet." in command("write-up", "2", "--shop", opened).out
    said = command("close", "2", "--cause", "strap", "--left", "waits for a plug", "--shop", opened)
    assert said.code == Exit.DONE
    text = command("write-up", "2", "--shop", opened).out
    assert "Not closed yet." not in text
    assert "Left as it is\n  X10 unplugged.\n  F5 pulled.\n  waits for a plug\n" in text


def test_minutes_that_are_none_close_nothing(command, shop: Path) -> None:
    said = command("close", "2", "--minutes", "an hour", "--shop", shop)
    assert said.code == Exit.PROBLEMS
    assert said.err.startswith("error: “an hour” is no number of minutes. [close-minutes]\n")
    assert "Not closed yet." in command("write-up", "2", "--shop", shop).out


def test_after_a_repair_it_closes_with_the_cause_that_was_found(command, shop: Path) -> None:
    for words in (f"looked {STRAP}: damage", f"new visit; repaired {STRAP}", "failing gone"):
        assert command("note", "2", words, "--shop", shop).code == Exit.DONE
    said = command("close", "2", "--done", "lug cleaned", "--minutes", "35", "--shop", shop)
    assert said.code == Exit.DONE
    assert said.out == (
        f"Closed J-0002. Cause: {STRAP}.\n"
        "Somebody will ask:\n"
        "No codes were noted.\n"
        "Then: backprobe write-up J-0002\n"
    )
    text = command("write-up", "2", "--shop", shop).out
    for part in (
        f"Cause\n  {STRAP}\n",
        f"Done\n  lug cleaned\n  Mended: {STRAP}.\n",
        "Proof\n  Before engine strap was mended",
        "Time\n  35 min\n",
    ):
        assert part in text
    again = command("close", "2", "--parts", "lug", "--shop", shop, "--json").json["closed"]
    kept = (again["cause"], again["done"], again["parts"])
    assert kept == (STRAP, "lug cleaned", "lug")
    assert command("write-up", "2", "--shop", shop, "--json").json["closed"] is True
