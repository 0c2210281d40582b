"""A pulsed driver taken at the average, against ngspice switching a real coil with a real diode: a
transient run, its means over whole periods. And a diode of two straight lines against the
exponential one."""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from oracles.ngspice import NGSPICE, read_raw

RUN = Situation(key="run")
MACHINE = """book format 1
machine bench, 12 V
battery: battery 12 V, ohm 0.01 ohm
ECU: control unit, on frame
V1: PWM valve {ohm} ohm
ECU.1: supply
ECU.2: ground
ECU.6: PWM driver, in run, duty {duty} %, frequency {hertz} Hz
battery.- > frame, 35 mm2, 0.3 m, wire minus
battery.+ > ECU.1, 2.5 mm2, 0.3 m, wire b
ECU.2 > frame, 2.5 mm2, 0.3 m, wire c
battery.+ > V1.1, 1.5 mm2, 1 m, wire d
V1.2 > ECU.6, 1.5 mm2, 1 m, wire e
"""
HENRY = 0.02
"""A coil of a proportional valve: tens of millihenry (from memory), so that L/R is longer than a period."""


def averaged(ohm: float, duty: float, hertz: float) -> tuple[float, float, float]:
    """Mean coil amperes, mean volts at the driver's pin, mean amperes out of the battery."""
    book, problems = read_book(MACHINE.format(ohm=ohm, duty=100 * duty, hertz=hertz))
    assert book is not None, problems
    circuit = Circuit.of(book).within(np.zeros(1, np.int64))
    probes = [
        Probe(kind="amps", p="V1/coil"),
        Probe(kind="volts", p="ECU.6"),
        Probe(kind="amps", p="battery/cells"),
    ]
    coil, pin, battery = (float(v) for v in circuit.seen(RUN, probes).mean[0])
    off = Situation(key="run", unplugged=frozenset({"V1"}))
    idle = float(circuit.seen(off, probes[2:]).mean[0, 0])
    return coil, pin, idle - battery


def switched(ohm: float, duty: float, hertz: float, folder: Path) -> tuple[float, float, float]:
    """The same from a transient: 12.6 V behind 10 mohm, coil, switch of 0.15 ohm to ground,
    free-wheeling diode to the supply; means over the last twenty periods of eighty."""
    period = 1.0 / hertz
    text = f"""* pulsed coil
V1 e 0 DC 12.6
Rb e s 0.01
Rw s a 0.03
Lc a b {HENRY} IC=0
Rc b p {ohm}
S1 p 0 g 0 closed
.model closed SW(VT=0.5 VH=0 RON=0.15 ROFF=1e8)
Vg g 0 PULSE(0 1 0 {period / 1e4} {period / 1e4} {duty * period} {period})
D1 p s free
.model free D(IS=1e-8 RS=0.02 N=1.2)
.options reltol=1e-4
.tran {period / 400} {80 * period} {60 * period} {period / 400} UIC
.end
"""
    (folder / "pulse.cir").write_text(text, encoding="ascii")
    assert NGSPICE is not None
    run = subprocess.run(
        [NGSPICE, "-b", "-r", "pulse.raw", "pulse.cir"],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (folder / "pulse.raw").exists(), run.stdout + run.stderr
    found = read_raw((folder / "pulse.raw").read_bytes())
    time = found["time"]
    span = time[-1] - time[0]
    assert span == pytest.approx(20 * period, rel=1e-3)

    def mean(values: np.ndarray) -> float:
        return float(np.trapezoid(values, time) / span)

    return mean(found["i(lc)"]), mean(found["v(p)"]), mean(-found["i(v1)"])


@pytest.mark.parametrize("ohm", [3.0, 8.0])
@pytest.mark.parametrize("duty", [0.2, 0.4, 0.7])
@pytest.mark.parametrize("hertz", [200.0, 1000.0])
def test_the_average_of_a_pulsed_coil_is_what_the_pulses_average_to(
    ohm, duty, hertz, ngspice, tmp_path
):
    """An averaging meter shows the mean. The engine's free-wheel path has no diode, so its volts are
    low by (1 - duty) of a diode's drop, and its current high by that over the coil's ohms: the
    difference is held to that."""
    coil, pin, battery = averaged(ohm, duty, hertz)
    real_coil, real_pin, real_battery = switched(ohm, duty, hertz, tmp_path)
    diode = 0.9 * (1 - duty)
    print(f"{ohm} ohm {duty} {hertz} Hz: {coil:.3f} {real_coil:.3f} A, {pin:.2f} {real_pin:.2f} V, {battery:.3f} {real_battery:.3f} A")  # fmt: skip
    assert 0.0 <= real_pin - pin <= diode + 0.1
    assert -0.02 * coil <= coil - real_coil <= diode / ohm + 0.03 * coil
    assert battery == pytest.approx(duty * coil, rel=0.05)
    assert abs(battery - real_battery) <= duty * diode / ohm + 0.08 * battery


@pytest.mark.parametrize("duty", [0.2, 0.7])
def test_frequency_does_not_move_the_mean(duty, ngspice, tmp_path):
    """Far above L/R the mean is the duty's alone, for the pulses as for the average."""
    slow, fast = (averaged(3.0, duty, hertz) for hertz in (200.0, 1000.0))
    assert slow == pytest.approx(fast, rel=1e-12)
    first, second = (switched(3.0, duty, hertz, tmp_path)[0] for hertz in (200.0, 1000.0))
    assert first == pytest.approx(second, rel=0.05)


@pytest.mark.parametrize("ohm", [4.0, 12.0, 120.0, 1200.0])
def test_a_diode_of_two_lines_is_near_an_exponential_one(ohm, ngspice, tmp_path: Path):
    """0.65 V and 0.1 ohm against I = IS (exp(V / N VT) - 1) and 30 mohm (Shockley), 10 mA to 3 A:
    within 0.15 V, no more than one make of diode differs from the next."""
    book, problems = read_book(
        "book format 1\nmachine bench, 12 V\nbattery: battery 12 V, ohm 0.01 ohm\n"
        f"D1: diode 3 A\nR1: resistor {ohm} ohm\nbattery.- > frame, 35 mm2, 0.3 m, wire minus\n"
        "battery.+ > R1 > D1 > frame, 2.5 mm2, 0.5 m, wire a / b / c\n"
    )
    assert book is not None, problems
    circuit = Circuit.of(book).within(np.zeros(1, np.int64))
    across = Probe(kind="inner", p="D1:1", n="D1:2")
    on = Situation(key="on")
    drop, amps = circuit.seen(on, [across, Probe(kind="amps", p="wire b")]).mean[0]
    deck = f"""* diode
V1 a 0 DC 12.6
R1 a b {ohm + 0.02}
D1 b 0 real
.model real D(IS=1e-8 N=1.5 RS=0.03)
.op
.end
"""
    (tmp_path / "diode.cir").write_text(deck, encoding="ascii")
    assert NGSPICE is not None
    command = [NGSPICE, "-b", "-r", "diode.raw", "diode.cir"]
    subprocess.run(command, cwd=tmp_path, capture_output=True, check=False)
    found = read_raw((tmp_path / "diode.raw").read_bytes())
    assert drop == pytest.approx(float(found["v(b)"][0]), abs=0.15)
    assert amps == pytest.approx(-float(found["i(v1)"][0]), rel=0.02)
