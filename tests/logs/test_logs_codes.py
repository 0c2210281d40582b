"""Codes unit by unit, as findings, and the measured values beside them."""

from __future__ import annotations

import pytest

from backprobe.book.situations import Situation
from backprobe.findings.model import CodesFound
from backprobe.logs import CodeSeen, Recording, active_codes, codes_found, read_recording, values
from backprobe.logs.parameters import PARAMETERS, decode_value
from backprobe.logs.trouble import Lamps

PARAMETER = {parameter.spn: parameter for parameter in PARAMETERS}


def recorded(*lines: str) -> Recording:
    text = "".join(f"({n}.5) can0 {line}\n" for n, line in enumerate(lines))
    return read_recording(text.encode(), "day 1.log")


def test_order_in_time_first_and_last_and_what_went_away() -> None:
    recording = recorded(
        "18FECA00#04FF64000401FFFF",  # 100/4
        "18FECA00#04FF9D001201FFFF",  # 157/18 instead
        "18ECFF00#200A0002FFCAFE00",
        "18EBFF00#0144FF9D00120264",
        "18EBFF00#02000402FFFFFFFF",  # 157/18 and 100/4, both count 2
        "18FECB00#00FFA8000405FFFF",  # stored 168/4
        "18FECA03#00FF00000000FFFF",
    )
    engine, gearbox = active_codes(recording)
    assert engine.active == (
        CodeSeen(code="100/4", first_s=0.5, last_s=4.5, messages=2, at_end=True, count=2),
        CodeSeen(code="157/18", first_s=1.5, last_s=4.5, messages=2, at_end=True, count=2),
    )
    assert engine.stored == (
        CodeSeen(code="168/4", first_s=5.5, last_s=5.5, messages=1, at_end=True, count=5),
    )
    assert (engine.lists, engine.lamps.words(), engine.doubts) == (
        3,
        "malfunction indicator on, amber warning on",
        (),
    )
    assert (gearbox.source, gearbox.lists, gearbox.active) == (3, 1, ())
    assert gearbox.lamps == Lamps(mil="off", red_stop="off", amber_warning="off", protect="off")


def test_findings_for_known_units_only_and_silence_is_no_list() -> None:
    recording = recorded(
        "18FECA00#04FF64000400",
        "18FECA00#00FF00000000FFFF",
        "18FECA03#00FF00000000FFFF",
        "18FECA55#04FF64000401FFFF",
        "18FEF747#FFFFFFFFFA00FFFF",
        "18FECB21#00FFA8000405FFFF",
    )
    units = {0: "ECU", 3: "gearbox unit", 0x47: "display", 0x21: "joystick unit"}
    assert codes_found(recording, units, visit=2, at_s=60.0) == (
        CodesFound(
            visit=2,
            at_s=60.0,
            situation=Situation(key="on"),
            note="from day 1.log; no lamp; gone at the end: 100/4",
            unit="ECU",
            active=("100/4",),
        ),
        CodesFound(
            visit=2,
            at_s=60.0,
            situation=Situation(key="on"),
            note="from day 1.log; no lamp",
            unit="gearbox unit",
        ),
    )


def test_a_code_both_active_and_stored_is_active() -> None:
    (found,) = codes_found(
        recorded("18FECA00#04FF64000401FFFF", "18FECB00#04FF64000401FFFF"), {0: "ECU"}
    )
    assert (found.active, found.stored) == (("100/4",), ())


def test_how_often_codes_were_counted_and_which_came_first_are_kept() -> None:
    """J1939-73: SPN low byte, middle byte, FMI with the high bits, conversion bit and count (from
    memory); 100/4 counted 12 times, then 94/4 beside it, 3 times."""
    recording = recorded(
        "18FECA00#04FF6400040CFFFF",
        "18FECA00#04FF6400040CFFFF",
        "18ECFF00#200A0002FFCAFE00",
        "18EBFF00#0104FF6400040C5E",
        "18EBFF00#02000403FFFFFFFF",
    )
    (found,) = codes_found(recording, {0: "ECU"})
    assert dict(zip(found.active, found.counts, strict=True)) == {"100/4": 12, "94/4": 3}
    assert found.first == ("100/4",)


def test_after_the_recorders_clock_was_set_back_nobody_knows_what_came_first() -> None:
    lists = ("(90.0) can0 18FECA00#04FF6400040CFFFF", "(5.0) can0 18FECA00#04FF0A000203FFFF")
    recording = read_recording("\n".join(lists).encode())
    (unit,) = active_codes(recording)
    assert [(one.code, one.first_s, one.last_s) for one in unit.active] == [
        ("100/4", 90.0, 90.0), ("10/2", 5.0, 5.0),
    ]  # fmt: skip
    (found,) = codes_found(recording, {0: "ECU"})
    assert found.first == ()
    both = read_recording("\n".join((lists[0], lists[0].replace("90", "5"))).encode())
    assert [(one.first_s, one.last_s) for one in active_codes(both)[0].active] == [(5.0, 90.0)]


def test_a_lost_or_odd_list_is_not_complete_and_says_why() -> None:
    lost = recorded(
        "18FECA00#04FF64000401FFFF", "18ECFF00#20120003FFCAFE00", "18EBFF00#0100FF5B0003015C"
    )
    (found,) = codes_found(lost, {0: "ECU"})
    assert not found.complete
    assert found.note == (
        "from day 1.log; amber warning on; line 2: a long list was lost, "
        "packet 2 of 3 had not come when the recording ended"
    )
    (found,) = codes_found(recorded("18FECA00#04FF6400"), {0: "ECU"})
    assert (found.active, found.complete) == ((), False)


def test_an_old_packing_is_said() -> None:
    (unit,) = active_codes(recorded("18FECA00#04FFB804038AFFFF"))
    assert unit.active[0].code == "1208/3"
    assert set(unit.active[0].may_also_be) == {"9664/3", "376864/3"}
    (found,) = codes_found(recorded("18FECA00#04FFB804038AFFFF"), {0: "ECU"})
    assert "1208/3 is packed the old way and may also be " in found.note


def test_engine_running_is_seen_from_its_speed() -> None:
    # 649 rpm: pretty_j1939's example log; 200 rpm is a starter's speed
    for data, key in (("207D87481400F087", "run"), ("207D87400600F087", "on")):
        recording = recorded(f"0CF00400#{data}", "18FECA00#04FF64000401FFFF")
        assert codes_found(recording, {0: "ECU"})[0].situation.key == key
    forced = codes_found(recording, {0: "ECU"}, situation=Situation(key="crank"))
    assert forced[0].situation.key == "crank"


# ---------------------------------------------------------------- values


@pytest.mark.parametrize(
    ("spn", "data", "value", "state"),
    [
        (190, "207D87481400F087", 649.0, "valid"),  # pretty_j1939 example log
        (190, "FFFFFF204EFFFFFF", 2500.0, "valid"),  # voltage_j1939 documentation, raw 4E20
        (110, "82FFFFFFFFFFFFFF", 90.0, "valid"),  # voltage_j1939 documentation, raw 130
        (157, "FFFF0019FFFFFFFF", 25.0, "valid"),  # computed: raw 1900 / 256
        (168, "FFFFFFFFFA00FFFF", 12.5, "valid"),  # computed: raw 250 * 0.05
        (100, "FFFFFF65FFFFFFFF", 404.0, "valid"),  # compact tractor recording, running
        (100, "FFFFFFFEFFFFFFFF", None, "error"),  # the same with the sensor off
        (100, "FFFFFFFFFFFFFFFF", None, "not available"),
        (100, "FFFFFFFAFFFFFFFF", 1000.0, "valid"),
        (100, "FFFFFFFBFFFFFFFF", None, "reserved"),
        (190, "FFFFFFFFFAFFFFFF", 8031.875, "valid"),  # the standard's largest speed
        (190, "FFFFFF00FEFFFFFF", None, "error"),
        (190, "FFFFFF00FFFFFFFF", None, "not available"),
    ],
)
def test_scaled_value(spn: int, data: str, value: float | None, state: str) -> None:
    assert decode_value(PARAMETER[spn], bytes.fromhex(data)) == (value, state)


def test_a_message_too_short_for_a_value_gives_none() -> None:
    assert decode_value(PARAMETER[168], bytes(5)) is None


def test_values_by_number_and_source() -> None:
    recording = recorded(
        "18FEEF00#FFFFFF65FFFFFFFF",
        "18FEEF00#FFFFFFFEFFFFFFFF",
        "18FEEF00#FFFFFF",
        "18FEEF01#FFFFFF64FFFFFFFF",
    )
    oil = [series for series in values(recording) if series.parameter.spn == 100]
    assert [(s.source, s.valid()) for s in oil] == [(0, (404.0,)), (1, (400.0,))]
    assert (oil[0].count("error"), oil[0].count("valid"), len(oil[0].samples)) == (1, 1, 2)
    assert (oil[0].parameter.name, oil[0].parameter.unit) == ("oil pressure", "kPa")
