"""Identifiers, code lists and long messages against published frames.

Sources: the tests of cantools (identifiers), pretty_j1939 (nmfta), AgIsoStack++ (commit 509a920)
and can-j1939 (commit 316373d); can-utils issue 511 (conversion bit).
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.logs import active_codes, read_recording
from backprobe.logs.identifier import Identifier, decode_identifier, encode_identifier
from backprobe.logs.recording import Frame
from backprobe.logs.transport import Message, Messages, assemble
from backprobe.logs.trouble import (
    Code,
    Lamps,
    TroubleList,
    decode_code,
    decode_trouble,
    encode_code,
)

NO_LAMPS = Lamps(mil="off", red_stop="off", amber_warning="off", protect="off")
UNKNOWN_LAMPS = Lamps()


def frames(*lines: str) -> tuple[Frame, ...]:
    """`id#data` lines, one second apart, through the candump reader."""
    text = "".join(f"({n}.000000) can0 {line}\n" for n, line in enumerate(lines))
    recording = read_recording(text.encode(), "vectors.log")
    assert len(recording.frames) == len(lines)
    return recording.frames


def messages(*lines: str) -> Messages:
    return assemble(frames(*lines))


def only(*lines: str) -> Message:
    together = messages(*lines)
    assert together.broken == ()
    (message,) = together.messages
    return message


def code(spn: int, fmi: int, count: int | None = 1) -> Code:
    return Code(spn=spn, fmi=fmi, count=count)


# ---------------------------------------------------------------- identifiers


@pytest.mark.parametrize(
    ("ident", "fields"),
    [
        # the two whole identifiers that cantools tests pack
        (0x1FFFFFFF, Identifier(priority=7, pgn=0x3FFFF, source=0xFF)),
        (0x14123456, Identifier(priority=5, pgn=0x1200, source=0x56, destination=0x34)),
        # cantools: pgn_pack(0, 1, 0xEF, 0) = 1EF00, pgn_pack(0, 0, 0xF0, 0x34) = F034
        (0x19EF2700, Identifier(priority=6, pgn=0x1EF00, source=0, destination=0x27)),
        (0x18F03401, Identifier(priority=6, pgn=0xF034, source=1)),
        # cantools: DM1 and engine speed from the engine
        (0x18FECA00, Identifier(priority=6, pgn=65226, source=0)),
        (0x0CF00400, Identifier(priority=3, pgn=61444, source=0)),
        # pretty_j1939 and AgIsoStack++: request of DM1 from AB to AA; acknowledgment to all
        (0x18EAAAAB, Identifier(priority=6, pgn=59904, source=0xAB, destination=0xAA)),
        (0x18E8FFAA, Identifier(priority=6, pgn=59392, source=0xAA, destination=255)),
    ],
)
def test_identifier_as_cantools_packs_it(ident: int, fields: Identifier) -> None:
    assert decode_identifier(ident) == fields
    assert encode_identifier(fields) == ident


def test_an_identifier_of_more_than_29_bits_is_none() -> None:
    assert decode_identifier(0x20000000) is None
    assert decode_identifier(-1) is None


@given(st.integers(0, 0x1FFFFFFF))
def test_identifier_round_trip(ident: int) -> None:
    fields = decode_identifier(ident)
    assert fields is not None
    assert encode_identifier(fields) == ident


# ---------------------------------------------------------------- code lists


@pytest.mark.parametrize(
    ("line", "pgn", "source", "lamps", "codes"),
    [
        # pretty_j1939 tests
        (
            "18FECA00#40FF5B000301FFFF",
            65226,
            0,
            Lamps(mil="on", red_stop="off", amber_warning="off", protect="off"),
            (code(91, 3),),
        ),
        ("18FECB00#00FF5B000301FFFF", 65227, 0, NO_LAMPS, (code(91, 3),)),
        ("18FECA00#00FF00000000FFFF", 65226, 0, NO_LAMPS, ()),
        # AgIsoStack++ tests
        ("18FECAAA#FFFFD2041F01FFFF", 65226, 0xAA, UNKNOWN_LAMPS, (code(1234, 31),)),
        ("18FECBAA#FFFF00000000FFFF", 65227, 0xAA, UNKNOWN_LAMPS, ()),
    ],
)
def test_short_code_list(
    line: str, pgn: int, source: int, lamps: Lamps, codes: tuple[Code, ...]
) -> None:
    message = only(line)
    assert (message.pgn, message.source) == (pgn, source)
    assert decode_trouble(message.data) == TroubleList(lamps=lamps, codes=codes)


def test_code_list_sent_to_all_in_packets() -> None:
    # pretty_j1939 tests: 18 bytes in 3 packets
    message = only(
        "18ECFF00#20120003FFCAFE00",
        "18EBFF00#0100FF5B0003015C",
        "18EBFF00#020004025D000503",
        "18EBFF00#035E000604FFFFFF",
    )
    assert message.data.hex().upper() == "00FF5B0003015C0004025D0005035E000604"
    assert decode_trouble(message.data) == TroubleList(
        lamps=NO_LAMPS, codes=(code(91, 3, 1), code(92, 4, 2), code(93, 5, 3), code(94, 6, 4))
    )


def test_code_list_sent_to_all_in_two_packets() -> None:
    # AgIsoStack++ diagnostic protocol tests: 14 bytes, lamps FF FF
    message = only(
        "1CECFFAA#200E0002FFCAFE00", "1CEBFFAA#01FFFFD2041F0137", "1CEBFFAA#02020201CE220C01"
    )
    assert message.source == 0xAA
    assert decode_trouble(message.data) == TroubleList(
        lamps=UNKNOWN_LAMPS, codes=(code(1234, 31), code(567, 2), code(8910, 12))
    )


@pytest.mark.parametrize(
    ("spn", "fmi", "count", "four"),
    [
        # can-utils issue 511 and can-j1939 DTC(spn=1208, fmi=3, oc=10)
        (1208, 3, 10, "B804030A"),
        # computed from the same layout, checked with can-j1939 in another test
        (157, 18, 1, "9D001201"),
        (636, 8, 1, "7C020801"),
        (3509, 4, 1, "B50D0401"),
        (1347, 5, 1, "43050501"),
        (168, 4, 1, "A8000401"),
        (639, 9, 126, "7F02097E"),
        (520192, 3, 2, "00F0E302"),
        (523527, 2, 1, "07FDE201"),
        (524287, 31, None, "FFFFFF7F"),
    ],
)
def test_four_bytes_of_a_code(spn: int, fmi: int, count: int | None, four: str) -> None:
    one = code(spn, fmi, count)
    assert decode_code(bytes.fromhex(four)) == one
    assert encode_code(one).hex().upper() == four


@given(st.binary(min_size=4, max_size=4))
def test_any_four_bytes_survive_the_round_trip(four: bytes) -> None:
    assert encode_code(decode_code(four)) == four


def test_a_count_above_126_is_cut_to_seven_bits() -> None:
    # can-j1939 tests: SPN 456 FMI 1, count 132 is sent as 4
    assert decode_code(encode_code(code(456, 1, 132))) == code(456, 1, 4)


def test_a_set_conversion_bit_is_said_with_all_readings() -> None:
    # the bytes B8 04 03 read as versions 1, 2 and 3 do, with the bit set;
    # versions 3 and 4: can-utils issue 511; 1 and 2: formulas from memory
    old = decode_code(bytes.fromhex("B804038A"))
    assert (old.spn, old.fmi, old.count, old.old_method) == (1208, 3, 10, True)
    assert set(old.also()) == {9664, 376864}
    assert decode_code(bytes.fromhex("B804030A")).also() == ()


def test_lamps_and_how_they_flash() -> None:
    # can-j1939 lamp table: off (0, 3), on (1, 3), slow (1, 0), fast (1, 1), none (3, 3)
    trouble = decode_trouble(bytes([0b01_01_01_00, 0b11_00_01_11, 0, 0, 0, 0]))
    assert trouble.lamps == Lamps(
        mil="on", red_stop="slow flash", amber_warning="fast flash", protect="off"
    )
    assert trouble.lamps.words() == (
        "malfunction indicator on, red stop slow flash, amber warning fast flash"
    )
    assert UNKNOWN_LAMPS.words() == "no lamp"


def test_a_code_list_of_six_bytes_is_whole() -> None:
    # as a compact tractor's engine sends it, count 0 while active (CAN-data, MIT, db5c894)
    assert decode_trouble(bytes.fromhex("04FF64000400")) == TroubleList(
        lamps=Lamps(mil="off", red_stop="off", amber_warning="on", protect="off"),
        codes=(code(100, 4, 0),),
    )


@pytest.mark.parametrize(
    ("data", "codes", "doubt"),
    [
        ("", (), "it has 0 of 6 bytes"),
        ("04", (), "it has 1 of 6 bytes"),
        ("04FF6400", (), "it has 4 of 6 bytes"),
        ("04FF640004001234", (code(100, 4, 0),), "it has 8 bytes, which is not 2 and 4 for each code"),
        (
            "00FF5B0003015C0004025D0005035E0006",
            (code(91, 3, 1), code(92, 4, 2), code(93, 5, 3)),
            "it has 17 bytes, which is not 2 and 4 for each code",
        ),
    ],
)  # fmt: skip
def test_a_list_of_a_wrong_length_gives_its_whole_codes_and_a_doubt(
    data: str, codes: tuple[Code, ...], doubt: str
) -> None:
    trouble = decode_trouble(bytes.fromhex(data))
    assert (trouble.codes, trouble.doubt) == (codes, doubt)


def test_not_available_is_no_code() -> None:
    assert decode_trouble(bytes.fromhex("00FFFFFFFF7F")).codes == ()


# ---------------------------------------------------------------- long messages that go wrong

BAM = "18ECFF00#20120003FFCAFE00"
ONE, TWO, THREE = (
    "18EBFF00#0100FF5B0003015C",
    "18EBFF00#020004025D000503",
    "18EBFF00#035E000604FFFFFF",
)


@pytest.mark.parametrize(
    ("lines", "why"),
    [
        ((BAM, ONE, THREE), "packet 2 of 3 is missing"),
        ((BAM, TWO, ONE, THREE), "packet 1 of 3 is missing"),
        ((BAM, ONE, TWO, ONE, THREE), "packet 1 of 3 came twice"),
        ((BAM, ONE, TWO), "packet 3 of 3 had not come when the recording ended"),
        ((BAM, ONE, TWO, "18EBFF00#095E000604FFFFFF"), "packet 9 of 3 came"),
        ((BAM, ONE, TWO, "18EBFF00#035E00"), "packet 3 of 3 is cut short"),
        (("18ECFF00#20120004FFCAFE00", ONE, TWO, THREE), "it announces 18 bytes in 4 packets"),
        (("18ECFF00#20080002FFCAFE00", ONE, TWO), "it announces 8 bytes in 2 packets"),
        ((BAM, ONE, "18ECFF00#FF01FFFFFFCAFE00", TWO, THREE), "it was broken off"),
    ],
)
def test_a_broken_long_message_says_why_and_gives_nothing(lines: tuple[str, ...], why: str) -> None:
    together = messages(*lines)
    assert together.messages == ()
    assert [broken.why for broken in together.broken] == [why]
    assert (together.broken[0].pgn, together.broken[0].source) == (65226, 0)


def test_a_second_announcement_before_the_end_ends_the_first() -> None:
    together = messages(BAM, ONE, BAM, ONE, TWO, THREE)
    assert [broken.why for broken in together.broken] == ["a second message began before it ended"]
    (message,) = together.messages
    assert len(message.data) == 18


def test_a_packet_that_can_repeats_does_no_harm() -> None:
    assert len(only(BAM, ONE, ONE, TWO, THREE).data) == 18


def test_two_sources_may_send_at_once() -> None:
    other = [line.replace("FF00#", "FF03#") for line in (BAM, ONE, TWO, THREE)]
    mixed = [x for pair in zip((BAM, ONE, TWO, THREE), other, strict=True) for x in pair]
    together = messages(*mixed)
    assert together.broken == ()
    assert [message.source for message in together.messages] == [0, 3]


def test_a_byte_count_of_17_gives_the_whole_codes_and_a_doubt() -> None:
    # 17 is not 2 + 4 n
    recording = read_recording(
        "\n".join(
            f"(0.{n}) can0 {line}"
            for n, line in enumerate(("18ECFF00#20110003FFCAFE00", ONE, TWO, THREE))
        ).encode()
    )
    (unit,) = active_codes(recording)
    assert [seen.code for seen in unit.active] == ["91/3", "92/4", "93/5"]
    assert unit.doubts == ("line 4: it has 17 bytes, which is not 2 and 4 for each code",)


# can-j1939 test_ecu: 20 bytes of group FEB0 in 3 packets from 0 (here to 9B), patterns
# BAM [32,20,0,3,255,..], RTS [16,20,0,3,1,..], CTS [17,1,1,255,255,..], end [19,20,0,3,255,..]
RTS = "18EC9B00#1014000301B0FE00"
CTS = ("18EC009B#110101FFFFB0FE00", "18EC009B#110102FFFFB0FE00", "18EC009B#110103FFFFB0FE00")
END = "18EC009B#13140003FFB0FE00"
PACKETS = (
    "18EB9B00#0101020304050607",
    "18EB9B00#0201020304050607",
    "18EB9B00#03010203040506FF",
)


def test_message_to_one_receiver() -> None:
    message = only(RTS, CTS[0], PACKETS[0], CTS[1], PACKETS[1], CTS[2], PACKETS[2], END)
    assert (message.pgn, message.source, message.destination) == (0xFEB0, 0, 0x9B)
    assert message.data == bytes([1, 2, 3, 4, 5, 6, 7, 1, 2, 3, 4, 5, 6, 7, 1, 2, 3, 4, 5, 6])


def test_the_same_message_to_all() -> None:
    everyone = [packet.replace("EB9B00", "EBFF00") for packet in PACKETS]
    message = only("18ECFF00#20140003FFB0FE00", *everyone)
    assert (message.pgn, message.destination, len(message.data)) == (0xFEB0, 255, 20)


def test_one_receiver_may_ask_for_a_packet_again() -> None:
    message = only(RTS, CTS[0], PACKETS[0], PACKETS[2], CTS[1], PACKETS[1], END)
    assert message.data[7:14] == bytes([1, 2, 3, 4, 5, 6, 7])


def test_either_side_may_break_off() -> None:
    for abort in ("18EC9B00#FF01FFFFFFB0FE00", "18EC009B#FF01FFFFFFB0FE00"):
        together = messages(RTS, CTS[0], PACKETS[0], abort, PACKETS[1], PACKETS[2])
        assert together.messages == ()
        assert [broken.why for broken in together.broken] == ["it was broken off"]


@given(
    st.lists(
        st.tuples(
            st.sampled_from([0x18ECFF00, 0x18EBFF00, 0x18EC0003, 0x18EB0003, 0x18EC0300]),
            st.binary(max_size=8),
        ),
        max_size=30,
    )
)
def test_any_sequence_of_transport_frames_is_survived(sent: list[tuple[int, bytes]]) -> None:
    made = [Frame(time_s=n, id=i, data=d, line=n) for n, (i, d) in enumerate(sent)]
    for message in assemble(made).messages:
        assert 9 <= len(message.data) <= 1785
        decode_trouble(message.data)
