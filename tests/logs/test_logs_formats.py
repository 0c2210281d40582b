"""Every format gives the same frames; dirty rows are kept with their line and stop nothing."""

from __future__ import annotations

import re
import struct
from pathlib import Path
from typing import get_args

import can
import pytest
from can.io import ASCWriter, BLFWriter, CanutilsLogReader, CanutilsLogWriter, CSVWriter

from backprobe.logs import Frame, Recording, read_recording
from backprobe.logs.checksum import crc15, remainder
from backprobe.logs.recording import Flaw

SENT = [
    can.Message(timestamp=10.0, arbitration_id=0x0CF00400, data=bytes.fromhex("207D87481400F087")),
    can.Message(timestamp=10.25, arbitration_id=0x18FECA00, data=bytes.fromhex("04FF64000400")),
    can.Message(timestamp=10.5, arbitration_id=0x123, is_extended_id=False, data=b"\x01"),
    can.Message(timestamp=10.75, arbitration_id=0x18EAFF00, data=bytes.fromhex("CAFE00")),
    can.Message(timestamp=11.0, arbitration_id=0x18FEF700, data=b""),
]
WRITERS = {".log": CanutilsLogWriter, ".asc": ASCWriter, ".blf": BLFWriter, ".csv": CSVWriter}


def written(path: Path, messages: list[can.Message]) -> bytes:
    with WRITERS[path.suffix](path) as writer:
        for message in messages:
            writer.on_message_received(message)
    return path.read_bytes()


def said(recording: Recording) -> list[str]:
    return [str(problem) for problem in recording.problems]


@pytest.mark.parametrize("suffix", WRITERS)
def test_what_python_can_writes_comes_back_frame_by_frame(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"day 1{suffix}"
    written(path, SENT)
    recording = read_recording(path)
    assert [(f.id, f.data, f.extended) for f in recording.frames] == [
        (m.arbitration_id, bytes(m.data), m.is_extended_id) for m in SENT
    ]
    start = recording.frames[0].time_s
    steps = [frame.time_s - start for frame in recording.frames]
    assert steps == pytest.approx([0.0, 0.25, 0.5, 0.75, 1.0], abs=1e-5)
    assert (recording.name, recording.dirty, said(recording)) == (path.name, (), [])
    assert recording.counts["frames"] == 5


@pytest.mark.parametrize("suffix", WRITERS)
def test_the_content_decides_not_the_name(tmp_path: Path, suffix: str) -> None:
    content = written(tmp_path / f"x{suffix}", SENT)
    (tmp_path / "renamed.txt").write_bytes(content)
    assert len(read_recording(tmp_path / "renamed.txt").frames) == 5
    assert len(read_recording(content, "from a phone").frames) == 5


@pytest.mark.parametrize("suffix", WRITERS)
def test_remote_error_and_fd_frames_are_counted_not_used(tmp_path: Path, suffix: str) -> None:
    others = [
        can.Message(timestamp=11.1, arbitration_id=0x18EA0000, is_remote_frame=True, dlc=3),
        can.Message(timestamp=11.2, is_error_frame=True),
    ]
    if suffix != ".csv":  # python-can's table has no CAN FD frames
        others.append(can.Message(timestamp=11.3, arbitration_id=1, is_fd=True, data=b"12345678"))
    recording = read_recording(written(tmp_path / f"x{suffix}", [*SENT, *others]), "x")
    assert len(recording.frames) == 5
    assert recording.counts["remote frames"] == 1
    assert recording.counts["bus error"] == 1
    assert recording.counts.get("CAN FD frames", 0) == (suffix != ".csv")


LINES = [
    "(1543509533.001145) can0 0CF00400#207D87481400F087",  # pretty_j1939's example log
    "(1543509533.1) can0 0CF00400#207D8748140",
    "(1543509533.2) can0 FFFFFFFF#00",
    "(1543509533.3) can0 7FF#11",
    "(1543509533.4) can0 800#11",
    "(1543509533.5) can0 20000080#0000000000000000",
    "",
    "(1543509533.6) can0 18FEF700#R",
    "(1543509533.7) can0 18FEF700##0112233",
    "(1543509533.8) can0 18FEF700#001122334455667788",
    "(what) is this",
    "(1543509534.0) vcan0 18FECA00#04FF64000400 T",
]


def test_dirty_candump_lines_are_kept_with_their_number_and_stop_nothing() -> None:
    recording = read_recording("\r\n".join(LINES).encode(), "day 1.log")
    assert recording.frames == (
        Frame(
            time_s=1543509533.001145,
            id=0x0CF00400,
            data=bytes.fromhex("207D87481400F087"),
            line=1,
        ),
        Frame(time_s=1543509533.3, id=0x7FF, data=b"\x11", line=4, extended=False),
        Frame(time_s=1543509534.0, id=0x18FECA00, data=bytes.fromhex("04FF64000400"), line=12),
    )
    assert [(row.line, row.flaw) for row in recording.dirty] == [
        (2, "unreadable"),
        (3, "unreadable"),
        (5, "unreadable"),
        (6, "bus error"),
        (10, "length"),
        (11, "unreadable"),
    ]
    assert [row.text for row in recording.dirty] == [LINES[row.line - 1] for row in recording.dirty]
    assert recording.counts == {
        "rows": 11,
        "frames": 3,
        "unreadable": 4,
        "bus error": 1,
        "length": 1,
        "remote frames": 1,
        "CAN FD frames": 1,
    }


def test_the_whole_text_of_what_is_said_about_dirty_rows() -> None:
    recording = read_recording("\r\n".join(LINES).encode(), "day 1.log")
    assert "\n".join(said(recording)) == (
        "day 1.log:6:1: warning: 1 row marked as an error on the bus (line 6) [recording-bus-error]\n"
        "    (1543509533.5) can0 20000080#0000000000000000\n"
        "    ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^\n"
        "  why: frames that broke off on the wire; a few while units wake up are usual, a stream of "
        "them points at the bus itself: one unit talking alone, a short, a missing terminator\n"
        "  do:  if they go on with all units awake, measure the bus pair with the battery off\n"
        "day 1.log:10:1: warning: 1 row with more or fewer data bytes than the length says "
        "(line 10) [recording-length]\n"
        "    (1543509533.8) can0 18FEF700#001122334455667788\n"
        "    ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^\n"
        "  why: which bytes are missing or foreign cannot be told; not used\n"
        "  do:  nothing, while most rows are good; else record again with a CAN interface\n"
        "day 1.log:2:1: warning: 4 rows without a CAN frame (lines 2, 3, 5, 11) "
        "[recording-unreadable]\n"
        "    (1543509533.1) can0 0CF00400#207D8748140\n"
        "    ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^\n"
        "  why: the row was cut, or written by something else; not used\n"
        "  do:  look at the lines named; if all rows are like this, export the recording again"
    )


def test_good_candump_lines_as_python_can_alone_reads_them(tmp_path: Path) -> None:
    path = tmp_path / "x.log"
    written(path, SENT)
    with CanutilsLogReader(path) as reader:
        theirs = [(m.timestamp, m.arbitration_id, bytes(m.data)) for m in reader]
    assert [(f.time_s, f.id, f.data) for f in read_recording(path).frames] == theirs


def test_a_spoilt_asc_line_is_dirty_and_its_comments_are_not(tmp_path: Path) -> None:
    lines = written(tmp_path / "x.asc", SENT).decode().splitlines()
    body = next(i for i, line in enumerate(lines) if "CF00400x" in line)
    lines[body] = lines[body].replace("CF00400x", "CF0G400x")
    lines.insert(body, " 0.000000 1  Statistic: D 0 R 0 XD 8 XR 0 E 0 O 0 B 2.03%")
    lines.insert(body, "// a comment")
    later = next(i for i, line in enumerate(lines) if "18FECA00x" in line)
    lines[later] = lines[later].replace("04 FF", "04 ZZ")
    recording = read_recording("\n".join(lines).encode(), "x.asc")
    assert [frame.id for frame in recording.frames] == [0x123, 0x18EAFF00, 0x18FEF700]
    assert [(row.line, row.flaw) for row in recording.dirty] == [
        (body + 3, "unreadable"),
        (later + 1, "unreadable"),
    ]
    assert [frame.line for frame in recording.frames] == [later + 2, later + 3, later + 4]


def test_an_asc_file_without_a_header_loses_no_frame_and_decimal_is_understood() -> None:
    hexadecimal = b"0.100000 1  18FECA00x       Rx   d 6 04 FF 64 00 04 00\n"
    decimal = b"base dec  timestamps absolute\n0.1 1  419351040x Rx d 6 04 255 100 00 04 00\n"
    for content in (hexadecimal, decimal):
        (frame,) = read_recording(content).frames
        assert (frame.id, frame.data.hex()) == (0x18FECA00, "04ff64000400")


def test_a_spoilt_table_row_of_python_can_is_dirty(tmp_path: Path) -> None:
    lines = written(tmp_path / "x.csv", SENT).decode().splitlines()
    lines[1] = lines[1].replace(",1,0,0,8,", ",1,0,0,7,")
    lines[2] = lines[2][:-1] + "!"
    lines[4] = "nan" + lines[4][lines[4].index(",") :]
    recording = read_recording("\n".join(lines).encode(), "x.csv")
    assert [(row.line, row.flaw) for row in recording.dirty] == [
        (2, "length"),
        (3, "unreadable"),
        (5, "no time"),
    ]
    assert [(f.line, f.time_s) for f in recording.frames] == [(4, 10.5), (5, 10.5), (6, 11.0)]


def test_error_a_blf_file_cut_short(tmp_path: Path) -> None:
    content = written(tmp_path / "x.blf", SENT)
    recording = read_recording(content[:150] + b"\x00" * 40, "x.blf")
    assert said(recording)[0] == (
        "warning: x.blf is damaged: 0 frames could be read, others could not [recording-cut]\n"
        "  why: the recorder was stopped hard, or the file was cut while it was copied\n"
        "  do:  copy it again; what could be read is used"
    )


@pytest.mark.parametrize("version", [1, 9])
def test_a_blf_object_without_length_is_not_read_for_ever(tmp_path: Path, version: int) -> None:
    path = tmp_path / "x.blf"
    with BLFWriter(path, compression_level=0) as writer:
        for message in SENT:
            writer.on_message_received(message)
    content = bytearray(path.read_bytes())
    container = content.index(b"LOBJ")
    inner = content.index(b"LOBJ", container + 4)
    struct.pack_into("<HI", content, inner + 6, version, 0)
    recording = read_recording(bytes(content), "x.blf")
    assert recording.frames == ()
    assert [problem.slug for problem in recording.problems] == ["recording-cut", "recording-empty"]


def test_a_blf_part_that_is_passed_over_is_told(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    content = bytearray(written(tmp_path / "x.blf", SENT))
    container = content.index(b"LOBJ")
    struct.pack_into("<H", content, container + 16, 77)  # an unknown way to compress
    recording = read_recording(bytes(content), "x.blf")
    assert [problem.slug for problem in recording.problems] == ["recording-cut", "recording-empty"]
    assert capfd.readouterr() == ("", "")


# ---------------------------------------------------------------- tables

SCOPE = """\
Marked,Time,Serial Bus,ID,Type,DLC,Data,CRC,Errors
,-18.08ms,Serial1,1CFECA00,Data,6,04 FF 64 00 04 00,7229,
,-17.0ms,Serial1,0006F783,Data,8,01 01 FF FF FF FF FF F5,5242,
,146.0ms,Serial1,,,,64 15 13 F0 0B 19 A9 0E,3FA7,
,?,Serial1,18EAFF06,Data,3,E5 FE 00,26A5,
,1.5s,Serial1,0CEFFF00,Data,8,FF 00 28 FF 07 FF FF FF 64 06 37 7D FF FF FF FF,7CE0,
,1.6s,Serial1,18EEFF47,Data,8,4D 74 30 04 00 34 02 20,,Fo,Fr
,1.7s,Serial1,18EEFF47,Data,8,30 04 00 34 02 20 4D 74 30 04 00 34 02 20,,
,1.8s,Serial1,0CF00400,Data,8,F0 FF A0,,
,1.9s,Serial1,0CF00400,Data,8,F0 FF A0 26 1C FF FF FF,,
,\ufffd,\ufffd,\ufffd,\ufffd,\ufffd,\ufffd,\ufffd,\ufffd
"""  # rows as a compact tractor's recordings have them (CAN-data, MIT, commit db5c894)


def test_an_oscilloscope_table_with_every_flaw() -> None:
    recording = read_recording(SCOPE.encode(), "scope.csv")
    assert [(f.line, f.id, f.data.hex()) for f in recording.frames] == [
        (2, 0x1CFECA00, "04ff64000400"),
        (5, 0x18EAFF06, "e5fe00"),
        (6, 0x0CEFFF00, "6406377dffffffff"),
        (10, 0x0CF00400, "f0ffa0261cffffff"),
    ]
    assert [f.time_s for f in recording.frames] == pytest.approx([-0.01808, -0.01808, 1.5, 1.9])
    assert [(row.line, row.flaw) for row in recording.dirty] == [
        (3, "checksum"),
        (4, "no identifier"),
        (5, "no time"),
        (6, "two in one"),
        (7, "bus error"),
        (8, "length"),
        (9, "length"),
        (11, "unreadable"),
    ]
    assert recording.counts["frames without a checksum"] == 1
    assert [problem.slug for problem in recording.problems] == [
        "recording-bus-error",
        "recording-no-identifier",
        "recording-checksum",
        "recording-length",
        "recording-unreadable",
        "recording-two-in-one",
        "recording-no-time",
    ]


def test_a_table_of_messages() -> None:
    text = (
        ",time,pgn,priority,source,destination,data,description\n"
        "0,0.0,60928,6,23,255,0C 6E 24 04 00 13 02 20 ,Unknown\n"
        "1,882.0,65226,6,23,255,00 FF 00 00 00 00 FF FF ,Unknown\n"
        "2,900.0,61184,6,0,6,64 0E 2B 0E FF FF FF FF ,Unknown\n"
        "3,901.0,999999,6,0,6,64,Unknown\n"
    )
    recording = read_recording(text.encode(), "list.csv")
    assert [(f.time_s, f.id, len(f.data)) for f in recording.frames] == [
        (0.0, 0x18EEFF17, 8),
        (0.882, 0x18FECA17, 8),
        (0.9, 0x18EF0600, 8),
    ]
    assert [(row.line, row.flaw) for row in recording.dirty] == [(5, "unreadable")]


# ---------------------------------------------------------------- checksum


def test_a_table_with_semicolons_and_decimal_commas() -> None:
    scope = "Time;ID;DLC;Data\n1,5;18FECA00;8;04 FF 9D 00 04 03 FF FF\n2,5 ms;123;1;01\n"
    recording = read_recording(scope.encode())
    assert [(f.time_s, f.id, len(f.data), f.line) for f in recording.frames] == [
        (1.5, 0x18FECA00, 8, 2), (0.0025, 0x123, 1, 3),
    ]  # fmt: skip
    recording = read_recording(b"time;pgn;source;data\n1500,5;65226;0;04 FF\n")
    assert [(f.time_s, f.data) for f in recording.frames] == [(1.5005, b"\x04\xff")]


def test_checksum_of_the_catalogue() -> None:
    # CRC-15/CAN of the ASCII digits 1 to 9 is 059E (catalogue of parametrised CRC algorithms)
    assert remainder(int.from_bytes(b"123456789", "big"), 72) == 0x059E


@pytest.mark.parametrize(
    ("ident", "data", "crc"),
    [
        # as an oscilloscope read them off the wire (CAN-data, MIT, commit db5c894)
        (0x0CF00400, "F0FFA0261CFFFFFF", 0x67C4),
        (0x1CFECA00, "04FF64000400", 0x7229),
        (0x18EAFF06, "E5FE00", 0x26A5),
    ],
)
def test_checksum_of_frames_read_off_a_wire(ident: int, data: str, crc: int) -> None:
    assert crc15(ident, bytes.fromhex(data)) == crc


# ---------------------------------------------------------------- what is no recording


@pytest.mark.parametrize(
    "content", [b"", b"machine tracked dumper, 12 V\n", b"\x00" * 1000, b"a,b,c\n1,2,3\n"]
)
def test_error_not_a_recording(content: bytes) -> None:
    assert said(read_recording(content, "book.txt"))[0] == (
        "error: book.txt is not a recording in a known format [recording-unknown]\n"
        "  why: known are: candump .log, .asc, .blf, the .csv of python-can, and .csv tables with "
        "the columns Time, ID, DLC, Data or time, pgn, source, data\n"
        "  do:  export the recording in one of these formats"
    )


def test_error_no_frames() -> None:
    assert said(read_recording(b"Time,ID,DLC,Data\n", "empty.csv"))[0] == (
        "error: empty.csv holds no CAN frame that can be used [recording-empty]\n"
        "  why: without frames it says nothing, not even that there are no codes\n"
        "  do:  record again with the key on, and check bit rate and plug"
    )


def test_error_no_such_file(tmp_path: Path) -> None:
    assert said(read_recording(tmp_path / "gone.log"))[0] == (
        "error: gone.log cannot be read: no such file or directory [recording-no-open]\n"
        "  why: the name is wrong, or this user may not read it\n"
        "  do:  check the name"
    )
    assert said(read_recording("a\x00b"))[0].startswith("error: a\x00b cannot be read: ")


def test_a_million_short_lines_are_answered_at_once() -> None:
    assert [p.slug for p in read_recording(b"x\n" * 1_000_000).problems] == ["recording-unknown"]
    recording = read_recording(b"Time,ID,DLC,Data\n" + b"x\n" * 200_000)
    assert recording.counts["unreadable"] == 200_000
    assert len(recording.dirty) == 100_000


def test_every_slug_has_its_line_in_the_manual() -> None:
    root = Path(__file__).parents[2]
    code = (root / "src/backprobe/logs/recording.py").read_text(encoding="utf-8")
    manual = (root / "docs/logs.md").read_text(encoding="utf-8")
    written = set(re.findall(r'"(recording-[a-z-]+)"', code))
    made = {f"recording-{flaw.replace(' ', '-')}" for flaw in get_args(Flaw)}
    assert set(re.findall(r"^\| `([a-z-]+)` ", manual, re.MULTILINE)) == written | made
