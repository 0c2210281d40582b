"""The trials: the hidden machine is solved apart from the engine, the figures are counted right."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import asdict, replace
from typing import get_args

import numpy as np
import pytest
from trials import __main__ as whole
from trials import store
from trials.arrive import shown
from trials.books import proofread, spoiled, wrong_book
from trials.draw import STRATA, Case, dead, drawn, fault, field_of, noticed
from trials.one import Key, keys, worked
from trials.policies import BASELINES, POLICIES, PRINTED, TRADE
from trials.printed import CHART, CLASSES, chart, printed_step, step_of
from trials.report import MUST, SPENT, page
from trials.score import against, reliability, wilson
from trials.walk import Offer, Turn, Work

from backprobe.book.situations import Situation
from backprobe.checks.model import Check, Does
from backprobe.defects.model import Probe
from backprobe.findings.model import CodesFound, Looked, Works
from backprobe.shop.job import start
from oracles.decode import changes_of
from oracles.solved_apart import Apart, shifted
from oracles.technician import Alone, Hidden, Machine, mends

SMALL = "synthetic 160 2"


@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_bounds_are_those_of_the_published_table(hits, of, low, high):
    """Newcombe, "Two-sided confidence intervals for the single proportion", Statistics in Medicine 17
    (1998), table I, method 3 (the score method without correction). Figures from memory."""
    assert wilson(hits, of) == pytest.approx((low, high), abs=5e-5)


@pytest.fixture(scope="module")
def small():
    return field_of(SMALL)


def test_the_machine_apart_shows_what_the_engine_says_it_would(small):
    circuit = small.circuit
    rng = np.random.default_rng(3)
    probes = [
        Probe(kind="volts", p="SP3"),
        Probe(kind="inner", p="U1:23", n="U1:ground"),
        Probe(kind="amps", p="5", n=""),
        Probe(kind="share", p="lamp 3"),
    ]
    on = Situation(key="on", on=frozenset({"S1", "S2"}))
    dead = Situation(key="off", battery_off=True)
    for hypothesis in rng.choice(circuit.cases.count, 8, replace=False):
        changes = tuple(changes_of(circuit.net, circuit.ports, circuit.cases, int(hypothesis)))
        apart = Apart(small.book, circuit.net, changes, Apart(small.book, circuit.net))
        alone = Alone(circuit, int(hypothesis))
        for probe in probes:
            expected = alone.read(on, probe, gone=False)
            assert apart.read(on, probe, gone=False) == pytest.approx(expected, abs=1e-6)
        ohms = Probe(kind="ohms", p="U1.21", n="frame")
        expected = alone.read(dead, ohms, gone=False)
        assert apart.again().read(dead, ohms, gone=False) == pytest.approx(expected, rel=1e-5)
        one, two = Machine(circuit, int(hypothesis)), Hidden(small.book, (), apart.again())
        assert one.codes(on) == two.codes(on)
        for name in small.book.functions:
            assert one.works(name, on) == two.works(name, on)


def test_a_fuse_it_blew_stays_blown_until_a_new_one_is_fitted(small):
    circuit = small.circuit
    atom = next(
        k for k, a in enumerate(circuit.defects.atoms) if a.id.startswith("wire 36/to ground")
    )
    hypothesis = int(np.flatnonzero(circuit.defects.atom_of == atom)[0])
    changes = tuple(changes_of(circuit.net, circuit.ports, circuit.cases, hypothesis))
    apart = Apart(small.book, circuit.net, changes, Apart(small.book, circuit.net))
    plain, lit = Situation(key="on"), Situation(key="on", on=frozenset({"S2"}))
    assert apart.word(plain, "F3", "element", gone=False) == "good"
    assert apart.word(lit, "F3", "element", gone=False) == "blown"
    assert apart.word(plain, "F3", "element", gone=False) == "blown"
    assert apart.word(plain, "F3", "element", gone=True) == "blown"
    apart.renew("F3")
    assert apart.word(plain, "F3", "element", gone=False) == "good"


def test_battery_and_copper_of_the_hidden_machine_are_its_own(small):
    net = small.circuit.net
    probe = Probe(kind="inner", p="battery:+", n="battery minus")
    at_rest = Apart(small.book, net).read(Situation(key="off"), probe, gone=False)
    low = Apart(small.book, shifted(net, battery_v=-0.5)).read(
        Situation(key="off"), probe, gone=False
    )
    assert low == pytest.approx(at_rest - 0.5, abs=1e-3)
    warm = {e.name: e.ohm for e in shifted(net, warmer_k=25.0).elements}
    for element in net.elements:
        if element.warms:
            assert warm[element.name] == pytest.approx(element.ohm * 1.098, rel=1e-3)  # IEC 60028


@pytest.mark.parametrize("aside", [-0.6, 0.9])
def test_a_sound_machine_has_no_complaint_whatever_its_battery(aside):
    """Two and three standard deviations of the battery: one that is full takes less from its
    alternator, which is no complaint."""
    of = field_of("tracked-dumper")
    net = shifted(of.circuit.net, battery_v=aside, contacts=0.8)
    hidden = Hidden(of.book, (), Apart(of.book, net, nominal=Apart(of.book, net)))
    assert not noticed(of, hidden)
    as_printed = Apart(of.book, net, nominal=Apart(of.book, of.circuit.net))
    if aside > 0.8:
        assert dead(of, Hidden(of.book, (), as_printed)) == ("charging",)


@pytest.mark.parametrize("stratum", STRATA)
def test_what_is_drawn_causes_a_complaint_and_is_of_its_stratum(small, stratum):
    case = drawn(small, stratum, "matched", np.random.default_rng(5), 0)
    hidden = case.hidden(1, matched=True)
    shown = any(any(hidden.codes(situation).values()) for situation in small.life)
    works = [
        hidden.works(name, Situation(key=f.key, on=frozenset(f.commands)))
        for name, f in small.book.functions.items()
    ]
    assert shown or not all(works)
    assert len(case.faults) == (2 if stratum == "pair" else 1)
    assert (case.rho is not None) == (stratum == "sometimes")
    assert (len(case.apart.changes) >= 3) == (stratum == "many-pin") or stratum == "pair"


def test_a_wrong_book_differs_in_some_facts_and_can_be_read():
    text = "\n".join(f"X{k} > F{k}, 1.0 mm2, RD, 2.0 m, wire {k}" for k in range(2000))
    other, changed = spoiled(text, np.random.default_rng(1))
    differ = sum(a != b for a, b in zip(text.splitlines(), other.splitlines(), strict=False))
    assert 20 <= differ <= 62  # 2 % of 2000, four standard deviations
    assert differ == len(changed) or any(c.startswith(("missing", "changed")) for c in changed)
    assert wrong_book(SMALL, 3).book.wires


def test_a_wrong_book_that_proofreading_finds_is_passed_over():
    """Two pins of the key switch changed over: a shop sees that before any machine comes in."""
    one = wrong_book("tracked-dumper", 8)
    assert [row for each in one.found_wrong for row in each if "switch" in row]
    assert not proofread(one.book)


def test_a_new_fuse_that_holds_ends_a_fuse_that_was_open(small):
    """A fuse that is tried stays in (common practice)."""
    atoms = [atom.id for atom in small.circuit.defects.atoms]
    open_fuse = fault(
        small.circuit, first_of(small, atoms.index("F3/open")), np.random.default_rng(1)
    )
    net = small.circuit.net
    case = Case(
        name=SMALL,
        faults=(open_fuse,),
        apart=Apart(small.book, net, open_fuse.changes, Apart(small.book, net)),
    )
    hidden = case.hidden(1, matched=True)
    work = Work(small, case, small.book, hidden, np.random.default_rng(2))
    check = Check(id="f", does="new fuse", target="F3", words="", situation=Situation(key="on"))
    walk = work.follow(start(small.book), lambda _, **__: Offer(check, 60.0))
    assert (walk.ended, walk.checks, walk.done) == ("mended", 1, [" -> holds"])


def first_of(of, atom):
    return int(np.flatnonzero(of.circuit.defects.atom_of == atom)[0])


TINY = "unplugged-sensor"


def test_each_way_chooses_as_it_says_among_the_same_checks():
    of = field_of(TINY)
    codes = CodesFound(unit="engine unit", active=("100/4",), situation=Situation(key="run"))
    turn = Turn(start(of.book).note(codes), (("engine unit", "100/4"),))
    chosen = {name: POLICIES[name].choose(turn) for name in BASELINES if name != PRINTED}
    checks, bits = turn.plan.checks, turn.scores.bits
    telling = list(turn.telling)
    assert telling
    assert set(chosen.values()) <= set(telling)
    assert chosen["information"] == max(telling, key=lambda k: bits[k])

    def foremost(order, number):
        ranks = [order.index(checks[k].does) for k in telling]
        return order.index(checks[number].does) == min(ranks)

    assert foremost(TRADE, chosen["trade order"])
    assert "oil pressure sender" in checks[chosen["code by code"]].id
    halves = turn.plan.table.outcome[chosen["half-split"]] @ turn.plan.stories.mass
    sides = turn.plan.table.outcome[telling] @ turn.plan.stories.mass
    assert np.abs(halves - 0.5).min() == pytest.approx(np.abs(sides - 0.5).min(), abs=1e-3)


def test_a_printed_chart_is_done_in_its_order_whether_it_tells_or_not():
    of = field_of(TINY)
    code = CodesFound(unit="engine unit", active=("100/4",), situation=Situation(key="run"))
    turn = Turn(start(of.book).note(code), (("engine unit", "100/4"),))
    rule = of.book.codes["engine unit", "100/4"]
    steps: list[Check] = []
    while (offer := printed_step(replace(turn, done=tuple(steps)))) is not None:
        steps.append(offer.check)
    ranks = [CHART.index(check.does) for check in steps]
    assert ranks == sorted(ranks)
    assert {check.does for check in steps} <= set(CLASSES)
    assert len({step_of(turn.layout, check) for check in steps}) == len(steps) > 2
    # Another code found meanwhile changes neither which steps there are nor their order.
    later = turn.job.note(Looked(target="oil pressure sender", damage=False))
    same = chart(replace(turn, job=later), rule)
    assert {c.id for c in same} == {c.id for c in chart(turn, rule)}
    assert POLICIES[PRINTED](turn, repair=False).check == steps[0]


def test_who_looks_first_measures_after_two_looks():
    of = field_of(TINY)
    job = start(of.book).note(
        CodesFound(unit="engine unit", active=("100/4",), situation=Situation(key="run"))
    )
    places = [name for name, part in of.book.parts.items() if part.kind == "splice"][:2]
    places = places if len(places) == 2 else list(of.book.parts)[:2]
    turn = Turn(job.note(*(Looked(target=name, damage=False) for name in places)), ())
    does = {turn.plan.checks[k].does for k in turn.telling}
    assert {"look"} < does
    assert turn.plan.checks[POLICIES["trade order"].choose(turn)].does != "look"


def test_what_was_made_with_other_code_is_not_counted(tmp_path):
    def state_with(file: str) -> str:
        path = tmp_path / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("ONE = 1\n")
        return store.state_of_the_code(tmp_path)

    before = store.state_of_the_code(tmp_path)
    assert state_with("src/backprobe/web/one.py") == before
    assert state_with("benchmarks/trials/report.py") == before
    engine = state_with("src/backprobe/suspects/one.py")
    oracle = state_with("tests/oracles/one.py")
    after = state_with("benchmarks/trials/walk.py")
    assert len({before, engine, oracle, after}) == 4
    records = [{"what": "run", "code": before}, {"what": "run", "code": after}]
    assert store.newest(records) == records[1:]


def test_jobs_of_earlier_code_count_on_where_enough_came_out_the_same_again():
    def jobs(code: str, numbers: range, **more: object) -> list[store.Record]:
        return [
            record(n, "proposals", right=True, minutes=30.0) | {"code": code, "engine s": n} | more
            for n in numbers
        ]

    many = store.ENOUGH
    older, run = jobs("a", range(2 * many)), [{"what": "run", "code": "b"}]
    alike = [*older, *jobs("b", range(many), **{"engine s": 0.5}), *run]
    assert store.newest(alike) == alike
    assert len(store.once(alike)) == 2 * many + 1
    few = [*older, *jobs("b", range(many - 1)), *run]
    assert store.newest(few) == few[2 * many :]
    other = [*older, *jobs("b", range(many)), *jobs("b", range(many, many + 1), minutes=31.0), *run]
    assert store.newest(other) == other[2 * many :]


def test_what_is_in_both_files_counts_once():
    jobs = [record(n, "proposals", right=True, minutes=30.0) for n in range(3)]
    assert store.joined(jobs[:2], jobs[1:]) == jobs


def test_no_trial_loads_what_its_state_of_the_code_leaves_out():
    code = "import sys, trials.cheap, trials.one; print(*sys.modules)"
    path = os.pathsep.join(str(store.ROOT / at) for at in ("src", "tests", "benchmarks"))
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=os.environ | {"PYTHONPATH": path},
        check=True,
        capture_output=True,
        text=True,
    )
    loaded = set(done.stdout.split())
    assert {"trials.walk", "backprobe.suspects.weigh"} < loaded
    left_out = [f"backprobe.{name}" for name in store.WITHOUT]
    left_out += [f"trials.{name.removesuffix('.py')}" for name in store.TELLS]
    assert not [name for name in loaded if name.startswith(tuple(left_out))]


def test_a_job_is_worked_to_its_end():
    found = worked(Key(1, 7, "single", "matched", "proposals", TINY))
    assert found["right"], found
    assert found["ended"] == "mended"
    assert found["truth"]
    assert 10 < found["minutes"] < 180
    assert found["checks"] + found["vain"] + 1 == len(found["done"])
    assert sum(found["spent"].values()) == pytest.approx(found["minutes"], abs=0.05)
    assert found["spent"]["mended"] > 0.0


def test_where_the_minutes_go_adds_up_to_all_of_them():
    jobs = [record(k, "proposals", right=k < 3, minutes=0.0) for k in range(4)]
    jobs = [r | {"spent": {"volts": 4.0, "ohms": 2.0, "mended": 8.0}} for r in jobs]
    table = page(jobs).partition("## Where the minutes go")[2].partition("##")[0]
    rows = {
        line.split("|")[1].strip(): float(line.split("|")[2])
        for line in table.splitlines()[6:]
        if line.startswith("|")
    }
    assert {name: figure for name, figure in rows.items() if figure} == {
        "meter": 6.0,
        "repair that hit": 8.0,
        "not mended in the end": 45.0,
    }
    known = {name for classes in SPENT.values() for name in classes}
    assert known >= {*get_args(Does), "mended", "in vain"} - {"repair", "stop"}


def record(
    number: int, policy: str, *, right: bool, minutes: float, stratum="single", mode="matched"
):
    return {
        "what": "job", "code": "c", "seed": 1, "number": number, "stratum": stratum, "mode": mode,
        "policy": policy, "machine": SMALL, "truth": ["wire 1/open"], "right": right,
        "ended": "mended" if right else "handed on", "first repair right": right, "minutes": minutes,
        "vain": 0 if right else 1, "leading": [["wire 2", 0.6]], "wrong in the book": [],
        "book": number % 12, "books passed over": int(number % 12 == 8), "engine s": 3.0,
        "oracle s": 0.5,
    }  # fmt: skip


def test_minutes_are_compared_on_the_same_cases_only():
    records = [
        record(0, "proposals", right=True, minutes=10.0),
        record(1, "proposals", right=True, minutes=1000.0),
        record(0, "trade order", right=True, minutes=40.0),
    ]
    found = against(records, "trade order")
    assert (found.cases, found.ours, found.theirs) == (1, 10.0, 40.0)


def test_calibration_counts_the_gap_between_claimed_and_held():
    records = [{"leading": 0.95, "chance": 0.95, "right": k < 7} for k in range(10)]
    records += [{"leading": 0.55, "chance": 0.55, "right": k < 5} for k in range(10)]
    found = reliability(records)
    assert found.error == pytest.approx((0.25 + 0.05) / 2)
    assert found.log_score == pytest.approx((np.log(0.95) + np.log(0.55)) / 2)


def test_chances_that_are_right_err_by_luck():
    """A hundred claims of one half: sd 0.05, mean size of a normal error 0.05 * sqrt(2 / pi)."""
    even = [{"leading": 0.5, "right": k % 2 == 0, "chance": 0.5} for k in range(100)]
    assert reliability(even).perfect == pytest.approx(0.05 * np.sqrt(2 / np.pi))


def test_the_page_says_reached_missed_and_too_few():
    records = [record(k, "proposals", right=True, minutes=9.0) for k in range(200)]
    records += [
        record(k, "proposals", right=k % 2 == 0, minutes=9.0, mode="mismatched") for k in range(40)
    ]
    records += [record(k, "proposals", right=True, minutes=9.0, stratum="pair") for k in range(4)]
    rows = {
        tuple(c.strip() for c in line.split("|")[1:3]): line
        for line in page(records).partition("## Minutes")[0].splitlines()
        if line.startswith("|")
    }
    assert "200 of 200 (100%) | 98.1% | reached" in rows["single", "matched"]
    assert "20 of 40 (50%)" in rows["single", "mismatched"]
    assert "12 wrong books; 1 more passed over" in page(records)
    assert "missed" in rows["single", "mismatched"]
    assert "too few trials to say" in rows["pair", "matched"]
    assert "not tried" in rows["sometimes", "matched"]
    assert "too few cases to say" not in page(records)
    few = [*records, record(0, BASELINES[0], right=True, minutes=40.0)]
    assert "- matched: 22% of code by code (must 60%): too few cases to say." in page(few)
    many = [*records, *(record(k, BASELINES[0], right=True, minutes=40.0) for k in range(100))]
    assert "- matched: 22% of code by code (must 60%): reached." in page(many)
    printed = [*many, record(0, PRINTED, right=True, minutes=90.0)]
    assert "- matched: 10% of a chart as printed, up to " in page(printed)
    assert "22% of the best, code by code" in page(printed)
    assert set(MUST) == {(s, m) for s in STRATA for m in ("matched", "mismatched")}


def test_a_run_goes_on_where_it_stopped_and_a_broken_last_line_is_done_again(tmp_path, monkeypatch):
    file, done = tmp_path / "trials.jsonl", []

    def one(key: Key) -> dict[str, object]:
        done.append(key)
        return record(key.number, key.policy, right=True, minutes=5.0) | asdict(key)

    monkeypatch.setattr(whole, "worked", one)
    todo = keys(1, 2, ("single",), ("matched",))
    assert [key.policy for key in todo] == ["proposals", BASELINES[0], "proposals", BASELINES[1]]
    alone = keys(1, 2, ("single",), ("matched",), baselines=())
    assert [key.policy for key in alone] == ["proposals", "proposals"]
    for key in todo[:3]:
        store.append(file, [{**r, "code": "c"} for r in whole.done(key)])
    assert list(whole.left(todo, store.kept(file))) == todo[3:]
    file.write_text(file.read_text()[:-40])
    assert list(whole.left(todo, store.kept(file))) == todo[2:]
    store.append(file, [{**r, "code": "c"} for r in whole.done(todo[2])])
    assert list(whole.left(todo, store.kept(file))) == todo[3:]
    assert "3 jobs" in page(store.newest(store.kept(file)))


def test_records_that_are_packed_are_read_as_those_that_are_not(tmp_path):
    records = [{"code": "a", "what": "job", "truth": "Kühlmittel"}, {"code": "a", "what": "run"}]
    packed, again, plain = (tmp_path / n for n in ("r.jsonl.gz", "s.jsonl.gz", "r.jsonl"))
    store.append(plain, records)
    for file in (packed, again):
        store.pack(file, store.kept(plain))
    assert store.kept(packed) == records
    assert packed.read_bytes() == again.read_bytes() != plain.read_bytes()


def test_a_job_that_breaks_is_kept_as_broken_and_not_counted(monkeypatch):
    def broken(_: Key) -> dict[str, object]:
        raise ZeroDivisionError

    monkeypatch.setattr(whole, "worked", broken)
    (found,) = whole.done(Key(1, 0, "single", "matched", "proposals", SMALL))
    assert found["what"] == "broken"
    assert "ZeroDivisionError" in found["why"]
    text = page([{**found, "code": "c"}])
    assert "0 jobs" in text
    assert "1 broke off" in text


def test_a_wire_is_mended_under_its_printed_name_wherever_the_book_says_it_runs(small):
    atoms = {atom.id: atom for atom in small.circuit.defects.atoms}
    broken = next(atom for name, atom in atoms.items() if name.startswith("wire 36/open"))
    assert mends(broken.group, broken)
    assert mends("wire 36 (SP4 to sensor 2)", broken)
    assert not mends("wire 3 (main stud to FL0)", broken)
    assert not mends("lamp 3", broken)


def test_a_new_part_mends_a_plug_that_was_off_and_leaves_its_pins(small):
    atoms = {atom.id: atom for atom in small.circuit.defects.atoms}
    off, water = atoms["plug sensor 2/off"], atoms["plug sensor 2/wet"]
    pin = next(atom for name, atom in atoms.items() if name.startswith("contact sensor 2."))
    assert mends("sensor 2", off)
    assert not mends("sensor 2", water)
    assert not mends("sensor 2", pin)
    assert all(mends("plug at sensor 2", atom) for atom in (off, water, pin))


def test_who_pulls_a_plug_sees_that_it_was_off(small):
    seen = 0
    off = next(a for a in small.circuit.defects.atoms if a.id == "plug sensor 2/off")
    pulled = Situation(key="on", unplugged=frozenset({"sensor 2"}))
    volts = Check(id="x", does="volts", target="sensor 2", words="", situation=pulled)
    for seed in range(300):
        hidden = Hidden(small.book, (off,), Apart(small.book, small.circuit.net), seed=seed)
        seen += hidden.remarked(volts) == ("plug at sensor 2",)
        assert not hidden.remarked(replace(volts, situation=Situation(key="on")))
    assert 0.9 < seen / 300 < 0.99


def test_what_still_does_not_work_after_a_repair_is_told_as_on_arrival(small):
    circuit = small.circuit
    ids = [circuit.defects.atoms[n].id for n in circuit.defects.atom_of]
    changes = changes_of(circuit.net, circuit.ports, circuit.cases, ids.index("lamp 2/open"))
    apart = Apart(small.book, circuit.net, tuple(changes), Apart(small.book, circuit.net))
    hidden = Hidden(small.book, (), apart)
    told = [f for f in shown(small, hidden, small.book) if isinstance(f, Works) and not f.works]
    assert [f.target for f in told] == list(dead(small, hidden))[:2]
    assert told


def test_a_page_of_earlier_code_says_so() -> None:
    record = {"what": "run", "code": "aaa", "seconds": 60.0, "on": "a computer"}
    assert "The code is at state" not in page([record], "aaa")
    assert "The code is at state bbb by now" in page([record], "bbb")
