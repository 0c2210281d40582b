"""Severity cells solved from end to end: what a piece reads is what the circuit says of its ohms."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from backprobe.book.situations import Situation
from backprobe.defects.in_cells import AT, STEPS
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.findings.fold import fold
from backprobe.findings.model import Reading
from backprobe.suspects.column import Column
from backprobe.suspects.pieces import Pieces, moves
from backprobe.suspects.weigh import weigh
from oracles.decode import changes_of
from oracles.machines import machine
from oracles.solved_apart import Apart

ON = Situation(key="on")


@pytest.fixture(scope="module")
def circuit() -> Circuit:
    return Circuit.of(machine(160, 2).book)


def rows_of(circuit: Circuit, kind: str) -> list[int]:
    defects = circuit.defects
    found = [k for k, n in enumerate(defects.atom_of) if defects.atoms[n].kind == kind]
    return [k for k in found if defects.spread[k] > 1.0]


KINDS = ("to ground", "bad contact", "wire to wire", "half mated", "wet plug", "strands")


@pytest.mark.parametrize("kind", KINDS)
def test_every_step_has_so_many_times_the_ohms(circuit: Circuit, kind: str) -> None:
    """The ports are read back as what they stand for: each change of a defect has the ohms of the cell times
    the factor of the step, everything else about it stays."""
    defects = circuit.defects
    chosen = np.array(rows_of(circuit, kind)[::7])
    assert chosen.size
    stepped = circuit.in_cells(chosen)
    for n, row in enumerate(chosen):
        whole = changes_of(circuit.net, circuit.ports, circuit.cases, int(row))
        for k, at in enumerate(AT):
            case = 1 + n * STEPS + k
            found = changes_of(stepped.net, stepped.ports, stepped.cases, case)
            assert len(found) == len(whole)
            for one, two in zip(whole, found, strict=True):
                times = float(defects.spread[row]) ** at
                assert two.ohm == pytest.approx(one.ohm * times, rel=1e-9)
                assert _like(one, two)


def _like(one: Any, two: Any) -> bool:
    """Alike but for the ohms, places along wires to what digits leave."""
    fields = [f for f in one.__dataclass_fields__ if f != "ohm"]
    return all(
        getattr(two, f) == pytest.approx(getattr(one, f))
        if isinstance(getattr(one, f), float)
        else getattr(two, f) == getattr(one, f)
        for f in fields
    )


def test_volts_that_are_the_severity_go_with_it(circuit: Circuit) -> None:
    """By hand: 5 V that drifted by so much may have drifted by 1.7 times more or less of it."""
    row = rows_of(circuit, "5 V drifted")[0]
    stepped = circuit.in_cells(np.array([row]))
    own = circuit.ports.emf[circuit.cases.ports[circuit.cases.start[row]]]
    assert stepped.ports.emf[stepped.cases.ports] == pytest.approx(own * 1.7**AT)


def test_a_drained_battery_rests_anywhere_between_its_neighbours(circuit: Circuit) -> None:
    """By hand, for 12 V: severities rest 0.6, 2, 5 and 9.5 V lower; the second of these is open from the first to
    the third, 4.4 V in all, and so much of it a reading is as it goes with the battery."""
    defects = circuit.defects
    flat = {defects.ohm[k]: k for k in rows_of(circuit, "discharged")}
    assert defects.loose is not None
    assert defects.loose[flat[0.02]] == 0.0
    assert defects.loose[flat[0.3]] == pytest.approx(5.0 - 0.6)
    assert not defects.loose[rows_of(circuit, "5 V drifted")].any()
    at_rest = plain(np.append(12.6, np.full(STEPS, 10.6)), battery=0.9)
    read = Pieces.of(1, 31, np.array([4.4])).column(at_rest, plain(np.zeros(31)), None)
    assert read.width == pytest.approx(0.9 * 4.4)


def test_pieces_read_as_the_circuit_at_their_ohms_does(circuit: Circuit) -> None:
    """Against the circuit written out with those ohms and solved by plain nodal analysis: volts at some
    pins, of shorts, contacts and sensors that drag their supply, in cells where it moves. What stands on its
    own footing is within 1 % of what the cell reads from end to end; where something gives in within the cell
    it reads as one of both sides of it."""
    rng = np.random.default_rng(3)
    parts = 31
    kinds = ("to ground", "bad contact", "drags its supply")
    rows = np.array(sorted(k for kind in kinds for k in rng.choice(rows_of(circuit, kind), 40)))
    nodes = [
        Probe(kind="volts", p=f"{pin.part}.{pin.name}") for pin in list(circuit.book.roles)[::4]
    ]
    stepped, pieces = circuit.in_cells(rows), Pieces.of(rows.size, parts)
    whole, seen = circuit.seen(ON, nodes), stepped.seen(ON, nodes)
    compared = jumped = 0
    for k in range(len(nodes)):
        column = plain(seen.mean[:, k])
        if not moves(whole.mean[rows, k], column):
            continue
        of = plain(np.repeat(whole.mean[rows, k], parts))
        read = pieces.column(column, of, seen.stand)
        for n, row in enumerate(rows):
            steps = column.mean[1 + n * STEPS : 1 + (n + 1) * STEPS]
            range_of = float(np.ptp(steps))
            if range_of < 0.05:
                continue
            j = int(rng.integers(parts))
            truth = apart(circuit, int(row), (2 * j + 1) / parts - 1.0).read(
                ON, nodes[k], gone=False
            )
            at = n * parts + j
            other = read.other[0][at] if read.other and read.other[1][at] else read.mean[at]
            off = min(abs(read.mean[at] - truth), abs(other - truth))
            alike = len(set(seen.stand[1 + n * STEPS : 1 + (n + 1) * STEPS])) == 1
            assert off < (0.01 if alike else 0.2) * range_of + 0.002, (row, k, j)
            compared += 1
            jumped += not alike
    assert compared > 20
    assert jumped


def plain(mean: np.ndarray, battery: float = 0.0) -> Column:
    """A column that goes with nothing but the battery."""
    return Column(
        mean=mean, slope=np.full((3, mean.size), [[battery], [0.0], [0.0]]), width=np.zeros(mean.size),
        unlike=np.arange(1, mean.size), felt=np.zeros(3), chatters=np.zeros(0, np.int64),
    )  # fmt: skip


def apart(circuit: Circuit, row: int, at: float) -> Any:
    """The machine at one severity, solved apart."""
    times = float(circuit.defects.spread[row]) ** at
    changes = changes_of(circuit.net, circuit.ports, circuit.cases, row)
    made = tuple(replace(one, ohm=one.ohm * times) for one in changes)
    sound = Apart(circuit.book, circuit.net)
    found = Apart(circuit.book, circuit.net, made, nominal=sound)
    found.live(ON)
    return found


def test_a_sensor_that_drags_a_limited_supply_is_led_by_one_reading_between_its_cells() -> None:
    """A short of 10 ohm inside a sensor on a 5 V supply that gives no more than so much: at the worst two of
    three severities the supply is at its limit, and two of them tell no law. Its volts used to be read straight in
    ln(ohm), 2.06 for 1.00, and good wires led."""
    circuit = Circuit.of(machine(300, 1).book)
    defects = circuit.defects
    atom = next(n for n, a in enumerate(defects.atoms) if a.id == "sensor 2/drags its supply")
    row = next(k for k in np.flatnonzero(defects.atom_of == atom) if defects.ohm[k] == 30.0)
    hidden = apart(circuit, int(row), -0.97)
    pins = ("sensor 2.1", "sensor 2.3", "sensor 1.3")
    job = fold(
        [
            Reading(
                id=f"r{n}",
                p=pin,
                value=hidden.read(ON, Probe(kind="volts", p=pin), gone=False),
                situation=ON,
            )
            for n, pin in enumerate(pins)
        ]
    )
    belief = weigh(circuit.book, circuit, job)
    drags = sum(
        float(belief.hypothesis[k])
        for k, n in enumerate(defects.atom_of)
        if defects.atoms[n].id.endswith("/drags its supply")
    )
    wires = sum(
        float(belief.hypothesis[k])
        for k, n in enumerate(defects.atom_of)
        if defects.atoms[n].kind == "to ground"
    )
    assert drags > wires


def test_pieces_go_along_the_parabola_of_three_steps_and_jump_where_things_stand_otherwise() -> (
    None
):
    """By hand: steps 1 apart in ln(ohm) that read 0, 1, 4, 9, ... are read as the square of the way; where
    a unit resets between the fourth step and the fifth, three quarters of the way there it reads as the fifth
    does, or with a quarter of the chance as before it would have gone on."""
    pieces = Pieces.of(1, 4 * (STEPS - 1))
    mean = np.append(12.0, np.arange(STEPS) ** 2.0)
    at = (np.arange(4 * (STEPS - 1)) + 0.5) / 4.0
    read = pieces.column(plain(mean), plain(np.zeros(at.size)), None)
    assert read.mean == pytest.approx(at**2)
    assert read.other is None
    stand = np.where(np.arange(STEPS + 1) > 4, 5, 7)
    read = pieces.column(plain(mean), plain(np.zeros(at.size)), stand)
    assert read.other is not None
    gives_in = (at > 3.0) & (at < 4.0)
    assert read.other[1] == pytest.approx(np.where(gives_in, np.minimum(at - 3.0, 4.0 - at), 0.0))
    assert read.other[0][gives_in] == pytest.approx([16.0, 16.0, 9.0, 9.0])
