"""The healthy demo machine reads like a machine: published limits, one source beside each."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book.situations import Situation
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from oracles.demo_machine import SITUATIONS, demo_circuit

OFF = SITUATIONS["key off"]
ON = Situation(key="on")
CRANK = SITUATIONS["cranking"]
RUN = Situation(key="run")
DEAD = Situation(key="off", battery_off=True)


@pytest.fixture(scope="module")
def healthy() -> Circuit:
    return demo_circuit().within(np.zeros(1, np.int64))


def volts(healthy: Circuit, situation: Situation, p: str, n: str = "battery minus") -> float:
    return float(healthy.seen(situation, [Probe(kind="volts", p=p, n=n)]).mean[0, 0])


def amps(healthy: Circuit, situation: Situation, branch: str) -> float:
    return abs(float(healthy.seen(situation, [Probe(kind="amps", p=branch, n="")]).mean[0, 0]))


def ohms(healthy: Circuit, situation: Situation, p: str, n: str) -> float:
    return float(healthy.seen(situation, [Probe(kind="ohms", p=p, n=n)]).mean[0, 0])


def test_a_full_battery_at_rest(healthy):
    """BCI: 12.45 V at 75 %, 12.65 V at 100 %, 26.7 C."""
    assert 12.45 <= volts(healthy, OFF, "battery.+") <= 12.70


def test_nothing_drains_the_battery_with_the_key_off(healthy):
    """MACS Service Reports: practical limit 50 mA."""
    assert amps(healthy, OFF, "battery/cells") < 0.050


def test_battery_while_cranking(healthy):
    """NAVEDTRA 14050: 9.6 V or more; a small diesel's starter draws 180 to 220 A typically
    (US Army TM 10-3930-671-24), here taken twice as wide."""
    assert 9.6 <= volts(healthy, CRANK, "battery.+") < 12.0
    assert 100 < amps(healthy, CRANK, "starter/motor") < 400


def test_cable_drops_while_cranking(healthy):
    """Tester instruction sheet: plus cable 0.5 V, both together 0.8 V; Perkins 854F manual:
    battery minus to starter minus 0.7 V at most."""
    plus = volts(healthy, CRANK, "battery.+", "starter.30")
    minus = volts(healthy, CRANK, "engine")
    assert 0.05 < plus <= 0.5
    assert 0.05 < minus <= 0.7
    assert plus + minus <= 0.8


def test_start_control_circuit_loses_no_more_than_a_volt(healthy):
    """US Army TM 5-2420-230-24-2: starter solenoid control circuit, cranking, 1.0 V at 12 V."""
    lost = volts(healthy, CRANK, "battery.+", "starter.50") - volts(
        healthy, CRANK, "battery.+", "B1"
    )
    assert 0.0 < lost <= 1.0


def test_charging_voltage(healthy):
    """Battery tester manual: 13.3 to 15.0 V."""
    assert 13.3 <= volts(healthy, RUN, "battery.+") <= 15.0
    assert amps(healthy, RUN, "alternator/output") > 5.0


@pytest.mark.parametrize("group", ["A", "B"])
@pytest.mark.parametrize("situation", [ON, CRANK, RUN], ids=["on", "crank", "run"])
def test_sensor_supplies_are_five_volts(healthy, group, situation):
    """Car makers: 4.8 to 5.2 V; Cat 3406E: 5.0 +/- 0.2 V."""
    assert 4.8 <= volts(healthy, situation, f"ECU:group {group}", "ECU:ground") <= 5.2


@pytest.mark.parametrize("pin", ["21", "22", "23", "24", "25", "26", "27"])
@pytest.mark.parametrize("situation", [ON, CRANK, RUN], ids=["on", "crank", "run"])
def test_ratiometric_signals_lie_in_their_window(healthy, pin, situation):
    """Rail sensor pages of several makers: 0.5 to 4.5 V; a digit of 0.02 V is allowed."""
    assert 0.48 <= volts(healthy, situation, f"ECU.{pin}", "ECU:ground") <= 4.52


def test_boost_with_the_engine_stopped_is_the_air_of_the_day(healthy):
    """Absolute kPa: 101.3 at sea level (ISO 2533)."""
    shown = demo_circuit().book.displays["ECU", "boost pressure"]
    volts_of = Probe(kind="inner", p=f"ECU:{shown.pin.name}", n="ECU:ground")
    at = float(healthy.seen(ON, [volts_of]).mean[0, 0])
    kpa = shown.low + (at - shown.low_v) * (shown.high - shown.low) / (shown.high_v - shown.low_v)
    assert kpa == pytest.approx(101.3, abs=3.0)


def test_can_bus_is_60_ohm_with_the_power_off(healthy):
    """Two terminators of 120 ohm: 60 across the pair, power off (Kia manual)."""
    assert ohms(healthy, DEAD, "ECU.70", "ECU.71") == pytest.approx(60, abs=1.5)
    assert ohms(healthy, DEAD, "display.3", "display.4") == pytest.approx(60, abs=1.5)


def test_can_bus_with_one_terminator_off_is_120_ohm(healthy):
    """As above, one terminator gone."""
    off = Situation(key="off", battery_off=True, unplugged=frozenset({"R1"}))
    assert ohms(healthy, off, "ECU.70", "ECU.71") == pytest.approx(120, abs=3)


def test_can_bus_rests_at_half_of_five_volts(healthy):
    """Kia manual: about 2.5 V on both lines recessive; a meter averages the traffic on top, 3.5 V
    and 1.5 V when dominant."""
    high, low = (volts(healthy, RUN, pin, "ECU:ground") for pin in ("ECU.70", "ECU.71"))
    assert 2.5 <= high < 3.5
    assert 1.5 < low <= 2.5


@pytest.mark.parametrize("plug", ["1", "2", "3"])
def test_glow_plugs_draw_what_their_makers_say(healthy, plug):
    """Westerbeke: 8 to 9 A; 6.9 A at 10.5 V (New Holland LS140)."""
    assert 6.5 <= amps(healthy, ON, f"glow plug {plug}/element") <= 10.0
