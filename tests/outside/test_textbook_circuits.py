"""Circuits with published answers, through the engine. Numbers only are taken from the books.

LIEC = T. R. Kuphaldt, Lessons in Electric Circuits, volume I DC (Design Science License).
OpenStax = University Physics volume 2, sections 10.2 and 10.3; College Physics 2e, section 21.3.
Printed digits set the tolerance; the engine's leak of 1 GOhm per node is far below them.
"""

from __future__ import annotations

import pytest

from oracles.bench import Bench, battery, opened, resistor, shorted


def close(value: float, printed: float, digits: float) -> None:
    """Equal to the printed figure, which was rounded to `digits`."""
    assert value == pytest.approx(printed, abs=digits / 2 + 1e-9)


SERIES = Bench(
    battery("0", "1", 9.0),
    resistor("R1", "1", "2", 100.0),
    resistor("R2", "2", "3", 300.0),
    resistor("R3", "3", "0", 50.0),
)


@pytest.mark.parametrize(
    ("changes", "milliamps", "volts"),
    [
        ((), 20.0, (2.0, 6.0, 1.0)),
        ((shorted("2", "3"),), 60.0, (6.0, 0.0, 3.0)),
        ((opened("R2"),), 0.0, (0.0, 9.0, 0.0)),
    ],
    ids=["healthy", "R2 shorted", "R2 open"],
)
def test_series_circuit_healthy_shorted_and_open(changes, milliamps, volts):
    """LIEC DC, series circuits and their failure: 9 V, 100 + 300 + 50 ohm."""
    drops = [SERIES.volts(p, n, *changes) for p, n in (("1", "2"), ("2", "3"), ("3", "0"))]
    assert drops == pytest.approx(volts, abs=2e-6)
    assert 1e3 * SERIES.amps("R1", *changes) == pytest.approx(milliamps, abs=3e-5)


PARALLEL = Bench(
    battery("0", "1", 9.0),
    resistor("R1", "1", "0", 90.0),
    resistor("R2", "1", "0", 45.0),
    resistor("R3", "1", "0", 180.0),
)


@pytest.mark.parametrize(
    ("changes", "branches", "total"),
    [((), (100.0, 200.0, 50.0), 350.0), ((opened("R2"),), (100.0, 0.0, 50.0), 150.0)],
    ids=["healthy", "R2 open"],
)
def test_parallel_circuit_with_one_branch_open_leaves_the_others_alone(changes, branches, total):
    """LIEC DC, parallel circuits and their failure: 9 V on 90, 45 and 180 ohm."""
    amps = [1e3 * PARALLEL.amps(name, *changes) for name in ("R1", "R2", "R3")]
    assert amps == pytest.approx(branches, abs=1e-6)
    assert -1e3 * PARALLEL.amps("E", *changes) == pytest.approx(total, abs=1e-4)


COMBINED = Bench(
    battery("0", "1", 24.0),
    resistor("R1", "1", "2", 100.0),
    resistor("R2", "1", "2", 250.0),
    resistor("R3", "2", "0", 350.0),
    resistor("R4", "2", "0", 200.0),
)


def test_series_parallel_circuit_healthy():
    """LIEC DC, series-parallel: 24 V, (100 || 250) + (350 || 200): 198.70 ohm, 120.78 mA."""
    close(-1e3 * COMBINED.amps("E"), 120.78, 0.01)
    close(24.0 / -COMBINED.amps("E"), 198.70, 0.01)
    close(COMBINED.volts("1", "2"), 8.6275, 1e-4)
    close(COMBINED.volts("2"), 15.373, 1e-3)
    close(1e3 * COMBINED.amps("R3"), 43.922, 1e-3)
    close(1e3 * COMBINED.amps("R4"), 76.863, 1e-3)


def test_series_parallel_circuit_with_a_part_shorted_moves_all_nine_arrows():
    """LIEC DC, the same circuit, R2 shorted: which voltages and currents rise and fall."""
    short = shorted("1", "2")
    # R2 failed: its current is that of the short beside it, what R1 does not carry of the whole.
    before = {
        "I total": -COMBINED.amps("E"),
        "R1 V": COMBINED.volts("1", "2"),
        "R1 I": COMBINED.amps("R1"),
        "R2 V": COMBINED.volts("1", "2"),
        "R2 I": -COMBINED.amps("E") - COMBINED.amps("R1"),
        "R3 V": COMBINED.volts("2"),
        "R3 I": COMBINED.amps("R3"),
        "R4 V": COMBINED.volts("2"),
        "R4 I": COMBINED.amps("R4"),
    }
    after = {
        "I total": -COMBINED.amps("E", short),
        "R1 V": COMBINED.volts("1", "2", short),
        "R1 I": COMBINED.amps("R1", short),
        "R2 V": COMBINED.volts("1", "2", short),
        "R2 I": -COMBINED.amps("E", short) - COMBINED.amps("R1", short),
        "R3 V": COMBINED.volts("2", "0", short),
        "R3 I": COMBINED.amps("R3", short),
        "R4 V": COMBINED.volts("2", "0", short),
        "R4 I": COMBINED.amps("R4", short),
    }
    arrows = {name: "up" if after[name] > before[name] else "down" for name in before}
    assert arrows == {
        "I total": "up",
        "R1 V": "down",
        "R1 I": "down",
        "R2 V": "down",
        "R2 I": "up",
        "R3 V": "up",
        "R3 I": "up",
        "R4 V": "up",
        "R4 I": "up",
    }


def test_two_sources_charge_the_smaller_one():
    """LIEC DC ch. 10: 28 V behind 4 ohm and 7 V behind 1 ohm on 2 ohm: 20, 8, 1 V; 5, 4, 1 A."""
    circuit = Bench(
        battery("0", "1", 28.0, name="E1"),
        resistor("R1", "1", "2", 4.0),
        resistor("R2", "2", "0", 2.0),
        resistor("R3", "2", "3", 1.0),
        battery("0", "3", 7.0, name="E2"),
    )
    found = [circuit.volts("1", "2"), circuit.volts("2"), circuit.volts("2", "3")]
    assert found == pytest.approx([20.0, 8.0, 1.0], abs=1e-6)
    amps = [circuit.amps(name) for name in ("R1", "R2", "R3", "E2")]
    assert amps == pytest.approx([5.0, 4.0, 1.0, 1.0], abs=1e-6)


def test_thevenin_and_norton_seen_from_the_load():
    """LIEC DC ch. 10, the same circuit with the 2 ohm load out: 11.2 V, 0.8 ohm, 14 A."""
    circuit = Bench(
        battery("0", "1", 28.0, name="E1"),
        resistor("R1", "1", "2", 4.0),
        resistor("R2", "2", "0", 2.0),
        resistor("R3", "2", "3", 1.0),
        battery("0", "3", 7.0, name="E2"),
        resistor("ammeter", "2", "a", 1e-6),
        resistor("lead", "a", "0", 1e-6),
    )
    out = (opened("R2"), opened("lead"))
    assert circuit.volts("2", "0", *out) == pytest.approx(11.2, abs=1e-6)
    norton = circuit.amps("ammeter", opened("R2"))
    assert norton == pytest.approx(14.0, abs=1e-4)
    assert circuit.volts("2", "0", *out) / norton == pytest.approx(0.8, abs=1e-5)


def test_unbalanced_bridge_of_250_ohm():
    """LIEC DC ch. 10: 24 V on a bridge of 150, 50, 100 (across), 300, 250 ohm."""
    circuit = Bench(
        battery("0", "1", 24.0),
        resistor("12", "1", "2", 150.0),
        resistor("13", "1", "3", 50.0),
        resistor("32", "3", "2", 100.0),
        resistor("20", "2", "0", 300.0),
        resistor("30", "3", "0", 250.0),
    )
    close(circuit.volts("1", "2"), 6.345, 1e-3)
    close(circuit.volts("1", "3"), 4.690, 1e-3)
    close(circuit.volts("3", "2"), 1.655, 1e-3)
    close(circuit.volts("2"), 17.66, 1e-2)
    close(circuit.volts("3"), 19.31, 1e-2)
    for name, printed in {
        "12": 42.299, "13": 93.793, "32": 16.552, "20": 58.851, "30": 77.241
    }.items():  # fmt: skip
        close(1e3 * circuit.amps(name), printed, 1e-3)
    close(-1e3 * circuit.amps("E"), 136.092, 1e-3)


def test_unbalanced_bridge_of_12_and_18_ohm():
    """LIEC DC ch. 10: 10 V on a bridge of 12, 18, 6 (across), 18, 12 ohm."""
    circuit = Bench(
        battery("0", "1", 10.0),
        resistor("R1", "1", "2", 12.0),
        resistor("R2", "1", "3", 18.0),
        resistor("R3", "2", "3", 6.0),
        resistor("R4", "2", "0", 18.0),
        resistor("R5", "3", "0", 12.0),
    )
    close(circuit.volts("1", "2"), 4.706, 1e-3)
    close(circuit.volts("1", "3"), 5.294, 1e-3)
    close(circuit.volts("2", "3"), 0.5882, 1e-4)
    close(circuit.volts("2"), 5.294, 1e-3)
    close(circuit.volts("3"), 4.706, 1e-3)


def test_node_voltages_with_two_sources_of_opposite_sign():
    """LIEC DC ch. 10: 10 V - 2 ohm - n1, n1 4 ohm, n1 2.5 ohm n2, n2 5 ohm, n2 - 1 ohm - (-4 V)."""
    circuit = Bench(
        battery("0", "a", 10.0, name="E1"),
        resistor("R1", "a", "n1", 2.0),
        resistor("R2", "n1", "0", 4.0),
        resistor("R3", "n1", "n2", 2.5),
        resistor("R4", "n2", "0", 5.0),
        resistor("R5", "n2", "b", 1.0),
        battery("b", "0", 4.0, name="E2"),
    )
    close(circuit.volts("n1"), 3.8095, 1e-4)
    close(circuit.volts("n2"), -1.5476, 1e-4)


def test_a_meter_loads_what_it_measures():
    """LIEC DC ch. 8: two 250 Mohm on 24 V, a 10 Mohm meter on one reads 0.8889 V, the other
    has 23.1111 V. In kilohm instead of megohm, so that the 1 Gohm leak of the node is nothing;
    as printed, the leak pulls the reading down by less than 1 %."""
    for scale, tolerance in ((1e-3, 1e-3), (1.0, 1e-2)):
        circuit = Bench(
            battery("0", "1", 24.0),
            resistor("R1", "1", "2", 250e6 * scale),
            resistor("R2", "2", "0", 250e6 * scale),
        )
        meter = shorted("2", "0", 10e6 * scale)
        assert circuit.volts("2", "0", meter) == pytest.approx(0.8889, rel=tolerance)
        assert circuit.volts("1", "2", meter) == pytest.approx(23.1111, rel=tolerance)


def test_three_sources_in_two_loops():
    """OpenStax University Physics vol. 2, 10.3: 3 I1 - 8 I2 = -1.8; 8 I2 + I3 = 2.9;
    I1 + I2 = I3: 0.20, 0.30, 0.50 A (currents towards node a through branches of 3, 8, 1 ohm)."""
    circuit = Bench(
        battery("0", "1", 1.1, name="E1"),
        resistor("R1", "1", "a", 3.0),
        battery("0", "2", 2.9, name="E2"),
        resistor("R2", "2", "a", 8.0),
        resistor("R3", "a", "0", 1.0),
    )
    amps = [circuit.amps(name) for name in ("R1", "R2", "R3")]
    assert amps == pytest.approx([0.20, 0.30, 0.50], abs=1e-7)


def test_opposed_batteries_one_charging_the_other():
    """OpenStax University Physics vol. 2, 10.3: 24 V against 12 V in a loop of 10 + 30 + 20 ohm
    (its printed answers need 20): 0.20 A; 0.40, 1.20, 0.80 W, 2.40 W in and 4.80 W out."""
    circuit = Bench(
        battery("0", "1", 24.0, name="E1"),
        resistor("R1", "1", "2", 10.0),
        resistor("R2", "2", "3", 30.0),
        battery("4", "3", 12.0, name="E2"),
        resistor("R3", "4", "0", 20.0),
    )
    amps = circuit.amps("R1")
    assert amps == pytest.approx(0.20, abs=1e-7)
    watts = [
        circuit.volts("1", "2") * amps,
        circuit.volts("2", "3") * amps,
        circuit.volts("4") * amps,
        circuit.volts("3", "4") * circuit.amps("E2"),
        -circuit.volts("1") * circuit.amps("E1"),
    ]
    assert watts == pytest.approx([0.40, 1.20, 0.80, 2.40, 4.80], abs=2e-6)


def test_ladder_and_parallel_resistors():
    """OpenStax University Physics vol. 2, 10.2: 12 V on 1 + (6 || 13) ohm: 5.10 ohm, 2.35 A;
    3 V on 1, 2 and 2 ohm in parallel: 0.5 ohm, 6 A."""
    ladder = Bench(
        battery("0", "1", 12.0),
        resistor("R1", "1", "2", 1.0),
        resistor("R2", "2", "0", 6.0),
        resistor("R3", "2", "0", 13.0),
    )
    close(ladder.amps("R1"), 2.35, 0.01)
    close(12.0 / ladder.amps("R1"), 5.10, 0.02)  # the book rounds 5.105 down
    abreast = Bench(
        battery("0", "1", 3.0),
        *(resistor(f"R{k}", "1", "0", ohm) for k, ohm in enumerate((1, 2, 2))),
    )
    assert -abreast.amps("E") == pytest.approx(6.0, abs=1e-7)


def test_two_loops_with_a_current_that_runs_backwards():
    """OpenStax College Physics 2e, 21.3: I1 = I2 + I3, -3 I2 + 18 - 6 I1 = 0,
    6 I1 + 2 I3 - 45 = 0: 4.75, -3.50, 8.25 A."""
    circuit = Bench(
        resistor("R1", "a", "0", 6.0),
        battery("0", "b", 18.0, name="E2"),
        resistor("R2", "b", "a", 3.0),
        battery("0", "c", 45.0, name="E3"),
        resistor("R3", "c", "a", 2.0),
    )
    into = circuit.amps("R2"), circuit.amps("R3")
    # I1 leaves node a through 6 ohm and is the sum of what comes in through 3 and 2 ohm.
    assert circuit.amps("R1") == pytest.approx(4.75, abs=1e-6)
    assert into == pytest.approx((-3.50, 8.25), abs=1e-6)
