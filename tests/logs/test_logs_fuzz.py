"""Whatever stands in a file, reading it raises nothing and loses no row silently."""

from __future__ import annotations

import can
import pytest
from can.io import ASCWriter, BLFWriter, CanutilsLogWriter, CSVWriter
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backprobe.logs import Recording, active_codes, codes_found, read_recording, values

SCOPE_HEADER = "Marked,Time,Serial Bus,ID,Type,DLC,Data,CRC,Errors"
LIST_HEADER = ",time,pgn,priority,source,destination,data,description"
HEADERS = [
    b"",
    SCOPE_HEADER.encode() + b"\n",
    LIST_HEADER.encode() + b"\n",
    b"timestamp,arbitration_id,extended,remote,error,dlc,data\n",
    b"(0.0) can0 18FECA00#04FF64000400\n",
    b"date Sat Sep 30 15:06:13.191 2017\nbase hex  timestamps absolute\n",
    b"base dec  timestamps absolute\n",
    b"LOGG",
    b"\xff\xfe",
]
USED = {"two in one", "no time"}  # flaws of rows that still gave a frame
FLAWS = {"no identifier", "checksum", "bus error", "length", "unreadable"}


def survives(content: bytes) -> Recording:
    recording = read_recording(content, "x")
    active_codes(recording)
    codes_found(recording, {0: "ECU"})
    values(recording)
    assert len(recording.frames) == recording.counts.get("frames", 0)
    assert all(0 <= frame.id <= 0x1FFFFFFF for frame in recording.frames)
    assert all(len(frame.data) <= 8 for frame in recording.frames)
    return recording


@given(st.sampled_from(HEADERS), st.binary(max_size=400))
def test_random_bytes(header: bytes, content: bytes) -> None:
    survives(header + content)


CELL = st.one_of(
    st.text(alphabet="0123456789ABCDEFxX.-+ ms?#,()RrTtd=/", max_size=24),
    st.sampled_from(["1CFECA00", "04 FF 64 00 04 00", "6", "-1.5ms", "Data", "Rx", "d", "can0"]),
    st.text(max_size=6),
)
ROW = st.one_of(
    st.lists(CELL, max_size=10).map(",".join),
    st.lists(CELL, max_size=10).map(" ".join),
)


@given(st.sampled_from(HEADERS[:7]), st.lists(ROW, max_size=12))
def test_random_rows_are_all_accounted_for(header: bytes, rows: list[str]) -> None:
    recording = survives(header + "\n".join(rows).encode("utf-8", "surrogatepass"))
    if not recording.counts or b"base" in header:
        return  # no known format, or one whose other lines are no frames
    lost = sum(recording.counts.get(flaw, 0) for flaw in FLAWS)
    left_out = sum(recording.counts.get(k, 0) for k in ("remote frames", "CAN FD frames"))
    assert recording.counts.get("rows", 0) == len(recording.frames) + lost + left_out
    assert len(recording.dirty) == lost + sum(recording.counts.get(k, 0) for k in USED)


@pytest.fixture(scope="module", params=[CanutilsLogWriter, ASCWriter, BLFWriter, CSVWriter])
def good(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    suffix = {CanutilsLogWriter: "log", ASCWriter: "asc", BLFWriter: "blf", CSVWriter: "csv"}
    path = tmp_path_factory.mktemp("good") / f"x.{suffix[request.param]}"
    extra = {"compression_level": 0} if request.param is BLFWriter else {}
    with request.param(path, **extra) as writer:
        for n in range(20):
            data = bytes.fromhex("04FF64000400") + bytes(n % 3)
            writer.on_message_received(
                can.Message(timestamp=10.0 + n, arbitration_id=0x18FECA00, data=data)
            )
    return path.read_bytes()


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_good_files_with_a_few_bytes_spoilt(good: bytes, data: st.DataObject) -> None:
    spoilt = bytearray(good)
    for _ in range(data.draw(st.integers(1, 6))):
        spoilt[data.draw(st.integers(0, len(spoilt) - 1))] = data.draw(st.integers(0, 255))
    survives(bytes(spoilt[: data.draw(st.integers(0, len(spoilt)))]))
