"""Figures of the kinds against published sheets, manuals and standards, named beside each."""

from __future__ import annotations

from math import inf

import pytest

from backprobe.kinds import GROUP, HAZARDS, KINDS, ROLES
from backprobe.kinds.fuse import BLOWS_AT
from backprobe.kinds.records import Attrs, Value
from backprobe.kinds.values import complete, number


def value(name: str, attribute: str, *, volts: float = 12.0, **typed: float | str) -> float:
    kind = KINDS[name]
    return number(attribute, complete(kind.attributes, typed, volts=volts))


def branch_ohm(name: str, branch: str, **typed: float | str) -> float:
    kind = KINDS[name]
    ohm: Value = next(one.ohm for one in kind.branches if one.name == branch)
    return number(ohm, complete(kind.attributes, typed))


def move_bound(name: str, state: str, to: str, attrs: Attrs) -> float:
    move = next(one for one in KINDS[name].moves if one.state == state and one.to == to)
    bound = move.above if move.above is not None else move.below
    assert bound is not None
    return number(bound, attrs)


@pytest.mark.parametrize(
    ("amps", "mohm", "source"),
    [
        (10.0, 7.69, "fuse voltage-drop page, Littelfuse 287: 1 mV is 130 mA"),
        (25.0, 2.52, "Littelfuse 287 sheet, cold"),
        (40.0, 1.44, "Littelfuse 287 sheet rev. 18 Aug 2022, cold"),
        (15.0, 4.58, "Littelfuse 297 sheet, cold; MACS 2017 chart 1.0 mV is 218 mA: 4.59"),
        (7.5, 10.85, "Littelfuse 297 sheet, cold"),
        (30.0, 1.9, "Littelfuse 299 sheet, cold"),
    ],
)
def test_fuse_milliohms_match_the_sheets(amps: float, mohm: float, source: str) -> None:
    assert 1e3 * value("fuse", "ohm", amps=amps) == pytest.approx(mohm, rel=0.05), source


def test_fuse_milliohms_between_and_beyond_the_table_fall_with_the_rating() -> None:
    ratings = [1, 1.5, 2, 3, 4, 5, 6, 7.5, 9, 10, 12, 15, 20, 25, 30, 35, 40, 50, 60, 80]
    ohms = [value("fuse", "ohm", amps=float(amps)) for amps in ratings]
    assert ohms == sorted(ohms, reverse=True)
    # Littelfuse 299 sheet: 35 A 1.7 mohm.
    assert 1e3 * value("fuse", "ohm", amps=35.0) == pytest.approx(1.7, rel=0.05)


def test_a_fuse_holds_its_rating_and_opens_at_twice_it() -> None:
    """Littelfuse 287 sheet and ISO 8820-3: 100 % held 100 h, 135 % opens in 0.75-600 s."""
    for amps in (5.0, 10.0, 30.0):
        attrs = complete(KINDS["fuse"].attributes, {"amps": amps})
        limit = move_bound("fuse", "element", "blown", attrs)
        assert 1.10 * amps < limit <= 1.35 * amps
    assert BLOWS_AT == 1.35


def test_a_slow_main_fuse_outlives_135_percent_and_opens_at_200() -> None:
    """Littelfuse 299 sheet: 135 % lasts 60-1800 s, 200 % 2-50 s."""
    attrs = complete(KINDS["fusible link"].attributes, {"amps": 80.0})
    assert 1.35 * 80.0 < move_bound("fusible link", "element", "blown", attrs) <= 160.0


def test_relay_coil_lies_within_the_sheets() -> None:
    """TE V23134 12 V: 90 ohm +/- 10 %, 1.6 W; Panasonic CB 12 V: 103 ohm; Panasonic CB1R 24 V:
    287 ohm with 2.8 kohm in parallel, so 320 ohm alone."""
    coil = value("relay", "coil")
    assert 81.0 <= coil <= 99.0
    assert 12.0**2 / coil == pytest.approx(1.6, rel=0.05)
    assert value("relay", "coil", volts=24.0) == pytest.approx(320.0, rel=0.01)
    suppressed = complete(KINDS["relay"].attributes, {"suppressed": "resistor"}, volts=24.0)
    ohm = next(one.ohm for one in KINDS["relay"].branches if one.name == "coil")
    assert number(ohm, suppressed) == pytest.approx(287.2, rel=0.01)


def test_relay_pulls_in_and_drops_out_where_the_sheets_say() -> None:
    """TE V23134: must operate 7.2 V, must release 1.6 V. Panasonic CB: 7 V at most, 1.2 V at
    least. The move is by current: volts are those amperes times the coil."""
    attrs = complete(KINDS["relay"].attributes, {})
    coil = number("coil", attrs)
    assert coil * move_bound("relay", "contact", "closed", attrs) == pytest.approx(7.2)
    assert coil * move_bound("relay", "contact", "buzzing", attrs) == pytest.approx(1.6)


def test_relay_contact_drops_20_millivolts_at_10_amperes() -> None:
    """TE Power Relay K sheet, new."""
    assert 10.0 * value("relay", "contact") == pytest.approx(0.020)


@pytest.mark.parametrize(
    ("watts", "volts", "amps"), [(55.0, 12.0, 4.6), (21.0, 12.0, 1.75), (70.0, 24.0, 2.9)]
)
def test_lamps_draw_what_ohms_law_says(watts: float, volts: float, amps: float) -> None:
    """The test lamps of the trade: 12 V 55 W 4.6 A, 12 V 21 W 1.75 A, 24 V 70 W 2.9 A."""
    assert volts / value("lamp", "ohm", volts=volts, watts=watts) == pytest.approx(amps, rel=0.01)


def test_loads_given_in_amperes_draw_those() -> None:
    """Ohm's law."""
    for name in ("pump", "fan", "motor", "horn", "heater"):
        assert 12.0 / value(name, "ohm", amps=4.5) == pytest.approx(4.5)
        assert 12.0 / value(name, "ohm", watts=60.0) == pytest.approx(5.0)


def test_solenoid_in_watts_ohms_or_amperes() -> None:
    """Ohm's law: 12 V 18 W is 8 ohm; 24 V 18 W is 32 ohm."""
    assert value("solenoid", "ohm", watts=18.0) == pytest.approx(8.0)
    assert value("solenoid", "ohm", watts=18.0, volts=24.0) == pytest.approx(32.0)
    assert value("solenoid", "ohm", amps=2.0) == pytest.approx(6.0)


def test_glow_plug_is_a_westerbeke_one() -> None:
    """Westerbeke: 1.0-1.5 ohm, 8-9 A at 12 V."""
    ohm = value("glow plug", "ohm")
    assert 1.0 <= ohm <= 1.5
    assert 8.0 <= 12.0 / ohm <= 9.0
    assert value("glow plug", "ohm", count=3.0) == pytest.approx(ohm / 3.0)


def test_one_dead_glow_plug_of_three_leaves_two() -> None:
    """Parallel resistances: R/3 becomes R/2."""
    kind = KINDS["glow plug"]
    failure = next(one for one in kind.failures if one.name == "open")
    attrs = complete(kind.attributes, {"count": 3.0})
    one = value("glow plug", "ohm")
    left = number("ohm", attrs) + number(failure.changes[0].ohm, attrs)  # type: ignore[union-attr]
    assert left == pytest.approx(one / 2.0)
    alone = complete(kind.attributes, {})
    assert number(failure.changes[0].ohm, alone) == inf  # type: ignore[union-attr]


def test_stop_solenoid_windings() -> None:
    """Workshop manual of a compact excavator's fuel stop solenoid, 12 V: pull-in 0.3-0.8 ohm, hold-in 15-16 ohm and 0.77 A at 20 C."""
    assert 0.3 <= value("stop solenoid", "pull in") <= 0.8
    assert 12.0 / value("stop solenoid", "hold in") == pytest.approx(0.77, rel=0.02)


def test_starter_draws_a_usual_cranking_current() -> None:
    """US Army TM 10-3930-671-24: 180-220 A typical. NAVEDTRA 14050: 9.6 V at the battery at
    least; the motor then has about 10 V."""
    assert 180.0 <= 10.0 / value("starter", "ohm") <= 220.0
    assert value("starter", "ohm", volts=24.0) == pytest.approx(2.0 * value("starter", "ohm"))


def test_starter_solenoid_draws_between_the_small_and_the_large() -> None:
    """US Army TM 5-2420-230-24-2, 12 V: hold-in 13 A (28MT) the smallest listed, pull-in and
    hold-in together 69 A; a compact machine's starter lies below both."""
    hold, pull = value("starter", "hold in"), value("starter", "pull in")
    assert 8.0 <= 12.0 / hold <= 13.0
    assert 30.0 <= 12.0 / hold + 12.0 / pull <= 69.0


def test_full_battery_rests_where_the_bci_table_says() -> None:
    """BCI table at 26.7 C: 100 % 12.65 V, 75 % 12.45 V; x2 for 24 V."""
    assert 12.45 < value("battery", "rest") <= 12.65
    assert value("battery", "rest", volts=24.0) == pytest.approx(2 * value("battery", "rest"))


@pytest.mark.parametrize(
    ("charge", "rest"), [(1.0, 12.65), (0.75, 12.45), (0.5, 12.24), (0.25, 12.06), (0.0, 11.89)]
)
def test_a_battery_rests_by_its_charge(charge: float, rest: float) -> None:
    """BCI table at 26.7 C; twice that for 24 V."""
    assert value("battery", "rest", charge=charge) == pytest.approx(rest)
    assert value("battery", "rest", volts=24.0, charge=charge) == pytest.approx(2 * rest)


@pytest.mark.parametrize(
    ("celsius", "left"), [(21.0, 9.6), (16.0, 9.5), (10.0, 9.4), (4.0, 9.3), (-18.0, 8.5)]
)
def test_a_battery_in_the_cold_loses_what_a_load_test_allows(celsius: float, left: float) -> None:
    """Two car makers' load test table: at half the cold cranking amperes, 15 s, so much must be
    left. A battery in use stays above it and falls as the table does."""
    ohm = value("battery", "ohm", temperature=celsius)
    assert value("battery", "rest") - 325.0 * ohm > left
    assert ohm / value("battery", "ohm") == pytest.approx((12.6 - left) / 3.0, rel=1e-6)


def test_a_warm_battery_is_no_better_than_one_in_the_shop() -> None:
    """The table ends at 21 C; nothing is claimed beyond it."""
    assert value("battery", "ohm", temperature=40.0) == value("battery", "ohm")
    assert value("battery", "ohm", temperature=-30.0) > value("battery", "ohm", temperature=-18.0)


def test_battery_holds_7_2_volts_at_its_cold_cranking_current() -> None:
    """SAE J537 (from memory): 7.2 V after 30 s at the printed current."""
    for amps in (450.0, 650.0, 900.0):
        left = value("battery", "rest") - amps * value("battery", "ohm", amps=amps)
        assert left == pytest.approx(7.2)


def test_battery_stays_above_the_load_test_limit_with_a_usual_starter() -> None:
    """NAVEDTRA 14050: 9.6 V at least while cranking."""
    assert value("battery", "rest") - 220.0 * value("battery", "ohm") > 9.6


def test_alternator_regulates_inside_the_charging_band() -> None:
    """Battery tester manual: 13.3-15.0 V and 26.6-30.0 V."""
    assert 13.3 <= value("alternator", "regulated") <= 15.0
    assert 26.6 <= value("alternator", "regulated", volts=24.0) <= 30.0


def test_inductive_sensor_lies_among_the_published_ones() -> None:
    """Car makers' workshop manuals, at 20 C: 387-473, 486-594, 560-680 and 1630-2740 ohm."""
    assert 387.0 <= value("inductive sensor", "ohm") <= 2740.0


def test_rail_sensor_reads_within_the_ratiometric_window() -> None:
    """0.5-4.5 V of 5 V; supply to signal up to 3 kohm unpowered (a rail
    sensor in a car maker's workshop manual)."""
    for name in ("rest", "cranking", "running"):
        assert 0.1 <= value("three-wire sensor", name) <= 0.9
    upper = branch_ohm("three-wire sensor", "rest upper")
    assert upper + value("three-wire sensor", "output") <= 3000.0


def test_metering_valve_is_a_diesel_one() -> None:
    """A car maker's test of a diesel metering valve: 3.2 ohm +/- 1 (petrol ones differ widely)."""
    assert 2.2 <= value("PWM valve", "ohm") <= 4.2


def test_terminator_is_120_ohm_and_two_make_60() -> None:
    """ISO 11898-2 (from memory) and a car maker's manual: 120 ohm at each end, 60 across."""
    ohm = value("terminator", "ohm")
    assert ohm == 120.0
    assert ohm / 2.0 == 60.0
    inside = next(one for one in ROLES["CAN high"].branches if one.name == "terminator")
    attributes = ROLES["CAN high"].attributes
    assert number(inside.ohm, complete(attributes, {"terminated": "yes"})) == 120.0
    assert number(inside.ohm, complete(attributes, {})) == inf


def test_can_node_ohms_lie_in_the_published_band() -> None:
    """10-50 kohm between the lines of an unplugged unit (maker's terminal-resistor page)."""
    low, high = (
        next(one.ohm for one in ROLES[name].branches if one.name == "bias off")
        for name in ("CAN high", "CAN low")
    )
    assert 10e3 <= number(low, {}) + number(high, {}) <= 50e3


def test_sensor_supply_is_5_volts() -> None:
    """Diesel engine maker's manual: sensor supplies of 5.0 +/- 0.2 V."""
    attrs = complete(GROUP.attributes, {})
    assert 4.8 <= number("volts", attrs) <= 5.2


def test_ground_strap_is_no_better_than_its_copper() -> None:
    """IEC 60228 class 5: 0.780 ohm/km at 25 mm2, so 0.23 mohm for 0.3 m; healthy ones lose less
    than 0.2 V at 100 A (US Army TM 10-3930-671-24)."""
    lugs = branch_ohm("ground strap", "lug 1") + branch_ohm("ground strap", "lug 2")
    total = branch_ohm("ground strap", "braid") + lugs
    assert 0.3 * 0.780e-3 <= total <= 0.2 / 100.0


def test_starter_is_never_to_be_bridged() -> None:
    """SAE J1493."""
    assert "starter-bypass" in KINDS["starter"].hazards
    assert HAZARDS["starter-bypass"].authority == "SAE J1493"


def test_cranking_is_limited_to_30_seconds() -> None:
    """US Army TM 10-3930-671-24: 30 s, then 2 minutes."""
    assert "30 seconds" in HAZARDS["crank-limit"].words
    assert "2 minutes" in HAZARDS["crank-limit"].words
