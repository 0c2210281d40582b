"""The demo jobs against the circuit: what is told at arrival is what the hidden defect yields."""

from __future__ import annotations

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.model import Book, CodeRule, Test
from backprobe.book.situations import Situation
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.findings.model import CodesFound, Failing, FuseFound, Works
from backprobe.shop.demo import JOBS, DemoJob, book_text

KEY_ON, CRANK, RUN = Situation(key="on"), Situation(key="crank"), Situation(key="run")
ALL_SWITCHES = frozenset({"S1", "S2", "S3", "S4", "S5", "S6", "S7"})
EVERYTHING_ON = Situation(key="run", on=ALL_SWITCHES)
ON = BLOWN = CLOSED = 1


@pytest.fixture(scope="module")
def circuit() -> Circuit:
    book, problems = read_book(book_text("tracked-dumper"))
    assert book is not None, "\n".join(map(str, problems))
    return Circuit.of(book)


@pytest.fixture(scope="module")
def healthy(circuit: Circuit) -> Circuit:
    return circuit.within(np.zeros(1, np.int64))


@pytest.fixture(params=JOBS, ids=lambda job: job.name)
def job(request: pytest.FixtureRequest) -> DemoJob:
    assert isinstance(request.param, DemoJob)
    return request.param


def named(name: str) -> DemoJob:
    return next(job for job in JOBS if job.name == name)


def with_truth(circuit: Circuit, job: DemoJob, ohm: float | None = None) -> Circuit:
    """Two rows: healthy, and the job's hidden defect at its severity."""
    atoms = circuit.defects.atoms
    atom = next(number for number, atom in enumerate(atoms) if atom.id == job.truth.atom)
    rows = np.flatnonzero(circuit.defects.atom_of == atom)
    wanted = job.truth.ohm if ohm is None else ohm
    row = next(int(r) for r in rows if np.isclose(circuit.defects.ohm[r], wanted))
    return circuit.within(np.array([0, row]))


def read(circuit: Circuit, situation: Situation, kind: str, p: str, n: str = "") -> float:
    """One reading of the last row."""
    probe = Probe(kind=kind, p=p, n=n)  # type: ignore[arg-type]
    return float(circuit.seen(situation, [probe]).mean[-1, 0])


def codes(circuit: Circuit, unit: str, situation: Situation) -> set[str]:
    """The codes of a unit that hold in the last row: the rules read literally, no noise."""
    if circuit.state(situation, unit, "power")[-1] != ON:
        return set()
    return {
        rule.code
        for rule in circuit.book.codes.values()
        if rule.unit == unit
        and situation.key in rule.when
        and set(rule.commands) <= situation.on
        and all(holds(circuit, rule, test, situation) for test in rule.tests)
    }


def holds(circuit: Circuit, rule: CodeRule, test: Test, situation: Situation) -> bool:
    unit = rule.unit
    if test.kind == "hears":
        return not bool(circuit.state(situation, test.other, "power")[-1] == ON)
    pin = test.pin.name if test.pin else ""
    if test.kind == "amps":
        value = abs(read(circuit, situation, "amps", f"{unit}.{pin}/drive"))
    else:
        node = {"volts": f"{unit}:{pin}", "rail": f"{unit}:group {test.other}"}
        place = node.get(test.kind, f"{unit}:supply")
        value = read(circuit, situation, "inner", place, f"{unit}:ground")
    low = test.low is not None and value < test.low
    return low or (test.high is not None and value > test.high)


# ------------------------------------------------------------------ the healthy machine


@pytest.mark.parametrize("situation", [KEY_ON, CRANK, RUN, EVERYTHING_ON], ids=Situation.words)
def test_a_healthy_dumper_reports_nothing(healthy: Circuit, situation: Situation) -> None:
    assert codes(healthy, "ECU", situation) == set()
    assert codes(healthy, "display", situation) == set()
    assert healthy.settled(situation).steady.all()


@pytest.mark.parametrize("situation", [KEY_ON, RUN, EVERYTHING_ON], ids=Situation.words)
def test_no_fuse_of_a_healthy_dumper_carries_more_than_three_quarters_of_its_rating(
    healthy: Circuit, situation: Situation
) -> None:
    """Continuous load at most 75 % of the rating at 25 C: Littelfuse, Fuseology guide."""
    loads = {
        part.name: abs(read(healthy, situation, "amps", f"{part.name}/element"))
        / float(healthy.book.value(part.name, "amps"))
        for part in healthy.book.parts.values()
        if part.kind in ("fuse", "fusible link")
    }
    assert len(loads) == 13
    assert {name: load for name, load in loads.items() if load > 0.75} == {}


def test_every_fuse_is_used_in_some_situation(healthy: Circuit) -> None:
    used = {
        part.name
        for part in healthy.book.parts.values()
        if part.kind in ("fuse", "fusible link")
        for situation in (KEY_ON, CRANK, EVERYTHING_ON)
        if abs(read(healthy, situation, "amps", f"{part.name}/element")) > 0.05
    }
    assert used == {p.name for p in healthy.book.parts.values() if "fus" in p.kind}


def test_a_healthy_dumper_cranks_above_the_makers_lowest_voltage(healthy: Circuit) -> None:
    """9.6 V at the battery while cranking: NAVEDTRA 14050, construction electrician."""
    assert healthy.state(CRANK, "K3", "contact")[0] == CLOSED
    assert read(healthy, CRANK, "amps", "starter/motor") > 100.0
    assert 9.6 < read(healthy, CRANK, "volts", "battery:+", "battery minus") < 12.0


def test_sensors_of_a_healthy_dumper_stay_inside_the_usual_window(healthy: Circuit) -> None:
    """0.5 to 4.5 V for ratiometric sensors: makers' rail sensor pages."""
    for situation in (KEY_ON, CRANK, RUN):
        for pin in ("21", "22", "23", "24", "25", "26", "27"):
            volts = read(healthy, situation, "inner", f"ECU:{pin}", "ECU:ground")
            assert 0.49 < volts < 4.51, f"ECU.{pin} {situation.words()}"


def test_the_charge_lamp_is_lit_with_the_engine_stopped_and_dark_when_it_runs(
    healthy: Circuit,
) -> None:
    """Dark: a fortieth of its volts makes no filament glow."""
    assert read(healthy, KEY_ON, "amps", "charge lamp/filament") > 0.15
    assert abs(read(healthy, RUN, "inner", "charge lamp:1", "charge lamp:2")) < 12.0 / 40.0


# ------------------------------------------------------------------ what the jobs name


def test_everything_a_job_names_is_in_its_book(circuit: Circuit, job: DemoJob) -> None:
    book: Book = circuit.book
    assert job.book == "tracked-dumper"
    assert job.truth.target in {*book.parts, *book.wires}
    assert job.truth.atom in {atom.id for atom in circuit.defects.atoms}
    if job.truth.spot:
        spot = book.spots[job.truth.spot]
        assert spot.section in book.wires[job.truth.target].route
    for finding in job.arrival:
        assert finding.situation.on <= {*book.parts, *book.functions}
        if isinstance(finding, CodesFound):
            known = {code for unit, code in book.codes if unit == finding.unit}
            assert {*finding.active, *finding.stored} <= known
        elif isinstance(finding, Works):
            assert finding.target in {*book.parts, *book.functions}
        elif isinstance(finding, FuseFound):
            assert book.parts[finding.fuse].kind == "fuse"
        else:
            assert isinstance(finding, Failing)
    assert len({finding.id for finding in job.arrival}) == len(job.arrival)


def test_the_hidden_defect_is_never_among_what_is_known(job: DemoJob) -> None:
    told = " ".join(
        [job.title, job.complaint, job.weather, *(finding.note for finding in job.arrival)]
    )
    assert job.truth.target not in told
    assert not job.truth.spot or job.truth.spot not in told


# ------------------------------------------------------------------ after washing


@pytest.mark.parametrize("situation", [KEY_ON, CRANK, RUN], ids=Situation.words)
def test_the_rubbed_five_volt_wire_yields_the_five_codes_and_no_other(
    circuit: Circuit, situation: Situation
) -> None:
    job = named("after-washing")
    wet = with_truth(circuit, job)
    found = next(f for f in job.arrival if isinstance(f, CodesFound))
    assert codes(wet, "ECU", situation) == set(found.stored)
    assert len(found.stored) == 5
    assert codes(wet, "display", situation) == set()


def test_the_group_stands_at_its_limit_times_the_short(circuit: Circuit) -> None:
    """Ohm's law: 100 mA through 1 ohm is 0.1 V, plus what wire and ground add."""
    wet = with_truth(circuit, named("after-washing"))
    assert read(wet, KEY_ON, "inner", "ECU:group A", "ECU:ground") == pytest.approx(0.1, abs=0.02)
    assert read(wet, KEY_ON, "inner", "ECU:group B", "ECU:ground") == pytest.approx(5.0, abs=0.05)


def test_a_leakier_short_leaves_only_the_supply_code(circuit: Circuit) -> None:
    """20 ohm leave 2 V or so: below the supply's limit, but not every signal is below its own;
    300 ohm are no overload at all (5 V through 300 ohm is 17 mA)."""
    job = named("after-washing")
    some = codes(with_truth(circuit, job, ohm=20.0), "ECU", KEY_ON)
    assert "3509/4" in some
    assert len(some) < 5
    assert codes(with_truth(circuit, job, ohm=300.0), "ECU", KEY_ON) == set()


def test_dry_again_the_dumper_is_healthy(circuit: Circuit) -> None:
    wet = with_truth(circuit, named("after-washing"))
    seen = wet.seen(RUN, [Probe(kind="inner", p="ECU:group A", n="ECU:ground")], gone=True)
    assert seen.mean[1, 0] == pytest.approx(seen.mean[0, 0], abs=1e-9)


def test_a_rubbed_signal_wire_alone_sets_one_code(circuit: Circuit) -> None:
    atoms = circuit.defects.atoms
    atom = next(n for n, a in enumerate(atoms) if a.id == "wire 43b/to ground/hinge")
    row = int(np.flatnonzero(circuit.defects.atom_of == atom)[0])
    assert codes(circuit.within(np.array([0, row])), "ECU", RUN) == {"157/4"}


def test_an_open_signal_reads_the_way_its_pin_is_pulled(circuit: Circuit) -> None:
    """Plugs off in the book's own situations: up is FMI 3, down is FMI 4."""
    off = {
        "rail sensor": {"157/3"}, "boost sensor": {"102/3"}, "fuel pressure sensor": {"94/4"},
        "hand throttle 1": {"91/4"}, "hand throttle 2": {"29/4"}, "oil pressure sensor": {"100/4"},
        "hydraulic pressure sensor": {"520311/3"}, "coolant sensor": {"110/3"},
        "intake air sensor": {"105/3"}, "fuel temperature sensor": {"174/3"},
    }  # fmt: skip
    healthy = circuit.within(np.zeros(1, np.int64))
    for part, expected in off.items():
        situation = Situation(key="on", unplugged=frozenset({part}))
        assert codes(healthy, "ECU", situation) == expected, part


# ------------------------------------------------------------------ no crank


def test_with_the_strap_corroded_the_starter_is_dead_and_the_rest_bright(circuit: Circuit) -> None:
    bad = with_truth(circuit, named("no-crank"))
    assert bad.state(CRANK, "K3", "contact")[-1] == CLOSED
    assert abs(read(bad, CRANK, "amps", "starter/motor")) < 5.0
    assert read(bad, CRANK, "volts", "battery:+", "battery minus") > 12.0
    assert bad.state(CRANK, "display", "power")[-1] == ON
    horn = Situation(key="on", on=frozenset({"S1"}))
    probes = [Probe(kind="share", p="horn")]
    assert bad.seen(horn, probes).mean[-1, 0] == pytest.approx(1.0, abs=0.05)
    # Common practice: the drop from block to battery minus gives the strap away.
    drop = Probe(kind="volts", p="engine", n="battery minus")
    healthy_drop, bad_drop = bad.seen(CRANK, [drop]).mean[:, 0]
    assert bad_drop > 5.0
    assert healthy_drop < 0.8


# ------------------------------------------------------------------ lights dead


def test_f5_holds_until_the_beacon_is_switched_on_and_then_stays_blown(circuit: Circuit) -> None:
    bad = with_truth(circuit, named("lights-dead"))
    lights = Situation(key="on", on=frozenset({"S2"}))
    beacon = Situation(key="on", on=frozenset({"S3"}))
    assert bad.state(KEY_ON, "F5", "element")[-1] != BLOWN
    assert bad.state(lights, "F5", "element")[-1] != BLOWN
    assert bad.state(beacon, "F5", "element")[-1] == BLOWN
    after = Situation(key="on", after=beacon)
    assert bad.state(after, "F5", "element")[-1] == BLOWN
    assert bad.state(after, "display", "power")[-1] != ON
    dark = Situation(key="on", on=frozenset({"S2"}), after=beacon)
    shares = bad.seen(
        dark, [Probe(kind="share", p=f"work light {side}") for side in ("left", "right")]
    )
    assert shares.mean[0] == pytest.approx([1.0, 1.0])
    assert shares.mean[1] == pytest.approx([0.0, 0.0], abs=1e-6)
    # Common practice: a blown feed takes down what hangs on it and nothing else.
    assert bad.state(Situation(key="crank", after=beacon), "K3", "contact")[-1] == CLOSED
    assert codes(bad, "ECU", after) == {"639/9"}


def test_only_the_jobs_fuse_blows(circuit: Circuit) -> None:
    job = named("lights-dead")
    bad = with_truth(circuit, job)
    beacon = Situation(key="on", on=frozenset({"S3"}))
    blown = {
        part.name
        for part in circuit.book.parts.values()
        if part.kind in ("fuse", "fusible link")
        and bad.state(beacon, part.name, "element")[-1] == BLOWN
    }
    assert blown == set(job.truth.blows)
