"""Wiring books on the command line: proofread, tidy, keep, books, can-break, expect."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from backprobe.cli.exits import Exit
from backprobe.shop.demo import book_text

SMALL = """machine press, 12 V
battery: battery 12 V
G1: ground stud, on frame
battery.- > G1, 35 mm2, BK, wire 2
battery.+ > F1 > lamp > G1, 1.0 mm2, RD, wire 3 / 4 / 5
F1: fuse 5 A
lamp: lamp 21 W
"""


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "press.book"
    path.write_text(SMALL, encoding="utf-8")
    return path


@pytest.fixture
def broken(tmp_path: Path) -> Path:
    path = tmp_path / "broken.book"
    path.write_text(SMALL.replace("F1: fuse 5 A", "F1: fuze 5 A"), encoding="utf-8")
    return path


def test_proofread_says_what_is_in_a_book_and_what_was_assumed(command, small: Path) -> None:
    said = command("proofread", small)
    assert said.code == Exit.DONE
    assert "press.book: press, " in said.out
    assert "Assumed, because nobody typed it:" in said.out


def test_proofread_as_json_lists_the_same(command, small: Path) -> None:
    result = command("proofread", small, "--json").json
    assert result["usable"] is True
    assert result["counts"]["error"] == 0
    assert all({"about", "what", "because"} <= set(a) for a in result["assumptions"])


def test_a_book_with_errors_gives_3_and_names_the_line(command, broken: Path) -> None:
    said = command("proofread", broken)
    assert said.code == Exit.PROBLEMS
    assert "broken.book:6:" in said.out
    assert said.out.rstrip().splitlines()[-1].startswith("broken.book cannot be used yet: ")
    assert command("proofread", broken, "--json").json["usable"] is False


def test_error_no_such_file(command, tmp_path: Path) -> None:
    said = command("proofread", tmp_path / "none.book")
    assert said.code == Exit.REFUSED
    assert said.err == (
        f"error: The file {tmp_path / 'none.book'} cannot be read: no such file or directory. "
        "[file-unreadable]\n"
        "  why: Nothing was read from it.\n"
        "  do:  Check the name and the folder.\n"
    )


def test_errors_as_json_come_on_the_same_stream(command, tmp_path: Path) -> None:
    said = command("proofread", tmp_path / "none.book", "--json")
    assert said.code == Exit.REFUSED
    assert said.err == ""
    assert [p["slug"] for p in said.json["problems"]] == ["file-unreadable"]


def test_tidy_prints_and_writes_the_canonical_text(command, small: Path) -> None:
    small.write_text(SMALL.replace("F1: fuse 5 A", "F1:   fuse   5A"), encoding="utf-8")
    assert command("tidy", small).out == SMALL
    assert command("tidy", small, "--write").out == "press.book: written in its tidy spelling.\n"
    assert small.read_bytes() == SMALL.encode()
    assert command("tidy", small, "--write").out == "press.book: tidy already.\n"


def test_tidy_leaves_a_book_with_errors_alone(command, broken: Path) -> None:
    before = broken.read_bytes()
    assert command("tidy", broken, "--write").code == Exit.PROBLEMS
    assert broken.read_bytes() == before


def test_keep_and_books(command, small: Path, shop: Path) -> None:
    said = command("keep", small, "--shop", shop)
    assert (said.code, said.out.splitlines()[-1]) == (Exit.DONE, "press is kept.")
    names = [book["book"] for book in command("books", "--shop", shop, "--json").json]
    assert names == ["tracked-dumper", "generic", "unplugged-sensor", "press"]
    assert "press" in command("books", "--shop", shop).out


def test_keep_refuses_a_book_with_errors(command, broken: Path, shop: Path) -> None:
    assert command("keep", broken, "--shop", shop).code == Exit.PROBLEMS
    assert "broken" not in command("books", "--shop", shop).out


def test_can_break_lists_the_defects_of_a_place(command) -> None:
    said = command("can-break", "wire", "41a", "--book", "tracked-dumper")
    assert said.code == Exit.DONE
    assert "rubbed through to ground at the hinge pin" in " ".join(said.out.split())
    rows = command("can-break", "41a", "--book", "tracked-dumper", "--json").json
    assert all(row["defect"] in said.out for row in rows)
    assert "wire 41a/to ground/hinge" in {row["defect"] for row in rows}


def test_can_break_says_what_a_defect_does_beyond_readings(command) -> None:
    """A fuse that opens and how soon, a wire that overheats, a defect that no reading tells."""
    rows = command("can-break", "K3", "--book", "tracked-dumper", "--json").json
    does = {row["defect"]: row["does"] for row in rows}
    assert "wire 1a overheats: " in does["K3/stuck closed"]
    assert does["plug K3/off"] == ""
    short = command("can-break", "wire 31a", "--book", "tracked-dumper", "--json").json
    does = {row["defect"]: row["does"] for row in short}
    first, _, rest = does["wire 31a/to ground/run"].partition("; ")
    assert first == "F5 opens at once"
    assert rest.startswith("no effect on any reading at 300 ohm, 5 kohm (at most ")


def test_expect_says_what_a_defect_does_beyond_the_reading(command) -> None:
    words = ("expect", "volts", "F5.2,", "key", "on", "--book", "tracked-dumper")
    rows = command(*words, "--with", "wire 31a/to ground/run", "--json").json
    assert rows[0]["does"] == ""
    assert rows[1]["does"] == "F5 opens at once"
    assert rows[-1]["does"].startswith("no effect on any reading (")


def test_error_can_break_offers_the_nearest_name(command) -> None:
    said = command("can-break", "rail senser", "--book", "tracked-dumper")
    assert said.code == Exit.REFUSED
    assert said.err == (
        "error: The book has no part, wire or loom section 'rail senser'. [place-not-found]\n"
        "  why: Defects sit on what the book names.\n"
        "  do:  Type the name as the book prints it. Did you mean rail sensor, rail sensor lead, "
        "crank sensor?\n"
    )


def test_expect_gives_healthy_and_each_severity_of_a_defect(command) -> None:
    words = ("expect", "volts", "X10.3,", "key", "on", "--book", "tracked-dumper")
    said = command(*words, "--with", "wire 41a/to ground/hinge")
    assert said.code == Exit.DONE
    assert said.out.startswith("key on, engine stopped\n")
    rows = command(*words, "--with", "wire 41a/to ground/hinge", "--json").json
    assert rows[0]["defect"] == "nothing wrong with the circuit"
    # the supply of the group is typed as 5 V in the book
    assert rows[0]["value"] == pytest.approx(5.0, abs=0.05)
    # a dead short leaves the group's 100 mA times what is left of the wire: far below 1 V
    assert rows[1]["value"] < 0.1
    assert len(rows) > 3


def test_expect_gives_a_usual_meter_its_error(command) -> None:
    """Two terminators of 120 ohm read 60 give or take what a handheld ohmmeter and its leads are off by,
    and a length of wire next to nothing: neither is right to a tenth of an ohm."""
    bus = command("expect", "ohms display.3 to display.4, battery off", "--book", "tracked-dumper")
    low, give = (float(n) for n in re.findall(r"([\d.]+) ohm", bus.out)[:2])
    assert low == pytest.approx(60.0, abs=1.5)
    assert 2.0 < give < 12.0
    wire = "ohms X10.3b to rail sensor.3, battery off, X10 unplugged, rail sensor unplugged"
    rows = command("expect", wire, "--book", "tracked-dumper", "--json").json
    assert rows[0]["value"] < 0.5
    assert rows[0]["meter"] > 0.1


def test_expect_tells_ohms_with_the_meters_own_error_and_millivolts_as_such(command) -> None:
    """Two terminators of 120 ohm in parallel (ISO 11898-2), as in the book."""
    bus = command("expect", "ohms ECU.70 to ECU.71, ECU unplugged", "--book", "tracked-dumper")
    assert "59.9 ohm ± 9.6 ohm" in bus.out
    wire = command(
        "expect", "ohms X10.3a to ECU.44, X10 and ECU unplugged", "--book", "tracked-dumper"
    )
    assert "under 0.4 ohm" in wire.out
    fuse = command("expect", "millivolts F5, key on, S2 on", "--book", "tracked-dumper")
    assert "39 mV" in fuse.out


def test_error_expect_of_an_unknown_defect(command) -> None:
    said = command(
        "expect", "volts X10.3, key on", "--book", "tracked-dumper", "--with", "bad luck"
    )
    assert said.code == Exit.REFUSED
    assert said.err == (
        "error: No defect 'bad luck' in this book. [defect-not-found]\n"
        "  why: Only what the book's circuit can show can be expected.\n"
        "  do:  List the defects of a place: backprobe can-break PLACE --book BOOK\n"
    )


def test_error_expect_of_a_mistyped_place_points_at_it(command) -> None:
    said = command("expect", "volts X10.33, key on", "--book", "tracked-dumper")
    assert said.code == Exit.PROBLEMS
    assert "[say-unknown-pin]" in said.err
    assert "          ^^^^^^\n" in said.err


def test_error_unknown_book_lists_what_there_is(command, shop: Path) -> None:
    said = command("expect", "volts X1.1, key on", "--book", "digger", "--shop", shop)
    assert said.code == Exit.REFUSED
    assert said.err == (
        "error: There is no wiring book 'digger'. [book-not-found]\n"
        "  why: It is no file here, none of the shop's books, and none of the demo's.\n"
        "  do:  The shop keeps: tracked-dumper, generic, unplugged-sensor. The demo has: "
        "tracked-dumper, generic, unplugged-sensor. Or give the name of a file.\n"
    )


def test_a_book_may_be_a_file_a_kept_one_or_a_demo_one(command, small: Path, shop: Path) -> None:
    command("keep", small, "--name", "mine", "--shop", shop)
    for book in (small, "mine"):
        said = command("can-break", "lamp", "--book", book, "--shop", shop)
        assert said.code == Exit.DONE
        assert "lamp" in said.out
    assert book_text("generic").strip()


def test_proofreading_a_large_book_says_that_it_takes_a_while(
    command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("backprobe.cli.proofread.LARGE", 2)
    book = tmp_path / "mine.book"
    book.write_text(
        "machine m, 12 V\nF1: fuse 10 A\nbattery.+ > F1 > work light\n", encoding="utf-8"
    )
    said = command("proofread", book)
    assert said.code == Exit.DONE
    assert "this takes a while" in said.err
    assert "this takes a while" not in said.out
