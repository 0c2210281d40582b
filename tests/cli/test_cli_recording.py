"""Codes from a recording on the command line, and into a job.

DM1 frames are written by hand from SAE J1939-73: lamp byte, flash byte, then SPN, FMI and count in
four bytes (SPN low byte first, its top three bits beside the FMI; conversion method bit 0).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from backprobe.cli.exits import Exit


def dm1(spn: int, fmi: int, count: int) -> str:
    code = [spn & 0xFF, (spn >> 8) & 0xFF, ((spn >> 16) << 5) | fmi, count]
    return bytes([0x04, 0xFF, *code, 0xFF, 0xFF]).hex().upper()


@pytest.fixture
def candump(tmp_path: Path) -> Path:
    path = tmp_path / "drive.log"
    lines = [f"({1000 + k}.000000) can0 18FECA00#{dm1(100, 4, 3)}" for k in range(4)]
    path.write_text("\n".join(lines) + "\n", encoding="ascii")
    return path


def test_it_lists_the_codes_of_each_source(command, candump: Path) -> None:
    said = command("recording", candump)
    assert said.code == Exit.DONE
    assert said.out.splitlines()[0] == "drive.log: 4 frames in 3 s"
    row = said.out.splitlines()[2].split()
    assert row[:4] == ["0", "active", "100/4", "3"]


def test_as_json(command, candump: Path) -> None:
    result = command("recording", candump, "--json").json
    assert result["counts"]["frames"] == 4
    assert [code["code"] for code in result["units"][0]["active"]] == ["100/4"]
    assert result["noted"] == []


def test_its_codes_are_taken_into_a_job(command, candump: Path, shop: Path) -> None:
    said = command("recording", candump, "--job", "1", "--unit", "0=ECU", "--shop", shop)
    assert said.code == Exit.DONE
    assert said.out.splitlines()[-1].startswith("f4  codes ECU 100/4 x3, key on, engine stopped")
    found = command("so-far", "1", "--shop", shop, "--json").json["findings"]
    assert (found[-1]["unit"], found[-1]["active"]) == ("ECU", ["100/4"])


def test_error_no_unit_named_says_which_sources_there_are(
    command, candump: Path, shop: Path
) -> None:
    said = command("recording", candump, "--job", "1", "--shop", shop)
    assert said.code == Exit.REFUSED
    assert said.err == (
        "error: None of the units named sent a list of active codes in drive.log. "
        "[no-codes-to-take]\n"
        "  why: Sources that sent one: 0.\n"
        "  do:  Name the unit behind a source: --unit 0=ECU\n"
    )


@pytest.mark.parametrize("pair", ["ECU", "x=ECU", "0=EDU"])
def test_error_a_unit_that_is_none(command, candump: Path, shop: Path, pair: str) -> None:
    said = command("recording", candump, "--job", "1", "--unit", pair, "--shop", shop)
    assert said.code == Exit.REFUSED
    assert said.err == (
        f"error: --unit {pair} does not name a source and a unit. [unit-not-known]\n"
        "  why: Units of this book that report codes: ECU, display.\n"
        "  do:  Write the source address, =, and the unit: --unit 0=ECU\n"
    )


def test_error_a_file_that_is_no_recording_gives_3(command, tmp_path: Path) -> None:
    path = tmp_path / "shopping.txt"
    path.write_text("milk\nbread\n", encoding="utf-8")
    said = command("recording", path)
    assert said.code == Exit.PROBLEMS
    assert "shopping.txt" in said.err


def test_a_real_recording_goes_into_a_job_and_is_weighed(
    command, recordings: Path, shop: Path
) -> None:
    """A tractor with one sensor unplugged; its own recording reports SPN 100 FMI 4."""
    file = recordings / "LeftSensorUnplugged-CheckEngine-1of3.csv"
    codes = [code["code"] for unit in command("recording", file, "--json").json["units"]
             for code in unit["active"]]  # fmt: skip
    assert codes == ["100/4"]
    job = command("start", "unplugged-sensor", "oil lamp", "--shop", shop, "--json").json["job"]
    taken = command("recording", file, "--job", job, "--shop", shop)
    assert taken.code == Exit.DONE, taken.err
    verdict = command("could-be", job, "--shop", shop, "--json").json
    plug = next(s for s in verdict["suspects"] if s["group"] == "plug at oil pressure sender")
    assert plug["explains"] == ["engine unit 100/4"]
    assert plug in verdict["suspects"][:5]
