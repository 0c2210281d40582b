"""From belief to proposal on a small machine, with made-up readings whose answer is plain."""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backprobe.book.situations import Situation
from backprobe.checks import guard as guard_room
from backprobe.checks import plan as plan_room
from backprobe.checks.answer import findings_of
from backprobe.checks.bins import binned
from backprobe.checks.cost import open_places, price
from backprobe.checks.draft import outcome_table, planned
from backprobe.checks.generate import from_scene
from backprobe.checks.guard import cannot_tell
from backprobe.checks.layout import layout_of
from backprobe.checks.model import Check
from backprobe.checks.outcomes import Forecast
from backprobe.checks.plan import plan, proposal
from backprobe.checks.policy import best_step
from backprobe.checks.scene import history, scene_of
from backprobe.checks.stories import stories_of
from backprobe.checks.table import Table
from backprobe.checks.worth import repair_seconds, score
from backprobe.defects.model import Probe
from backprobe.findings.fold import fold
from backprobe.findings.model import (
    Act,
    CodesFound,
    DisplayRead,
    Failing,
    FuseFound,
    Looked,
    Provoked,
    Reading,
    Works,
)
from backprobe.suspects.model import Contradiction
from checks import small_machine as small

BOOK = small.small_book()
LAYOUT = layout_of(BOOK, small.KINDS)
ON, RUN, OFF = Situation(key="on"), Situation(key="run"), Situation(key="off")
CODES = CodesFound(id="c", unit="ECU", active=("157/4", "3509/4"), situation=ON)


@pytest.fixture(autouse=True)
def small_kinds(monkeypatch):
    monkeypatch.setattr(plan_room, "KINDS", small.KINDS)


def flat(value, **at):
    """(H,) the same reading everywhere, but for the two severities of the named atoms."""
    found = np.full(13, float(value))
    for name, other in at.items():
        number = int(name.removeprefix("a"))
        found[2 * number - 1 : 2 * number + 1] = other
    return found


def quiet(**told):
    """A predictor that reads 12 V everywhere, under every defect, unless told."""

    class Flat(small.MadeUp):
        def _volts(self, _situation, node):
            if node == "battery minus":
                return np.zeros(13)
            return np.asarray(self.told.get(node, flat(12.0)), float)

    return Flat(told=told)


def edges_of(y, sigma, weight):
    bins, edges, _, _ = binned(y[None], sigma[None], weight[None], np.ones((1, y.size), bool))
    return edges[0, : bins[0] + 1]


def test_readings_are_cut_at_their_clear_gaps_only():
    y = np.array([0.0, 0.1, 5.0, 12.0, 12.1])
    edges = edges_of(y, np.full(5, 0.1), np.full(5, 0.2))
    assert len(edges) == 4
    assert 0.1 < edges[1] < 5.0 < edges[2] < 12.0
    assert len(edges_of(y, np.full(5, 5.0), np.full(5, 0.2))) == 2


def test_never_more_than_four_bins():
    y = np.arange(10.0)
    assert len(edges_of(y, np.full(10, 0.01), np.full(10, 0.1))) == 5


@given(st.lists(st.floats(-20, 20), min_size=2, max_size=30), st.floats(0.01, 3.0))
def test_edges_rise_and_keep_every_bin_inhabited(values, sigma):
    y = np.array(values)
    weight = np.full(y.size, 1.0 / y.size)
    edges = edges_of(y, np.full(y.size, sigma), weight)
    assert np.all(np.diff(edges) > 0)
    for low, high in pairwise(edges):
        assert np.any((y > low) & (y <= high))


def test_chances_of_what_a_check_shows_sum_to_one_under_every_story():
    job = fold([CODES, Failing(id="f", answer="gone")], start=ON)
    predictor = small.MadeUp(seed=3, blown={"F1": [0] * 13})
    belief = small.believe({1: 0.5, 2: 0.3, 4: 0.2}, sometimes=0.5, present=0.3)
    done = planned(BOOK, predictor, job, belief)
    assert {"volts", "look", "provoke", "display", "ohms"} <= {c.does for c in done.checks}
    sums = done.table.outcome.sum(axis=1)
    assert np.allclose(sums, 1.0)
    assert done.table.outcome.min() >= 0.0
    assert done.stories.mass.sum() == pytest.approx(1.0)


def test_information_is_about_groups_not_severities():
    """The two severities of one atom read 3 V apart: nobody pays to tell them apart."""
    told = flat(12.0)
    told[1], told[2] = 3.0, 6.0
    job = fold([CODES, Failing(id="f", answer="yes")], start=ON)
    done = planned(BOOK, quiet(**{"X1.2b": told}), job, small.believe({1: 1.0}, outside=1e-9))
    at = [k for k, c in enumerate(done.checks) if c.probe and c.probe.p == "X1.2b"]
    assert at
    assert all(done.step.scores.bits[k] < 1e-6 for k in at)


def test_the_reading_that_splits_the_suspects_is_proposed_first():
    """Wire 42 against the rail sensor: only X1 way 2 tells them apart, and it does."""
    predictor = quiet(**{"X1.2b": flat(5.0, a1=0.2)})
    job = fold([CODES, Failing(id="f", answer="yes")], start=ON)
    belief = small.believe({1: 0.5, 2: 0.5})
    done = planned(BOOK, predictor, job, belief)
    first = proposal(done, small.OPEN).next[0]
    assert first.check.probe.p == "X1.2b"
    assert first.healthy == pytest.approx(5.0)
    low = next(o for o in first.outcomes if o.high is not None and o.high < 3.0)
    assert low.leaves[0][0] == "hinge"
    assert low.leaves[0][1] > 0.9
    assert first.steps
    assert first.gain_s > 0


@pytest.mark.parametrize("chances", [{1: 1.0}, {1: 0.5, 2: 0.5}])
def test_what_tells_nothing_is_never_all_that_is_left_to_do(chances):
    """Going where the mend will be may look cheaper than the mend makes it: still no check."""
    job = fold([CODES, Failing(id="f", answer="yes")], start=ON)
    done = planned(BOOK, quiet(), job, small.believe(chances, outside=1e-9))
    count = len(done.checks)
    vars(done)["step"] = replace(
        done.step,
        does="check",
        check=3,
        group=-1,
        promise_s=np.full(count, 500.0),
        scores=replace(done.step.scores, bits=np.zeros(count)),
    )
    first, *others = proposal(done, small.OPEN).next
    assert first.check.does == "repair"
    assert not others


def test_a_reading_that_cannot_tell_is_not_proposed():
    """Everything reads 12 V whatever is wrong: no reading is worth a minute, looks are."""
    job = fold([CODES, Failing(id="f", answer="yes")], start=ON)
    offers = plan(BOOK, quiet(), job, small.believe({1: 0.5, 2: 0.5}), small.OPEN).next
    assert offers
    assert not {o.check.does for o in offers} & {"volts", "drop", "display", "lamp"}


def test_one_suspect_left_is_mended():
    job = fold([CODES, Failing(id="f", answer="yes")], start=ON)
    offers = plan(BOOK, quiet(), job, small.believe({2: 0.97, 1: 0.03}), small.OPEN).next
    assert offers[0].check.does == "repair"
    assert offers[0].check.target == "rail sensor"
    assert sum(o.chance for o in offers[0].outcomes) == pytest.approx(1.0)
    assert "Prove it" in offers[0].steps[-1]


def test_a_fault_that_is_gone_is_brought_back_before_anything_is_mended():
    job = fold(
        [
            CODES,
            Failing(id="w", answer="only when", condition="wet"),
            Failing(id="f", answer="gone"),
        ],
        start=ON,
    )
    belief = small.believe({1: 0.7, 2: 0.15, 6: 0.15}, sometimes=1.0, present=0.03)
    gone = replace(small.OPEN, state="gone")
    said = plan(BOOK, quiet(), job, belief, gone)
    first = said.next[0]
    assert first.check.does == "provoke"
    assert first.check.condition == "wet"
    assert "hinge" in first.check.target
    assert said.words.startswith("It is not failing now: bring it back")


def test_a_wrong_repair_costs_more_while_the_fault_is_away():
    groups = np.array([0.6, 0.3, 0.1])
    repair = np.array([20.0, 20.0])
    showing = repair_seconds(groups, repair, 180.0)
    away = repair_seconds(groups, repair, 180.0, groups, 240.0)
    assert showing == pytest.approx(20 + 0.4 * 20 + 0.1 * 180)
    assert away == pytest.approx(20 + 0.4 * 240 + 0.4 * 20 + 0.1 * 240 + 0.1 * 180)
    assert away > showing


def test_once_it_shows_the_proof_can_be_trusted():
    """One provocation, one check that tells only while it shows: the plan sees through both."""
    outcome = np.zeros((2, 2, 4))
    outcome[0, 0] = [1.0, 1.0, 0.9, 0.9]  # it shows, or not
    outcome[0, 1] = [0.0, 0.0, 0.1, 0.1]
    outcome[1, 0] = [1.0, 0.0, 0.5, 0.5]  # tells story 0 from 1 while showing
    outcome[1, 1] = [0.0, 1.0, 0.5, 0.5]
    table = Table(
        seconds=np.array([10.0, 5.0]),
        outcome=outcome,
        group=np.array([0, 1, 0, 1]),
        repair=np.array([30.0, 30.0]),
        escalate=180.0,
        comeback=240.0,
        gone=np.array([0.0, 0.0, 1.0, 1.0]),
        showing=np.array([0, 1, 0, 1]),
        turns=np.array([[True, False], [False, False]]),
    )
    mass = np.array([0.0, 0.0, 0.5, 0.5])
    step = best_step(table, mass)
    assert (step.does, step.check) == ("check", 0)
    assert step.left_s == pytest.approx(10 + 0.9 * 35 + 0.1 * (30 + 0.5 * 240 + 0.5 * 30))
    assert score(table, mass).bits[1] == pytest.approx(0.0, abs=1e-12)


def test_the_same_job_gives_the_same_proposal():
    job = fold([CODES, Failing(id="f", answer="gone")], start=ON)
    belief = small.believe({1: 0.4, 2: 0.3, 5: 0.3}, sometimes=0.6, present=0.2)
    one = plan(BOOK, small.MadeUp(seed=4), job, belief, small.OPEN)
    assert one == plan(BOOK, small.MadeUp(seed=4), job, belief, small.OPEN)
    assert 1 <= len(one.next) <= 3


def test_alternatives_are_about_other_places():
    job = fold([CODES, Failing(id="f", answer="yes")], start=ON)
    belief = small.believe({1: 0.4, 2: 0.3, 5: 0.3})
    offers = plan(BOOK, small.MadeUp(seed=9), job, belief, small.OPEN).next
    places = [o.check.opens[:1] or (o.check.target,) for o in offers]
    assert len(set(places)) == len(places)


def test_contradictions_are_told_first():
    odd = replace(
        small.OPEN,
        state="odd",
        contradictions=(
            Contradiction(finding="c", words="12 V there is impossible.", ways_out=()),
        ),
    )
    job = fold([CODES], start=ON)
    words = plan(BOOK, small.MadeUp(seed=4), job, small.believe({1: 0.5, 2: 0.5}), odd).words
    assert "Say first whether it is failing right now." in words
    assert "Measure again first. 12 V there is impossible." in words


def test_what_the_visit_knows_is_not_asked_again():
    reading = Reading(id="r", p="X1.2b", value=0.2, situation=ON)
    looked = Looked(id="l", target="hinge", damage=False, situation=OFF)
    job = fold([CODES, reading, looked], start=ON)
    scene = scene_of(LAYOUT, job, small.small_defects(), small.believe({1: 0.6, 2: 0.4}))
    for check in from_scene(scene):
        assert not (check.does == "look" and "hinge" in check.target.split(", "))
        same = check.probe == Probe(kind="volts", p="X1.2b") and check.situation.bare() == ON
        assert not (check.does == "volts" and same)


def test_checks_come_after_what_the_machine_lived_through():
    job = fold([CODES], start=ON, usual_life=(RUN,))
    before = history(LAYOUT, job)
    assert (before.after, before.renewed, before.showing) == (RUN, frozenset(), None)
    scene = scene_of(LAYOUT, job, small.small_defects(), small.believe({1: 1.0}))
    assert all(check.situation.after == RUN for check in from_scene(scene))


def test_an_engine_that_does_not_start_is_not_asked_to_run():
    book = replace(
        BOOK,
        functions={
            **BOOK.functions,
            "starts": replace(BOOK.functions["work light"], name="starts", key="crank"),
        },
    )
    layout = layout_of(book, small.KINDS)
    dead = Works(id="w", target="starts", works=False, situation=Situation(key="crank"))
    scene = scene_of(layout, fold([dead]), small.small_defects(), small.believe({1: 1.0}))
    assert {s.key for s in scene.live} == {"on", "crank"}
    assert not [c for c in from_scene(scene) if c.situation.key == "run"]


def test_three_hundred_checks_are_priced_in_a_tenth_of_a_second():
    job = fold([CODES, Failing(id="f", answer="yes")], start=ON)
    belief = small.believe({1: 0.3, 2: 0.2, 3: 0.2, 4: 0.1, 5: 0.1, 6: 0.1})
    predictor = small.MadeUp(seed=5, blown={"F1": [0] * 13})
    defects = small.small_defects()
    scene = scene_of(LAYOUT, job, defects, belief)
    stories = stories_of(defects, belief)
    checks = (from_scene(scene) * 4)[:300]
    assert len(checks) == 300
    forecast = Forecast(BOOK, predictor, replace(stories, rows=np.arange(13)))
    shown = [s for s in forecast.of(checks) if s is not None]
    is_open = open_places(LAYOUT, job)
    start = time.process_time()
    for check in checks:
        price(LAYOUT, job, check, is_open)
    table = outcome_table(shown, stories.mass.size)
    score(
        Table(
            seconds=np.ones(len(shown)),
            outcome=table,
            group=stories.group,
            repair=np.full(len(stories.keys), 900.0),
            escalate=10800.0,
        ),
        stories.mass,
    )
    spent = time.process_time() - start
    print(f"{spent * 1e3:.0f} ms for {len(checks)} checks")
    assert spent < 0.1


def test_an_unloaded_reading_is_called_so_and_the_loaded_one_named(monkeypatch):
    """No current, no drop: 12 V through a bad contact. With the light on it shows."""
    monkeypatch.setattr(guard_room, "KINDS", small.KINDS)

    class Loaded(small.MadeUp):
        def _volts(self, situation, node):
            if node != "work light.1" or not (situation.fitted or situation.key == "run"):
                return flat(0.0 if node == "battery minus" else 12.0)
            return flat(12.0, a5=3.0)

    job = fold([CODES, Failing(id="f", answer="yes")], start=ON)
    belief = small.believe({5: 0.5, 4: 0.5})
    plain = asked("volts", probe=Probe(kind="volts", p="work light.1"))
    words = cannot_tell(BOOK, Loaded(), job, belief, plain)
    assert words.startswith(
        "It cannot tell: about 12.0 V whichever suspect it is. Without current, a meter reads the "
        "full voltage through any resistance. Read it under load: volts"
    )
    running = replace(plain, situation=RUN)
    assert cannot_tell(BOOK, Loaded(), job, belief, running) == ""


JOB = fold([CODES], start=ON)


def asked(does, target="", **more):
    return Check(id="x", does=does, target=target, words="the question", situation=ON, **more)


@pytest.mark.parametrize(
    ("check", "given", "found"),
    [
        (
            asked("volts", probe=Probe(kind="volts", p="X1.1a")),
            {"value": 12.1},
            (Reading(situation=ON, p="X1.1a", value=12.1),),
        ),
        (
            asked("ohms", probe=Probe(kind="ohms", p="X1.1a", n="frame")),
            {"value": np.inf},
            (Reading(situation=ON, instrument="ohmmeter", p="X1.1a", n="frame", value=np.inf),),
        ),
        (
            asked("display", "ECU rail pressure", probe=Probe(kind="inner", p="ECU:31")),
            {"value": 300.0},
            (DisplayRead(situation=ON, unit="ECU", name="rail pressure", value=300.0),),
        ),
        (
            asked("works", "work light"),
            {"word": "does not work"},
            (Works(situation=ON, target="work light", works=False),),
        ),
        (
            asked("fuse", "F1"),
            {"word": "blown"},
            (FuseFound(situation=ON, fuse="F1", state="blown"),),
        ),
        (
            asked("look", "seat run, hinge"),
            {"word": "nothing to see"},
            (
                Looked(situation=ON, target="seat run", damage=False),
                Looked(situation=ON, target="hinge", damage=False),
            ),
        ),
        (
            asked("look", "seat run, hinge"),
            {"word": "damage at hinge"},
            (Looked(situation=ON, target="hinge", damage=True),),
        ),
        (
            asked("provoke", "hinge", condition="wet"),
            {"word": "nothing"},
            (Provoked(situation=ON, places=("hinge",), condition="wet"),),
        ),
        (
            asked("provoke", "hinge", condition="wet"),
            {"word": "it shows at hinge"},
            (
                Provoked(situation=ON, places=("hinge",), condition="wet", shown_at="hinge"),
                Failing(visit=2, situation=ON, answer="yes", condition="wet"),
            ),
        ),
        (
            asked("unplug", "X1", setting="ECU 157/4"),
            {"word": "gone"},
            (CodesFound(situation=ON, unit="ECU", absent=("157/4",), complete=False),),
        ),
        (
            asked("repair", "hinge"),
            {"word": "passes"},
            (Act(situation=ON, act="repaired", target="hinge"),),
        ),
    ],
)
def test_an_answer_becomes_the_findings_that_say_so(check, given, found):
    assert findings_of(check, JOB, **given) == found


def test_a_sweep_says_that_everything_before_the_first_failure_works():
    sweep = asked("sweep", "work light, horn, fan")
    works = [Works(situation=ON, target=name, works=True) for name in ("work light", "horn", "fan")]
    assert findings_of(sweep, JOB, word="all work") == tuple(works)
    fails = replace(works[1], works=False)
    assert findings_of(sweep, JOB, word="does not work: horn") == (works[0], fails)


def test_a_sweep_tells_which_function_fails_first():
    """Three lamps; under atom 2 the second one is dead."""
    lamps = {f"lamp {k}": replace(BOOK.parts["work light"], name=f"lamp {k}") for k in (1, 2, 3)}
    functions = {
        name: replace(BOOK.functions["work light"], name=f"f{name}", needs=(name,))
        for name in lamps
    }
    book = replace(
        BOOK, parts={**BOOK.parts, **lamps}, functions={f.name: f for f in functions.values()}
    )
    predictor = quiet(**{"lamp 2": flat(12.3, a2=0.0), "lamp 1": flat(12.3), "lamp 3": flat(12.3)})
    defects = small.small_defects()
    belief = small.believe(dict.fromkeys(range(1, 7), 1.0))
    stories = stories_of(defects, belief)
    assert stories.rows.size == 13
    sweep = asked("sweep", ", ".join(f.name for f in functions.values()))
    shown = Forecast(book, predictor, replace(stories, rows=np.arange(13))).of([sweep])[0]
    assert shown.words == (
        "does not work: flamp 1",
        "does not work: flamp 2",
        "does not work: flamp 3",
        "all work",
    )
    assert shown.chance.shape[0] == 4
    assert shown.chance[1, 3] > 0.9
    assert shown.chance[3, 1] > 0.9


@pytest.mark.parametrize("does", ["works", "sweep", "fuse", "look", "provoke", "codes", "swap"])
def test_error_an_answer_that_does_not_fit(does):
    with pytest.raises(ValueError, match="'perhaps' is no answer to: the question"):
        findings_of(asked(does, "hinge"), JOB, word="perhaps")
