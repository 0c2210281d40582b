"""Kinds wired into small machines and solved: what a technician would read at them."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pytest

from backprobe.book.read import read_book
from backprobe.book.situations import Lead, Situation
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit

BATTERY = """book format 1
machine test bench, 12 V
battery: battery 12 V
battery.- > frame, 35 mm2, 0.3 m, wire minus
"""
UNIT = (
    BATTERY
    + """F1: fuse 10 A
ECU: control unit, on frame
battery.+ > F1 > ECU.1, 2.5 mm2, 0.5 m, wire a / b
ECU.2 > frame, 2.5 mm2, 0.3 m, wire c
ECU.1: supply
ECU.2: ground
"""
)
ON = Situation(key="on")
RUN = Situation(key="run")


class Bench:
    """A healthy machine from a text; readings by printed names."""

    def __init__(self, text: str) -> None:
        book, problems = read_book(text)
        errors = [str(one) for one in problems if one.weight == "error"]
        assert book is not None, "\n".join(errors)
        self.circuit = Circuit.of(book).within(np.zeros(1, np.int64))

    def read(self, situation: Situation, probe: Probe) -> float:
        seen = self.circuit.seen(situation, [probe])
        assert seen.settled[0], "chatters"
        return float(seen.mean[0, 0])

    def volts(self, p: str, situation: Situation = ON, n: str = "battery minus") -> float:
        return self.read(situation, Probe(kind="inner", p=p, n=n))

    def amps(self, branch: str, situation: Situation = ON) -> float:
        return self.read(situation, Probe(kind="amps", p=branch))

    def state(self, part: str, name: str, situation: Situation = ON) -> str:
        number = int(self.circuit.state(situation, part, name)[0])
        net = self.circuit.net
        return net.states[net.state[(part, name)]].words[number]


def leads(pairs: Iterable[tuple[str, str, str]], key: str = "on") -> Situation:
    return Situation(
        key=key,  # type: ignore[arg-type]
        fitted=tuple(Lead(kind=kind, p=p, n=n) for kind, p, n in pairs),
    )


def test_a_55_watt_lamp_draws_its_4_6_amperes() -> None:
    """I = P / U at the volts it is rated for (Ohm's law), a little more at 12.5 V."""
    bench = Bench(BATTERY + "L1: lamp 55 W\nbattery.+ > L1 > frame, 2.5 mm2, 0.5 m, wire a / b\n")
    got = bench.volts("L1:1", n="L1:2")
    assert 12.4 < got < 12.6
    assert bench.amps("L1/filament") == pytest.approx(55.0 / 12.0 * (got / 12.0) ** 0.55, rel=0.015)


@pytest.mark.parametrize("rated_v", [12.0, 15.0, 20.0, 24.0, 32.0, 40.0, 48.0])
@pytest.mark.parametrize("turned", [False, True])
def test_a_dim_lamp_draws_amperes_as_its_volts_to_the_power_0_55(rated_v, turned) -> None:
    """Rerating of incandescent lamps (illuminating engineers' handbooks, from memory): lamps for more
    volts on a 12 V battery, either way round; to 12 %. A resistance would be 50 % low at a quarter."""
    ends = "L1.2 / L1.1" if turned else "L1.1 / L1.2"
    one, two = ends.split(" / ")
    bench = Bench(
        BATTERY + f"L1: lamp 55 W, {rated_v:g} V\n"
        f"battery.+ > {one}, 2.5 mm2, 0.5 m, wire a\n{two} > frame, 2.5 mm2, 0.5 m, wire b\n"
    )
    share = abs(bench.volts("L1:1", n="L1:2")) / rated_v
    amps = abs(bench.amps("L1/filament"))
    assert 0.2 < share < 1.1
    assert amps == pytest.approx(55.0 / rated_v * share**0.55, rel=0.12)


@pytest.mark.parametrize("ohm", [20.0, 60.0, 200.0])
def test_a_lamp_behind_a_bad_joint_takes_what_the_law_says(ohm) -> None:
    """At a fiftieth to a fifth of its volts: the same law to 25 %; cold ohms below."""
    bench = Bench(
        BATTERY + f"L1: lamp 55 W\nR1: resistor {ohm:g} ohm\n"
        "battery.+ > R1 > L1 > frame, 2.5 mm2, 0.5 m, wire a / b / c\n"
    )
    share = bench.volts("L1:1", n="L1:2") / 12.0
    law = max(share**0.55 if share > 0.005 else 0.0, 0.0)
    amps = bench.amps("L1/filament") * 12.0 / 55.0
    assert amps == pytest.approx(law or 14.0 * share, rel=0.25)


def relay_bench(series_ohm: float = 0.0) -> Bench:
    """A relay, its coil through a switch (and a resistor), its contact feeding a lamp."""
    drop = f"R1: resistor {series_ohm:g} ohm\n" if series_ohm else ""
    way = "S1 > R1 > K1.86" if series_ohm else "S1 > K1.86"
    names = "b / c" if series_ohm else "b"
    return Bench(
        BATTERY
        + "S1: switch\nK1: relay 90 ohm\nL1: lamp 21 W\n"
        + drop
        + f"battery.+ > S1, 1 mm2, 0.5 m, wire a\n{way}, 1 mm2, 0.5 m, wire {names}\n"
        + "K1.85 > frame, 1 mm2, 0.5 m, wire d\n"
        + "battery.+ > K1.30, 1 mm2, 0.5 m, wire e\nK1.87 > L1 > frame, 1 mm2, 0.5 m, wire f / g\n"
    )


def test_a_relay_closes_when_its_switch_is_on_and_only_then() -> None:
    bench = relay_bench()
    pressed = Situation(key="on", on=frozenset({"S1"}))
    assert bench.state("K1", "contact") == "open"
    assert bench.amps("L1/filament") == pytest.approx(0.0, abs=1e-6)
    assert bench.state("K1", "contact", pressed) == "closed"
    assert bench.amps("L1/filament", pressed) == pytest.approx(21.0 / 12.0, rel=0.06)
    assert bench.amps("K1/coil", pressed) == pytest.approx(12.6 / 90.0, rel=0.02)


@pytest.mark.parametrize(("series_ohm", "word"), [(50.0, "closed"), (80.0, "open")])
def test_a_relay_pulls_in_above_7_2_volts_only(series_ohm: float, word: str) -> None:
    """TE V23134 sheet: must operate 7.2 V. 12.6 V through 50 ohm leaves 8.1 V on 90 ohm, through
    80 ohm 6.7 V (voltage divider)."""
    bench = relay_bench(series_ohm)
    assert bench.state("K1", "contact", Situation(key="on", on=frozenset({"S1"}))) == word


def failed(text: str, atom: str) -> Circuit:
    """A machine from a text, healthy and with one defect."""
    book, problems = read_book(text)
    assert book is not None, problems
    whole = Circuit.of(book)
    ids = [whole.defects.atoms[number].id for number in whole.defects.atom_of]
    return whole.within(np.array([0, ids.index(atom)]))


@pytest.mark.parametrize("across", ["no", "diode", "resistor"])
def test_a_relay_with_a_broken_coil_stays_open_though_its_pins_have_their_volts(across) -> None:
    """A coil pulls by its ampere-turns (textbook): no current, no pull."""
    bad = failed(
        BATTERY
        + f"K1: relay 90 ohm, suppressed {across}\nL1: lamp 21 W\n"
        + "battery.+ > K1.86, 1 mm2, 0.5 m, wire a\nK1.85 > frame, 1 mm2, 0.5 m, wire b\n"
        + "battery.+ > K1.30, 1 mm2, 0.5 m, wire c\nK1.87 > L1 > frame, 1 mm2, 0.5 m, wire d / e\n",
        "K1/coil open",
    )
    seen = bad.seen(ON, [Probe(kind="inner", p="K1:86", n="K1:85"), Probe(kind="amps", p="wire d")])
    assert seen.mean[:, 0] == pytest.approx(12.5, abs=0.1)
    assert seen.mean[0, 1] > 1.5
    assert seen.mean[1, 1] == pytest.approx(0.0, abs=1e-6)


def test_a_starter_with_broken_solenoid_windings_does_not_turn() -> None:
    """As above."""
    bad = failed(BATTERY + CRANK, "starter/coil open")
    seen = bad.seen(Situation(key="crank"), [Probe(kind="amps", p="starter/motor")])
    assert seen.mean[0, 0] > 180.0
    assert seen.mean[1, 0] == pytest.approx(0.0, abs=1e-6)


def test_a_reversed_suppressed_relay_shorts_its_feed_and_blows_the_fuse() -> None:
    """Common practice: 85/86 polarity matters where a diode is built in."""
    bench = Bench(
        BATTERY
        + "F1: fuse 5 A\nK1: relay, diode\n"
        + "battery.+ > F1 > K1.85, 1 mm2, 0.5 m, wire a / b\nK1.86 > frame, 1 mm2, 0.5 m, wire c\n"
    )
    assert bench.state("F1", "element") == "blown"
    right = Bench(
        BATTERY
        + "F1: fuse 5 A\nK1: relay, diode\n"
        + "battery.+ > F1 > K1.86, 1 mm2, 0.5 m, wire a / b\nK1.85 > frame, 1 mm2, 0.5 m, wire c\n"
    )
    assert right.state("F1", "element") == "good"
    assert right.state("K1", "contact") == "closed"


def test_a_diode_conducts_one_way() -> None:
    """Silicon: 0.6-0.9 V forward, next to nothing backward (textbook)."""
    forward = Bench(
        BATTERY
        + "D1: diode\nL1: lamp 21 W\nbattery.+ > D1 > L1 > frame, 1 mm2, 0.5 m, wire a / b / c\n"
    )
    assert 0.6 < forward.volts("D1:1", n="D1:2") < 0.9
    backward = Bench(
        BATTERY
        + "D1: diode\nL1: lamp 21 W\n"
        + "battery.+ > D1.2, 1 mm2, 0.5 m, wire a\nD1.1 > L1 > frame, 1 mm2, 0.5 m, wire b / c\n"
    )
    assert backward.amps("L1/filament") == pytest.approx(0.0, abs=1e-6)


GROUP = (
    UNIT
    + """R1: resistor {ohm} ohm
ECU.3: 5 V group A
ECU.4: ground
group ECU A: 5 V, limit 100 mA{latches}
ECU.3 > R1 > ECU.4, 0.75 mm2, 0.5 m, wire d / e
"""
)


@pytest.mark.parametrize(("ohm", "volts"), [(100.0, 5.0), (40.0, 4.0), (20.0, 2.0), (5.0, 0.5)])
def test_an_overloaded_5_v_group_gives_its_limit(ohm: float, volts: float) -> None:
    """Ohm's law at a limit of 100 mA: 2-4 V is 20-40 ohm, 0.5 V some 5 ohm."""
    bench = Bench(GROUP.format(ohm=ohm, latches=""))
    assert bench.volts("ECU:group A", n="ECU:ground") == pytest.approx(volts, rel=0.02)
    assert bench.state("ECU group A", "output") == ("limiting" if volts < 5.0 else "holding")


def test_a_latching_5_v_group_goes_off_when_overloaded() -> None:
    bench = Bench(GROUP.format(ohm=20.0, latches=", latches"))
    assert bench.state("ECU group A", "output") == "latched off"
    assert bench.volts("ECU:group A", n="ECU:ground") == pytest.approx(0.0, abs=1e-3)


def test_a_5_v_group_draws_its_current_from_the_units_supply() -> None:
    """A linear regulator passes its output current (textbook)."""
    idle = Bench(GROUP.format(ohm=1e5, latches="")).amps("F1/element")
    loaded = Bench(GROUP.format(ohm=100.0, latches="")).amps("F1/element")
    assert loaded - idle == pytest.approx(0.05, rel=0.02)


def test_battery_volts_on_the_5_v_lift_the_whole_group() -> None:
    """A signal or supply wire shorted to battery raises 5 V (engine maker's test)."""
    bench = Bench(GROUP.format(ohm=1000.0, latches=""))
    shorted = leads([("jumper", "ECU:3", "battery:+")])
    assert bench.state("ECU group A", "output", shorted) == "fed from outside"
    assert bench.volts("ECU:group A", shorted) > 12.0


SENSOR = (
    UNIT
    + """P1: three-wire sensor, rest 10 %, running 50 %
ECU.3: 5 V group A
ECU.4: ground
ECU.5: analogue input, pull up 47 kohm to group A
group ECU A: 5 V, limit 100 mA
ECU.3 > P1.3, 0.75 mm2, 1 m, wire d
ECU.4 > P1.1, 0.75 mm2, 1 m, wire e
P1.2 > ECU.5, 0.75 mm2, 1 m, wire f
"""
)


def test_a_ratiometric_sensor_reads_half_a_volt_at_rest() -> None:
    """0.5 V of 5 V at zero (rail sensor pages); the pull-up adds a few millivolts."""
    bench = Bench(SENSOR)
    assert bench.volts("ECU:5", n="ECU:ground") == pytest.approx(0.5, abs=0.03)
    assert bench.volts("ECU:5", RUN, n="ECU:ground") == pytest.approx(2.5, abs=0.05)


def test_an_unplugged_sensor_reads_as_its_pull_says() -> None:
    """Polarity is a fact of the unit: pull-up reads high, pull-down low."""
    off = Situation(key="on", unplugged=frozenset({"P1"}))
    assert Bench(SENSOR).volts("ECU:5", off, n="ECU:ground") > 4.7
    down = Bench(SENSOR.replace("pull up 47 kohm to group A", "pull down 47 kohm"))
    assert down.volts("ECU:5", off, n="ECU:ground") == pytest.approx(0.0, abs=1e-3)


def test_a_switching_sensor_that_stands_over_a_tooth_reads_low() -> None:
    """Which it is depends on where the wheel stands (common practice)."""
    text = SENSOR.replace("three-wire sensor, rest 10 %, running 50 %", "hall sensor, stopped low")
    text = text.replace("analogue input, pull up 47 kohm", "frequency input, pull up 4.7 kohm")
    assert Bench(text).volts("ECU:5", n="ECU:ground") < 0.1


def test_a_switching_sensor_reads_half_while_it_turns() -> None:
    """Mean of pulses of half duty between 0 and 5 V (a meter averages)."""
    bench = Bench(
        SENSOR.replace("three-wire sensor, rest 10 %, running 50 %", "hall sensor").replace(
            "analogue input, pull up 47 kohm to group A",
            "frequency input, pull up 4.7 kohm to group A",
        )
    )
    assert bench.volts("ECU:5", n="ECU:ground") == pytest.approx(5.0, abs=0.05)
    assert bench.volts("ECU:5", RUN, n="ECU:ground") == pytest.approx(2.5, abs=0.15)


PWM = (
    UNIT
    + """V1: PWM valve 3 ohm
ECU.6: PWM driver, in run, duty 40 %
battery.+ > V1.1, 1.5 mm2, 0.5 m, wire d
V1.2 > ECU.6, 1.5 mm2, 0.5 m, wire e
"""
)


def test_a_pulsed_valve_gets_the_duty_of_its_feed() -> None:
    """Averaged chopper with free-wheel path: mean coil volts = duty x supply (textbook)."""
    bench = Bench(PWM)
    supply = bench.volts("ECU:supply", RUN, n="ECU:ground")
    assert bench.amps("V1/coil", RUN) == pytest.approx(0.4 * supply / 3.2, rel=0.05)
    assert bench.amps("V1/coil") == pytest.approx(0.0, abs=1e-3)


def test_the_battery_gives_a_pulsed_valve_only_the_duty_of_its_current() -> None:
    """Energy: the free-wheeling current does not come from the battery (textbook)."""
    bench = Bench(PWM)
    off = Situation(key="run", unplugged=frozenset({"V1"}))
    more = bench.amps("battery/cells", off) - bench.amps("battery/cells", RUN)
    assert more == pytest.approx(0.4 * bench.amps("V1/coil", RUN), rel=0.05)


def test_an_open_pulsed_valve_leaves_its_driver_without_current_or_volts() -> None:
    bench = Bench(PWM)
    off = Situation(key="run", unplugged=frozenset({"V1"}))
    assert abs(bench.amps("ECU.6/drive", off)) < 1e-3
    assert bench.volts("ECU:6", off) < 0.1


def test_an_overloaded_driver_shows_its_over_current() -> None:
    bench = Bench(PWM)
    shorted = leads([("jumper", "ECU:6", "battery:+")], key="run")
    assert bench.state("ECU.6", "guard", shorted) == "limiting"
    assert bench.amps("ECU.6/drive", shorted) > 4.0


CAN = (
    UNIT
    + """display: display, on frame
battery.+ > display.1, 1 mm2, 0.5 m, wire d
display.2 > frame, 1 mm2, 0.5 m, wire e
display.1: supply
display.2: ground
ECU.7: CAN high, terminated yes
ECU.8: CAN low
display.3: CAN high{far}
display.4: CAN low
ECU.7 > display.3, 0.5 mm2, 2 m, wire f
ECU.8 > display.4, 0.5 mm2, 2 m, wire g
"""
)
DEAD = Situation(key="off", battery_off=True, pulled=frozenset({"F1"}))


@pytest.mark.parametrize(("far", "ohms"), [(", terminated yes", 60.0), ("", 120.0)])
def test_bus_ohms_count_the_terminators(far: str, ohms: float) -> None:
    """Two terminators 60 ohm, one 120 (ISO 11898-2; trade tables)."""
    bench = Bench(CAN.format(far=far))
    got = bench.read(DEAD, Probe(kind="ohms", p="ECU.7", n="ECU.8"))
    assert got == pytest.approx(ohms, rel=0.02)


def test_bus_lines_read_what_the_published_table_says() -> None:
    """A meter on a live bus: about 2.6 V high, 2.4 V low; idle 2.5 V (car maker's CAN table)."""
    bench = Bench(CAN.format(far=", terminated yes"))
    assert bench.volts("ECU.7", n="ECU:ground") == pytest.approx(2.6, abs=0.05)
    assert bench.volts("ECU.8", n="ECU:ground") == pytest.approx(2.4, abs=0.05)


def test_a_bus_pair_touching_reads_the_middle_on_both() -> None:
    """High and low shorted: both 2.45 V (car maker's CAN table)."""
    bench = Bench(CAN.format(far=", terminated yes"))
    short = leads([("jumper", "ECU.7", "ECU.8")])
    for pin in ("ECU.7", "ECU.8"):
        assert bench.volts(pin, short, n="ECU:ground") == pytest.approx(2.45, abs=0.1)


def test_a_bus_line_on_ground_or_battery_takes_the_other_along() -> None:
    """Low to ground: low 0, high near 0; high to battery: low within 1 V of it (same table)."""
    bench = Bench(CAN.format(far=", terminated yes"))
    grounded = leads([("jumper", "ECU.8", "battery minus")])
    assert bench.volts("ECU.7", grounded) < 0.5
    fed = leads([("jumper", "ECU.7", "battery:+")])
    assert bench.volts("ECU.8", fed) > 11.5


CRANK = """F2: fuse 30 A
key: key switch
starter: starter, on engine
strap: ground strap, on engine / frame
battery.+ > starter.30, 35 mm2, 1.5 m, wire a
battery.+ > F2 > key.30, 4 mm2, 1 m, wire b / c
key.50 > starter.50, 4 mm2, 1 m, wire d
"""


def test_a_healthy_starter_turns_between_9_6_volts_and_rest() -> None:
    """NAVEDTRA 14050: 9.6 V at least at the battery; 180-220 A typical (TM 10-3930-671-24)."""
    bench = Bench(BATTERY + CRANK)
    cranking = Situation(key="crank")
    assert bench.state("starter", "contact", cranking) == "closed"
    assert 9.6 < bench.volts("battery:+", cranking) < 11.5
    assert 180.0 < bench.amps("starter/motor", cranking) < 230.0
    assert bench.amps("starter/motor") == pytest.approx(0.0, abs=1e-6)


def test_a_tenth_of_an_ohm_in_the_strap_stops_the_cranking_and_lifts_the_engine() -> None:
    """Ohm's law: 12.6 V over 0.05 + 0.1 ohm and cables leaves about 75 A, and some 7 V between
    block and battery minus. Common practice: it does not crank; the drop shows why."""
    book, _ = read_book(BATTERY + CRANK)
    assert book is not None
    circuit = Circuit.of(book)
    atoms = circuit.defects.atoms
    which = next(
        h
        for h, atom in enumerate(circuit.defects.atom_of)
        if atoms[atom].id == "strap/bad lug 1" and circuit.defects.ohm[h] == 0.1
    )
    bad = circuit.within(np.array([0, which]))
    probes = [Probe(kind="inner", p="engine"), Probe(kind="amps", p="starter/motor")]
    seen = bad.seen(Situation(key="crank"), probes)
    assert seen.settled.all()
    assert seen.mean[0, 0] < 0.3
    assert 6.0 < seen.mean[1, 0] < 8.5
    assert 60.0 < seen.mean[1, 1] < 90.0


def test_a_solenoid_that_cannot_hold_chatters_and_still_reads_steady() -> None:
    """Common practice: a weak battery pulls the solenoid in and loses it under the motor."""
    bench = Bench(BATTERY.replace("battery 12 V", "battery 12 V, ohm 0.16 ohm") + CRANK)
    cranking = Situation(key="crank")
    assert bench.state("starter", "contact", cranking) == "chattering"
    assert bench.amps("starter/motor", cranking) < 0.5 * 200.0
    assert bench.amps("starter/motor") == pytest.approx(0.0, abs=1e-6)


def test_the_alternator_charges_and_puts_the_charge_lamp_out() -> None:
    """Charging 13.3-15.0 V (battery tester manual); lamp on with the engine stopped."""
    bench = Bench(
        BATTERY
        + """alternator: alternator, on engine
strap: ground strap, on engine / frame
L1: lamp 3 W
battery.+ > alternator.B+, 16 mm2, 1.5 m, wire a
battery.+ > L1 > alternator.D+, 1 mm2, 1 m, wire b / c
"""
    )
    assert 13.3 < bench.volts("battery:+", RUN) < 15.0
    assert bench.state("battery", "flow", RUN) == "taking"
    assert 1.0 < bench.amps("battery/charge", RUN) < 20.0
    lit, out = bench.amps("L1/filament"), bench.amps("L1/filament", RUN)
    assert lit > 0.8 * 3.0 / 12.0
    assert abs(out) < 0.1 * lit


def test_a_breaker_trips_like_a_fuse_and_says_how_it_resets() -> None:
    for reset, word in (("by hand", "tripped"), ("by itself", "cycling")):
        bench = Bench(
            BATTERY
            + f"B1: circuit breaker 10 A, reset {reset}\nR1: resistor 0.5 ohm\n"
            + "battery.+ > B1 > R1 > frame, 2.5 mm2, 0.5 m, wire a / b / c\n"
        )
        assert bench.state("B1", "element") == word


def test_a_one_wire_switch_grounds_through_its_body() -> None:
    """Oil pressure switch: closed with the engine stopped, open when it runs."""
    bench = Bench(
        BATTERY
        + "L1: lamp 3 W\nS1: oil pressure switch, on frame\n"
        + "battery.+ > L1 > S1, 1 mm2, 0.5 m, wire a / b\n"
    )
    assert bench.amps("L1/filament") > 0.2
    assert bench.amps("L1/filament", RUN) == pytest.approx(0.0, abs=1e-6)


def test_an_unplugged_lamp_draws_nothing_and_measures_its_own_ohms() -> None:
    bench = Bench(BATTERY + "L1: lamp 55 W\nbattery.+ > L1 > frame, 2.5 mm2, 0.5 m, wire a / b\n")
    off = Situation(key="on", unplugged=frozenset({"L1"}))
    assert bench.amps("L1/filament", off) == pytest.approx(0.0, abs=1e-6)
    key_off = Situation(key="off", unplugged=frozenset({"L1"}))
    ohms = bench.read(key_off, Probe(kind="ohms", p="L1:1", n="L1:2"))
    assert ohms == pytest.approx(144.0 / 55.0 / 14.0, rel=1e-3)


def test_a_cold_lamp_on_a_dead_line_looks_nearly_like_a_short_to_an_ohmmeter() -> None:
    """Tungsten: 5.65 microhm cm at 300 K, 79 at 2800 K, so a 55 W lamp of 2.6 ohm measures 0.2;
    a 21 W one 0.5 (common practice: a cold filament reads like a short). Lit it draws its watts."""
    text = BATTERY + "L1: lamp 21 W\nS1: switch\n"
    bench = Bench(text + "battery.+ > S1 > L1 > frame, 2.5 mm2, 0.5 m, wire a / b / c\n")
    dead = Situation(key="off", battery_off=True)
    ohms = bench.read(dead, Probe(kind="ohms", p="S1.2", n="frame"))
    assert ohms == pytest.approx(144.0 / 21.0 / 14.0, rel=0.03)
    lit = bench.amps("L1/filament", Situation(key="on", on=frozenset({"S1"})))
    assert lit == pytest.approx(12.5 / (144.0 / 21.0), rel=0.02)
