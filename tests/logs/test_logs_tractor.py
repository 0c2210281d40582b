"""Recordings of a compact tractor, one with a sensor really unplugged.

Source: TractorHacking/CAN-data, commit db5c894 (MIT). They are not part of this repository: the
folder is named by BACKPROBE_RECORDINGS, or stands beside it as ../shared/data/tractor_can.
"""

from __future__ import annotations

import os
import re
from collections import Counter
from pathlib import Path

import pytest

from backprobe.logs import Recording, active_codes, codes_found, read_recording, values
from backprobe.logs.checksum import crc15
from backprobe.logs.identifier import decode_identifier
from backprobe.logs.transport import assemble

BESIDE = Path(__file__).parents[3] / "shared" / "data" / "tractor_can"
FOLDER = Path(os.environ.get("BACKPROBE_RECORDINGS", BESIDE))

pytestmark = pytest.mark.skipif(
    not FOLDER.is_dir(),
    reason="the tractor recordings are not here: set BACKPROBE_RECORDINGS to their folder",
)

UNPLUGGED = "LeftSensorUnplugged-CheckEngine-1of3.csv"
UNITS = {0: "ECU", 3: "gearbox unit", 23: "dashboard", 71: "display"}


def tractor(name: str) -> Recording:
    return read_recording(FOLDER / name)


def oil_pressure(recording: Recording) -> tuple[tuple[float, ...], int]:
    """Valid values in kPa, and the number of errors, of the engine's SPN 100."""
    (series,) = (s for s in values(recording) if (s.parameter.spn, s.source) == (100, 0))
    return series.valid(), series.count("error")


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("RunningControl.csv", 404.0, 408.0),
        ("idling.csv", 324.0, 348.0),
        ("RightSenorUnplugged.csv", 376.0, 396.0),
    ],
)
def test_a_running_engine_has_oil_pressure_and_no_codes(name: str, low: float, high: float) -> None:
    recording = tractor(name)
    valid, errors = oil_pressure(recording)
    assert (min(valid), max(valid), errors) == (low, high, 0)
    assert active_codes(recording) == ()
    assert codes_found(recording, UNITS) == (), "no list came, and silence is not an empty list"


@pytest.mark.parametrize(("name", "lists", "count"), [(UNPLUGGED, 5, 0), ("StartUp-FirstHalf.csv", 1, 1)])  # fmt: skip
def test_the_unplugged_sensor_is_reported_low_and_its_value_as_an_error(
    name: str, lists: int, count: int
) -> None:
    recording = tractor(name)
    valid, errors = oil_pressure(recording)
    assert valid == ()
    assert errors > 5
    (engine,) = active_codes(recording)
    assert (engine.source, engine.lists, engine.doubts) == (0, lists, ())
    (seen,) = engine.active
    assert (seen.code, seen.messages, seen.count) == ("100/4", lists, count)
    assert engine.lamps.words() == "amber warning on"
    (found,) = codes_found(recording, UNITS)
    assert (found.unit, found.active, found.complete) == ("ECU", ("100/4",), True)
    assert found.situation.key == "run"


def test_not_starting_in_gear_is_a_condition_of_the_gearbox_unit() -> None:
    recording = tractor("noStartInGear1.csv")
    by_source = {unit.source: unit for unit in active_codes(recording)}
    assert 0 not in by_source, "the engine sends no list"
    assert [seen.code for seen in by_source[3].active] == ["524020/31"]
    assert by_source[3].lamps.words() == "protect on"
    valid, _ = oil_pressure(recording)
    assert set(valid) == {0.0}
    assert [found.unit for found in codes_found(recording, UNITS)] == [
        "gearbox unit",
        "dashboard",
        "display",
    ]
    assert {found.situation.key for found in codes_found(recording, UNITS)} == {"on"}


def test_one_fuse_out_and_only_one_unit_talks() -> None:
    recording = tractor("noFuse1.csv")
    assert recording.dirty == ()
    sources = {fields.source for f in recording.frames if (fields := decode_identifier(f.id))}
    assert (len(recording.frames), sources) == (9, {23})
    (unit,) = active_codes(recording)
    assert (unit.source, unit.active) == (23, ())


def test_dirty_rows_are_counted_and_every_row_is_accounted_for() -> None:
    lost = ("no identifier", "checksum", "bus error", "length", "unreadable")
    for path in sorted(FOLDER.glob("*.csv")):
        recording = tractor(path.name)
        counts = Counter(recording.counts)
        assert counts["rows"] == counts["frames"] + sum(counts[flaw] for flaw in lost)
        text = path.read_bytes().decode(errors="replace").split("\n")
        assert all(row.text == text[row.line - 1][:200] for row in recording.dirty)
    counts = Counter(tractor(UNPLUGGED).counts)
    assert counts == {
        "rows": 1905,
        "frames": 1765,
        "no identifier": 51,
        "checksum": 89,
        "two in one": 48,
        "frames without a checksum": 1,
    }
    cold = tractor("StartUp-FirstHalf.csv")
    assert (cold.counts["bus error"], cold.counts["unreadable"]) == (258, 1)


def test_the_checksum_tells_which_half_of_a_double_row_belongs_to_its_identifier() -> None:
    double = re.compile(r",[^,]*,[^,]*,(\w{8}),Data,8,((?:\w\w ){8})((?:\w\w ?){8}),(\w{4}),")
    fits = Counter[tuple[bool, bool]]()
    for path in sorted(FOLDER.glob("*.csv")):
        for row in path.read_bytes().decode(errors="replace").split("\n"):
            found = double.fullmatch(row)
            if found and found[2].split() != found[3].split():
                ident, crc = int(found[1], 16), int(found[4], 16)
                first, second = (crc15(ident, bytes.fromhex(found[i])) == crc for i in (2, 3))
                fits[first, second] += 1
    # always the second, never the first
    assert fits == {(False, True): 215}


def test_identifiers_as_the_recordings_own_decoder_prints_them() -> None:
    text = (FOLDER / "parsed-RightSenorUnplugged.txt").read_text(encoding="utf-8")
    listed = re.findall(
        r"\[(0x[0-9a-f]{8}), PGN: \(0x[0-9a-f]+, (\d+), .*?Source: (\d+), "
        r"(?:Destination: (0x[0-9a-f]+), )?Priority: (\d+), Data Page: (\d)\]: \((\d+) entries\)",
        text,
    )
    assert len(listed) == text.count("entries)") == 50
    counted = Counter(frame.id for frame in tractor("RightSenorUnplugged.csv").frames)
    garbled, without_page = [], []
    for written, pgn, source, destination, priority, page, entries in listed:
        fields = decode_identifier(int(written, 16))
        assert fields is not None
        assert (fields.source, fields.priority) == (int(source), int(priority))
        assert fields.destination == (int(destination, 16) if destination else 255)
        # that decoder leaves the data page out of the group number
        assert fields.pgn & 0xFFFF == int(pgn)
        if fields.pgn != int(pgn):
            assert page == "1"
            without_page.append(written)
        if counted[int(written, 16)] != int(entries):
            garbled.append(written)
    assert without_page == ["0x0def0603", "0x0def0647"]
    # it counts rows without an identifier as 0, and believes identifiers the checksum refutes
    assert [written for written in garbled if written[:5] != "0x000"] == []
    assert len(garbled) == 10


def test_long_messages_are_put_together_in_a_real_recording() -> None:
    together = assemble(tractor("RightSenorUnplugged.csv").frames)
    long = [message for message in together.messages if len(message.data) > 8]
    assert [(message.pgn, message.source, len(message.data)) for message in long] == [
        (65251, 0, 34)
    ]
    # the decoder's list of the five packets, joined by hand
    assert (
        long[0].data.hex().upper()
        == ("201CEC6842EAA00FE38D20F17A31FAC044FFFF0401204E0001FAC9FAC05D0000FFFFFF")[:68]
    )
    assert together.broken == ()
