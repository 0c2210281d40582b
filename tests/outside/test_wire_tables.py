"""Copper, wire gauges and metric sizes against published tables and worked examples."""

from __future__ import annotations

from math import sqrt

import pytest

from backprobe.base.copper import RESISTIVITY, TEMPERATURE_COEFFICIENT, carries, wire_ohm
from backprobe.base.units import awg_area, parse_quantity
from oracles.bench import Bench, battery, resistor

FOOT = 0.3048

# AWG: ohm per 1000 ft at 20 C. Floyd, Electric Circuit Fundamentals, 2nd edition, wire table.
FLOYD = {
    8: 0.6282, 10: 0.9989, 12: 1.588, 14: 2.525, 16: 4.016, 18: 6.385, 20: 10.15, 22: 16.14,
    24: 25.67,
}  # fmt: skip

# mm2: largest ohm per km at 20 C of plain copper. IEC 60228 class 5 (flexible).
CLASS_5 = {
    0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30, 10.0: 1.91,
    16.0: 1.21, 25.0: 0.780, 35.0: 0.554, 50.0: 0.386, 70.0: 0.272,
}  # fmt: skip


@pytest.mark.parametrize("gauge", FLOYD)
def test_solid_wire_of_a_gauge_resists_what_floyds_table_says(gauge):
    per_1000_ft = RESISTIVITY * 1000 * FOOT / awg_area(str(gauge))
    assert per_1000_ft == pytest.approx(FLOYD[gauge], rel=1e-3)


def test_gauges_have_the_diameters_of_astm_b258():
    """Defined points: 36 AWG is 0.005 in, 4/0 is 0.460 in; 1/0 is 0.3249 in (published)."""
    inch = {
        gauge: 2 * sqrt(awg_area(gauge) / 3.141592653589793) / 0.0254
        for gauge in ("36", "4/0", "1/0")
    }
    assert inch["36"] == pytest.approx(0.005, rel=1e-6)
    assert inch["4/0"] == pytest.approx(0.460, rel=1e-6)
    assert inch["1/0"] == pytest.approx(0.3249, rel=2e-4)


def test_three_gauges_double_the_area_and_ten_are_a_factor_of_ten():
    """LIEC DC ch. 12: the rule of three gauges."""
    assert awg_area("13") / awg_area("16") == pytest.approx(2.0, rel=0.004)
    assert awg_area("8") / awg_area("18") == pytest.approx(10.0, rel=0.02)


@pytest.mark.parametrize("size", CLASS_5)
def test_a_healthy_wire_is_within_ten_percent_below_the_iec_60228_class_5_limit(size):
    per_km = wire_ohm(size * 1e-6, 1000.0)
    assert 0.88 * CLASS_5[size] <= per_km <= CLASS_5[size]


def test_wire_typed_as_a_gauge_and_as_its_area_resist_alike():
    assert parse_quantity("18 AWG").value == pytest.approx(0.8230e-6, rel=1e-4)  # ASTM B258


def test_copper_warms_as_the_iec_says_and_as_a_coil_measured():
    """IEC 60028: 0.00393 per kelvin at 20 C. A stop solenoid's hold-in coil, measured by its
    maker (Thermo King manual): 22.1 to 27.0 ohm at 24 C, 25.6 to 31.2 at 66, 17.3 to 21.1 at -32."""
    assert TEMPERATURE_COEFFICIENT == 0.00393
    at = {celsius: wire_ohm(1e-6, 1.0, celsius) for celsius in (24, 66, -32)}
    for low, high, celsius in ((25.6, 31.2, 66), (17.3, 21.1, -32)):
        assert at[celsius] / at[24] == pytest.approx(low / 22.1, rel=0.01)
        assert at[celsius] / at[24] == pytest.approx(high / 27.0, rel=0.01)


def test_voltage_lost_in_two_long_wires_cold_and_warm():
    """LIEC DC ch. 12: 14 V, a 250 ohm load on two wires of 15 ohm; 20 C: 12.5 V at the load, 0.75 V
    in each wire; 35 C, with the book's own 0.004041 per kelvin: 12.42 V and 0.79 V."""
    for celsius, load, each in ((20, 12.5, 0.75), (35, 12.42, 0.79)):
        ohm = 15.0 * (1 + 0.004041 * (celsius - 20))
        circuit = Bench(
            battery("0", "1", 14.0),
            resistor("out", "1", "2", ohm),
            resistor("load", "2", "3", 250.0),
            resistor("back", "3", "0", ohm),
        )
        assert circuit.volts("2", "3") == pytest.approx(load, abs=0.006)
        assert circuit.volts("1", "2") == pytest.approx(each, abs=0.006)
        assert circuit.volts("3") == pytest.approx(each, abs=0.006)


def test_thin_wall_wire_carries_what_a_catalogue_says():
    """ISO 6722 class B thin-wall wire, catalogue of MK Global."""
    for size, amps in ((0.5, 11.0), (1.0, 16.5), (1.5, 21.0), (2.5, 29.0), (6.0, 50.0)):
        assert carries(size * 1e-6) == pytest.approx(amps)
