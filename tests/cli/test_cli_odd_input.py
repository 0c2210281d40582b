"""What a hurried hand or an old console types, and files that do not play along."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from backprobe.cli.exits import Exit

BOOK = "machine m, 12 V\nbattery: battery 12 V\nF1: fuse 10 A\nbattery.+>F1>work light\n"
NAME = (
    "error: A wiring book cannot be called {name!r}. [book-name]\n"
    "  why: It is found and started on by its name; those of the demo are taken.\n"
    "  do:  Give it a name of at most 60 letters, without / and \\, and none of the demo's: "
    "tracked-dumper, generic, unplugged-sensor.\n"
)


@pytest.fixture
def book(tmp_path: Path) -> Path:
    file = tmp_path / "Digger.book"
    file.write_text(BOOK, encoding="utf-8")
    return file


def test_bytes_of_an_old_console_are_letters(command, shop: Path) -> None:
    words = (b"f\xe4hrt nicht".decode("utf-8", "surrogateescape"), "lone \ud800")
    assert command("start", "generic", *words, "--shop", shop).code == Exit.DONE
    assert (
        command("jobs", "--shop", shop, "--json").json[-1]["complaint"] == "fährt nicht lone \ufffd"
    )


@pytest.mark.parametrize("name", ["a/b", "..", "generic", "two\tlines\x1b[1m", "x" * 61])
def test_error_a_name_no_page_could_find(command, book: Path, shop: Path, name: str) -> None:
    before = command("books", "--shop", shop).out
    said = command("keep", book, "--name", name, "--shop", shop)
    shown = " ".join(name.split())
    assert (said.code, said.err) == (Exit.PROBLEMS, NAME.format(name=shown[:60]))
    assert command("books", "--shop", shop).out == before


def test_error_a_file_called_like_a_demo_book(command, tmp_path: Path, shop: Path) -> None:
    file = tmp_path / "generic.book"
    file.write_text(BOOK, encoding="utf-8")
    said = command("start", file, "dead", "--shop", shop)
    assert (said.code, said.err) == (Exit.PROBLEMS, NAME.format(name="generic"))


def test_capitals_and_blanks_of_a_name_do_not_count(command, book: Path, shop: Path) -> None:
    for name in ("", "  ", " digger ", "DIGGER"):
        assert command("keep", book, "--name", name, "--shop", shop).out.endswith(
            "Digger is kept.\n"
        )


@pytest.mark.parametrize("hours", ["nan", "inf", "-5", "1e400", "200001", "12 V", "?"])
def test_error_hours_that_no_meter_shows(
    command, shop: Path, capsys: pytest.CaptureFixture[str], hours: str
) -> None:
    with pytest.raises(SystemExit) as ended:
        command("start", "generic", "dead", f"--hours={hours}", "--shop", shop)
    assert ended.value.code == Exit.USAGE
    assert f"argument --hours: {hours!r} is no number from 0 to 200000\n" in capsys.readouterr().err


def test_hours_take_a_comma(command, shop: Path) -> None:
    command("start", "generic", "dead", "--hours", "1312,5", "--shop", shop)
    assert command("jobs", "--shop", shop, "--json").json[-1]["hours"] == 1312.5
    said = command("so-far", "4", "--shop", shop).out
    assert said.splitlines()[0].endswith("any diesel machine, 1312.5 h, book generic")


def test_error_a_loom_as_warm_as_no_loom(
    command, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        command("where", "1", "--celsius", "nan", "--shop", shop)
    assert "argument --celsius: 'nan' is no number from -60 to 150\n" in capsys.readouterr().err


@pytest.mark.parametrize("address", ["", "0", "0.0.0.0"])
def test_error_sharing_with_every_network(command, shop: Path, address: str) -> None:
    said = command("serve", "--port", "0", "--share", address, "--shop", shop)
    assert said.code == Exit.REFUSED
    assert said.err == (
        f"error: {address or 'Nothing'} is not an address of this computer. [address-not-here]\n"
        "  why: Phones can only be let in by an address this computer has in their network.\n"
        "  do:  Say --share alone, or give the address the network settings show.\n"
    )


@pytest.mark.parametrize("number", ["1" * 5000, "J-" + "9" * 5000])
def test_error_a_number_without_end(command, shop: Path, number: str) -> None:
    said = command("so-far", number, "--shop", shop)
    assert said.code == Exit.REFUSED
    assert said.err.startswith(f"error: there is no job {number} in {shop} [job-unknown]\n")


def test_error_a_source_without_end(command, shop: Path, tmp_path: Path) -> None:
    recording = tmp_path / "one.log"
    recording.write_text("(1.0) can0 18FECA00#04FF9D000403FFFF\n", encoding="utf-8")
    unit = "9" * 5000 + "=ECU"
    said = command("recording", recording, "--job", "1", "--unit", unit, "--shop", shop)
    assert said.code == Exit.REFUSED
    assert said.err.startswith(
        f"error: --unit {unit} does not name a source and a unit. [unit-not-known]"
    )


def test_error_a_reading_for_a_step_that_asks_for_none(command, tmp_path: Path) -> None:
    """A machine of one part that cannot be mended here: nothing is left but to stop."""
    book, shop = tmp_path / "one.book", tmp_path / "one.backprobe"
    book.write_text("machine m, 12 V\nx: resistor 1 ohm\n", encoding="utf-8")
    command("start", book, "dead", "--shop", shop)
    assert command("answer", "1", "cannot", "--shop", shop).code == Exit.DONE
    stop = command("check-next", "1", "--shop", shop, "--json").json["next"][0]["check"]
    assert stop["does"] == "stop"
    for words in ("4.9", "passes"):
        said = command("answer", "1", words, "--shop", shop)
        assert (said.code, said.err) == (
            Exit.REFUSED,
            (
                f"error: {words!r} does not answer: {stop['words']} [answer-does-not-fit]\n"
                "  why: Each check has its own outcomes; another word could be taken for the wrong one.\n"
                "  do:  Answer with 'cannot', when it cannot be done here. Anything else that was "
                "found: backprobe note JOB WORDS\n"
            ),
        )


def test_a_full_disk_leaves_a_book_that_is_tidied_whole(
    command, book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as disk:
        disk.setattr(os, "fsync", full)
        said = command("tidy", "--write", book)
    assert (said.code, said.err) == (
        Exit.REFUSED,
        (
            f"error: The file {book} cannot be written: no space left on device. [file-unwritable]\n"
            "  why: It or its folder is read-only, or the disk is full; it holds the old text still.\n"
            "  do:  Allow writing to it, or print the text and save it elsewhere.\n"
        ),
    )
    assert book.read_text(encoding="utf-8") == BOOK
    assert [one.name for one in book.parent.iterdir()] == [book.name]
    assert command("tidy", "--write", book).code == Exit.DONE
    assert "battery.+ > F1 > work light" in book.read_text(encoding="utf-8")
