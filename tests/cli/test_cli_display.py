"""A value no display or voltmeter can show, typed in either way: refused in full, nothing kept."""

from __future__ import annotations

from pathlib import Path

from backprobe.cli.exits import Exit

REFUSED = (
    "987654 bar is no value of oil pressure on the display of ECU: it can show 0 to 10 bar. "
    "[say-beyond-display]\n"
)


def test_note_refuses_it(command, shop: Path) -> None:
    before = command("so-far", "1", "--shop", shop, "--json").json["findings"]
    said = command("note", "1", "display oil pressure 987654", "--shop", shop)
    assert said.code == Exit.PROBLEMS
    assert REFUSED in said.err
    assert command("so-far", "1", "--shop", shop, "--json").json["findings"] == before


def test_answer_refuses_it(command, tmp_path: Path) -> None:
    shop = tmp_path / "small.backprobe"
    command("start", "unplugged-sensor", "oil lamp on", "--shop", shop)
    command("note", "1", "codes engine unit 100/3, key on; failing yes", "--shop", shop)
    offers = command("check-next", "1", "--shop", shop, "--json").json["next"]
    number = next((k for k, o in enumerate(offers, 1) if o["check"]["does"] == "display"), 0)
    assert number, [offer["check"]["words"] for offer in offers]
    said = command("answer", "1", "987654", "--of", number, "--shop", shop)
    assert said.code == Exit.PROBLEMS
    assert "it can show 0 to 1000 kPa. [say-beyond-display]" in said.err
    assert len(command("so-far", "1", "--shop", shop, "--json").json["findings"]) == 2
    assert command("answer", "1", "-120", "--of", number, "--shop", shop).code == Exit.DONE


def test_volts_beyond_the_machine_are_refused_either_way(command, tmp_path: Path) -> None:
    shop = tmp_path / "small.backprobe"
    command("start", "unplugged-sensor", "oil lamp on", "--shop", shop)
    command("note", "1", "codes engine unit 100/4, key on; failing yes", "--shop", shop)
    before = command("so-far", "1", "--shop", shop, "--json").json["findings"]
    offers = command("check-next", "1", "--shop", shop, "--json").json["next"]
    number = next((k for k, o in enumerate(offers, 1) if o["check"]["does"] == "volts"), 0)
    assert number, [offer["check"]["words"] for offer in offers]
    for said in (
        command("answer", "1", "120", "--of", number, "--shop", shop),
        command("note", "1", "volts oil pressure sender.1 120, key on", "--shop", shop),
    ):
        assert said.code == Exit.PROBLEMS
        assert "120 V cannot be read on a 12 V machine" in said.err
    assert command("so-far", "1", "--shop", shop, "--json").json["findings"] == before
