"""Jobs on the command line: start, note, so-far, jobs, and what is refused."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest

from backprobe.cli.exits import Exit

REFUSED_JOB = (
    "error: there is no job J-0042 in {shop} [job-unknown]\n"
    "  why: the number is mistyped, or the job was written into another store\n"
    "  do:  list the jobs and take the number from there\n"
)


def test_start_prints_the_number_and_keeps_what_is_known(command, shop: Path) -> None:
    said = command(
        "start", "tracked-dumper", "no", "power", "--serial", "4411-7", "--hours", "12", "--shop", shop
    )  # fmt: skip
    assert said.code == Exit.DONE
    assert said.out.splitlines()[0] == "J-0004"
    row = command("jobs", "--shop", shop, "--json").json[-1]
    assert (row["id"], row["complaint"], row["serial"], row["hours"]) == (
        "J-0004", "no power", "4411-7", 12.0,
    )  # fmt: skip


def test_start_takes_a_demo_book_or_a_file_into_an_empty_shop(command, tmp_path: Path) -> None:
    shop = tmp_path / "new.backprobe"
    assert command("start", "generic", "dead", "--shop", shop).code == Exit.DONE
    book = tmp_path / "mine.book"
    book.write_text("machine mine, 12 V\nbattery: battery 12 V\n", encoding="utf-8")
    assert command("start", book, "dead", "--shop", shop, "--json").json["book"] == "mine"
    assert [b["book"] for b in command("books", "--shop", shop, "--json").json] == [
        "generic", "mine",
    ]  # fmt: skip


def test_error_start_with_an_unknown_book(command, tmp_path: Path) -> None:
    said = command("start", "digger", "dead", "--shop", tmp_path / "new.backprobe")
    assert said.code == Exit.REFUSED
    assert said.err == (
        "error: There is no wiring book 'digger'. [book-not-found]\n"
        "  why: It is no file here, none of the shop's books, and none of the demo's.\n"
        "  do:  The shop keeps: none yet. The demo has: tracked-dumper, generic, "
        "unplugged-sensor. Or give the name of a file.\n"
    )


def test_note_tells_how_it_was_understood(command, shop: Path) -> None:
    said = command("note", "3", "fuse", "f5", "looks", "good", "--shop", shop)
    assert (said.code, said.out) == (
        Exit.DONE,
        "f6  fuse F5 looks good, key on, engine stopped\n",
    )


def test_a_figure_below_zero_is_no_option(command, shop: Path) -> None:
    said = command(
        "note", "3", "volts", "engine", "to", "frame", "-0.2,", "key", "on", "--shop", shop
    )
    assert said.out == "f6  volts engine to frame -0.2 V, key on, engine stopped\n"


def test_note_refuses_in_full_and_keeps_nothing(command, shop: Path) -> None:
    said = command("note", "J-0003", "fuse F55 blown", "--shop", shop)
    assert said.code == Exit.PROBLEMS
    assert said.err == (
        "typed:1:6: error: The book has no fuse 'F55'. [say-unknown-name]\n"
        "    fuse F55 blown\n"
        "         ^^^\n"
        "  why: A finding on the wrong place would clear or accuse the wrong thing.\n"
        "  do:  Type the name as the book prints it. Did you mean F5?\n"
    )
    assert len(command("so-far", "3", "--shop", shop, "--json").json["findings"]) == 5


def test_so_far_tells_findings_situation_and_put_back_list(command, shop: Path) -> None:
    command("note", "3", "unplugged X4; pulled F5", "--shop", shop)
    said = command("so-far", "j-3", "--shop", shop)
    assert said.code == Exit.DONE
    assert "f7" in said.out
    assert "Put back: X4 unplugged; F5 pulled" in said.out
    result = command("so-far", "3", "--shop", shop, "--json").json
    assert result["put_back"] == ["X4 unplugged", "F5 pulled"]
    assert result["findings"][-1]["type"] == "act"
    assert result["findings"][-1]["words"].startswith("pulled F5, ")


def test_so_far_names_events_it_cannot_read_and_gives_3(command, shop: Path) -> None:
    with sqlite3.connect(shop) as database:
        database.execute(
            "UPDATE events SET body = ? WHERE job = 3 AND number = 1",
            (json.dumps({"type": "from the future"}),),
        )
    said = command("so-far", "3", "--shop", shop)
    assert said.code == Exit.PROBLEMS
    assert "[finding-unreadable]" in said.err
    assert "f2" in said.out


@pytest.mark.parametrize("verb", ["so-far", "could-be", "check-next"])
def test_error_no_such_job(command, shop: Path, verb: str) -> None:
    said = command(verb, "42", "--shop", shop)
    assert (said.code, said.err) == (Exit.REFUSED, REFUSED_JOB.format(shop=shop))


def test_error_note_on_no_such_job(command, shop: Path) -> None:
    said = command("note", "42", "fuse F5 blown", "--shop", shop)
    assert (said.code, said.err) == (Exit.REFUSED, REFUSED_JOB.format(shop=shop))


def test_error_a_foreign_file_is_left_alone(command, tmp_path: Path) -> None:
    foreign = tmp_path / "letter.txt"
    foreign.write_text("Dear Sir, " * 100, encoding="utf-8")
    said = command("jobs", "--shop", foreign)
    assert said.code == Exit.REFUSED
    assert said.err == (
        f"error: {foreign} is not a database, not a Backprobe store [store-foreign]\n"
        "  why: writing jobs into it would damage it; it was left as it is\n"
        "  do:  give the name of a store, or a new name to start one\n"
    )
    assert foreign.read_text(encoding="utf-8") == "Dear Sir, " * 100


def test_without_shop_the_users_own_folder_is_used(
    command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "data" / "backprobe" / "shop.backprobe"
    monkeypatch.setattr("backprobe.cli.common.usual_place", lambda: file)
    assert command("jobs").out == "No jobs yet.\n"
    assert file.is_file()
    assert command("books").out == "No wiring books yet.\n"


def test_error_the_users_folder_cannot_be_made(
    command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "data").write_text("a file", encoding="utf-8")
    file = tmp_path / "data" / "backprobe" / "shop.backprobe"
    monkeypatch.setattr("backprobe.cli.common.usual_place", lambda: file)
    said = command("jobs")
    assert said.code == Exit.REFUSED
    assert said.err == (
        f"error: The folder {file.parent} cannot be made: not a directory. [no-data-folder]\n"
        "  why: The shop's books and jobs are kept in a file there.\n"
        "  do:  Name a file of your own: --shop FILE\n"
    )
