"""Putting back, closing and writing up on the command line, as the page does it."""

from __future__ import annotations

from pathlib import Path

import pytest

from backprobe.cli.exits import Exit
from backprobe.findings.model import CodesFound, Failing
from backprobe.shop.demo import book_text
from backprobe.shop.workshop import Shop

SENDER = "oil pressure sender"
OPEN = f"{SENDER} unplugged"


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A shop with one job on a small book, soon thought about."""
    path = tmp_path / "small.backprobe"
    made = Shop.open(path, clock=lambda: 1_700_000_000.0)
    made.add_book("tractor", book_text("unplugged-sensor"))
    found = (CodesFound(unit="engine unit", active=("100/4",)), Failing(answer="yes"))
    made.start_job("tractor", "oil lamp on", findings=found)
    made.close()
    return path


@pytest.fixture
def opened(command, shop: Path) -> Path:
    """The same with two things open."""
    for words in (f"unplugged {SENDER}", "pulled F1"):
        assert command("note", "1", words, "--shop", shop).code == Exit.DONE
    return shop


def test_things_are_taken_off_the_put_back_list_one_by_one(command, opened: Path) -> None:
    assert command("put-back", "1", "--shop", opened).out == f"{OPEN}\nF1 pulled\n"
    assert command("put-back", "1", "OIL pressure", "--shop", opened).out == "F1 pulled\n"
    assert "Put back: F1 pulled\n" in command("so-far", "1", "--shop", opened).out
    said = command("put-back", "1", "F1", "pulled", "--shop", opened)
    assert said.out == "Nothing to put back.\n"
    assert command("put-back", "1", "--shop", opened, "--json").json == {
        "job": "J-0001",
        "put_back": [],
    }


def test_what_is_not_on_the_list_is_refused(command, opened: Path) -> None:
    said = command("put-back", "1", "X11", "--shop", opened)
    assert said.code == Exit.REFUSED
    assert said.err == (
        "error: 'X11' is not one thing of the put-back list of J-0001. [not-on-the-list]\n"
        "  why: Each thing is put back by itself, so that none is forgotten.\n"
        f"  do:  On the list: {OPEN}; F1 pulled.\n"
    )
    assert command("put-back", "1", "--shop", opened).out == f"{OPEN}\nF1 pulled\n"


def test_a_job_with_something_open_is_not_closed_until_it_is_said_why(
    command, opened: Path
) -> None:
    said = command("close", "1", "--cause", "sender", "--shop", opened)
    assert said.code == Exit.PROBLEMS
    assert said.err == (
        f"error: Still on the put-back list: {OPEN}, F1 pulled. [close-still-open]\n"
        "  why: The next one at the machine would not know.\n"
        "  do:  Say why it stays like this, or put it back first.\n"
    )
    assert "Not closed yet." in command("write-up", "1", "--shop", opened).out
    said = command(
        "close", "1", "--cause", "sender", "--left", "waits for a plug", "--shop", opened
    )
    assert said.code == Exit.DONE
    assert "Somebody will ask:\nNo repair is noted.\n" in said.out
    text = command("write-up", "1", "--shop", opened).out
    assert "Not closed yet." not in text
    assert f"Left as it is\n  {OPEN}.\n  F1 pulled.\n  waits for a plug\n" in text


def test_minutes_that_are_none_close_nothing(command, shop: Path) -> None:
    said = command("close", "1", "--minutes", "an hour", "--shop", shop)
    assert said.code == Exit.PROBLEMS
    assert said.err.startswith("error: “an hour” is no number of minutes. [close-minutes]\n")
    assert "Not closed yet." in command("write-up", "1", "--shop", shop).out


def test_after_a_repair_it_closes_with_the_cause_that_was_found(command, shop: Path) -> None:
    # A bad pin of its plug, or a wire, that comes and goes may be away for one visit.
    again = "new visit; failing gone"
    for words in (f"new visit; repaired {SENDER}", "codes engine unit none", "failing gone", again):
        assert command("note", "1", words, "--shop", shop).code == Exit.DONE
    said = command("close", "1", "--done", "sender renewed", "--minutes", "35", "--shop", shop)
    assert said.code == Exit.DONE
    assert said.out == (f"Closed J-0001. Cause: {SENDER}.\nThen: backprobe write-up J-0001\n")
    text = command("write-up", "1", "--shop", shop).out
    for part in (
        f"Cause\n  {SENDER}\n",
        f"Done\n  sender renewed\n  Mended: {SENDER}.\n",
        f"Proof\n  Before {SENDER} was mended",
        "Time\n  35 min\n",
    ):
        assert part in text
    again = command("close", "1", "--parts", "sender", "--shop", shop, "--json").json["closed"]
    kept = (again["cause"], again["done"], again["parts"])
    assert kept == (SENDER, "sender renewed", "sender")
    assert command("write-up", "1", "--shop", shop, "--json").json["closed"] is True
