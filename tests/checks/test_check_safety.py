"""No check that can hurt somebody or something is ever proposed.

The rules are common practice and makers' notices (no ohmmeter on a live circuit, no lamp on unit
lines, key off to unplug, no piercing) and SAE J1493 (no starter bridging). The tests follow the
copper of the book on their own, not through the rooms under test.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backprobe.book.model import End, Pin
from backprobe.book.situations import Lead, Situation
from backprobe.checks.generate import from_scene
from backprobe.checks.layout import layout_of
from backprobe.checks.model import Check
from backprobe.checks.safety import Live, allowed, barred
from backprobe.checks.scene import scene_of
from backprobe.checks.steps import cautions, steps
from backprobe.defects.model import Probe
from backprobe.findings.fold import fold
from backprobe.findings.model import Act, CodesFound, Failing, Reading
from checks import small_machine as small

BOOK = small.small_book()
LAYOUT = layout_of(BOOK, small.KINDS)


def copper(node):
    """All wire ends on the piece of copper a node belongs to, by walking the book's wires."""
    part, _, pin = node.replace(":", ".").partition(".")
    if node == "battery minus":
        part, pin = "battery", "-"
    todo = {(part, pin.rstrip("ab") if part.startswith("X") else pin)}
    seen = set()
    while todo:
        here = todo.pop()
        seen.add(here)
        for wire in BOOK.wires.values():
            ends = [(wire.a.part, wire.a.pin), (wire.b.part, wire.b.pin)]
            if here in ends:
                todo |= {e for e in ends if e not in seen}
    return seen


def broken_rules(check, live):
    """What is wrong with a check, judged from the book and the readings alone."""
    return [*wrong_leads(check), *wrong_hands(check), *wrong_probe(check, live)]


def wrong_leads(check):
    for lead in check.situation.fitted:
        for part, pin in copper(lead.p) | copper(lead.n):
            role = BOOK.roles.get(Pin(part, pin))
            harmless = ("supply", "ground")
            if (
                lead.kind == "resistor 1 kohm"
            ):  # 12 mA at 12 V: inputs and 5 V take it, a driver may not
                harmless = ("analogue input", "ground", "5 V group")
            if role is not None and role.role not in harmless:
                yield f"{lead.kind} on {part}.{pin}"
            if part == "starter" and lead.kind == "jumper":
                yield "starter bridged"
        if lead.kind == "jumper" and check.situation.key == "crank":
            yield "cranking through a jumper"


def wrong_hands(check):
    situation = check.situation
    if situation.unplugged and situation.key == "run":
        yield "unplugged while running"
    if situation.on & {"travel", "travel lever", "travel valve"} or check.target == "travel":
        yield "moves the machine"


def wrong_probe(check, live):
    probe, situation = check.probe, check.situation
    nodes = (probe.p, probe.n) if probe is not None else ()
    if probe is not None and probe.kind == "ohms":
        if not situation.battery_off and (
            max(live.highest(situation, *nodes), live.highest(situation, probe.p)) > 0.05
        ):
            yield "ohms on a live circuit"
        for part, pin in set().union(*map(copper, nodes)):
            role = BOOK.roles.get(Pin(part, pin))
            if role and role.role != "ground" and part not in situation.unplugged:
                yield f"ohms into {part}.{pin}"
    if probe is not None and probe.kind == "volts":
        for node in nodes:
            if node.startswith("J5"):
                yield "a splice has no bare metal"
            if node.startswith("X2") and "X2" not in situation.unplugged:
                yield "X2 cannot be back-probed"


chances = st.dictionaries(st.integers(1, len(small.ATOMS) - 1), st.floats(0.01, 1.0), min_size=1)
plugs = st.frozensets(st.sampled_from(["X1", "rail sensor", "ECU", "work light"]), max_size=2)


@st.composite
def jobs(draw):
    situation = Situation(
        key=draw(st.sampled_from(["off", "on", "crank", "run"])),
        on=draw(st.frozensets(st.sampled_from(["work light", "travel lever"]), max_size=2)),
        unplugged=draw(plugs),
        pulled=draw(st.frozensets(st.just("F1"), max_size=1)),
        battery_off=draw(st.booleans()),
    )
    pool = [
        CodesFound(id="c", unit="ECU", active=("157/4", "3509/4"), situation=Situation(key="on")),
        Failing(id="f", answer=draw(st.sampled_from(["yes", "gone"]))),
        Reading(id="r", p="X1.2a", value=0.4, situation=situation),
        Act(id="a", act="unplugged", target="rail sensor", situation=situation),
    ]
    return fold(
        draw(st.lists(st.sampled_from(pool), max_size=4, unique_by=lambda f: f.id)), start=situation
    )


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(job=jobs(), chance=chances, seed=st.integers(0, 99))
def test_no_job_state_yields_a_check_that_breaks_a_rule(job, chance, seed):
    predictor = small.MadeUp(seed=seed)
    live = Live(predictor)
    scene = scene_of(LAYOUT, job, predictor.defects, small.believe(chance))
    checks = allowed(LAYOUT, from_scene(scene), live)
    assert checks
    for check in checks:
        assert broken_rules(check, live) == []


@settings(max_examples=25, deadline=None)
@given(job=jobs(), chance=chances)
def test_plugs_come_off_and_go_on_with_the_key_off(job, chance):
    predictor = small.MadeUp()
    scene = scene_of(LAYOUT, job, predictor.defects, small.believe(chance))
    for check in allowed(LAYOUT, from_scene(scene), Live(predictor)):
        key = job.now.key
        for step in steps(LAYOUT, job, check):
            low = step.lower()
            if low.startswith(("key off", "key stays off", "when done: key off")):
                key = "off"
            if low.startswith(("unplug ", "plug ", "pull ", "lift ", "fit ", "put ")):
                assert key == "off", (check.id, step)
            if low.startswith(("key on", "start the engine")) or "cranks" in low:
                key = "on"


def check(does="volts", situation=Situation(key="on"), probe=None, target="", **more):
    return Check(
        id="x", does=does, target=target, words="x", situation=situation, probe=probe, **more
    )


LAMP = Lead(kind="lamp 21 W", p="rail sensor.3", n="battery minus")
VOLTS = Probe(kind="volts", p="F1.2")


@pytest.mark.parametrize(
    ("bad", "why"),
    [
        (
            check("ohms", probe=Probe(kind="ohms", p="F1.2", n="frame")),
            "an ohmmeter on a live circuit: up to 12.3 V there",
        ),
        (
            check(
                "ohms",
                Situation(key="off", battery_off=True),
                Probe(kind="ohms", p="X1.3a", n="frame"),
            ),
            "an ohmmeter into ECU pin 31: unplug ECU first",
        ),
        (check("lamp", Situation(fitted=(LAMP,)), VOLTS), "a lamp 21 W on ECU pin 47 (5 V group)"),
        (
            check("lamp", Situation(fitted=(replace(LAMP, p="work light.2"),)), VOLTS),
            "a lamp 21 W across 0.1 V: that line is no feed",
        ),
        (
            check(
                situation=Situation(
                    key="crank", fitted=(Lead(kind="jumper", p="engine", n="frame"),)
                ),
                probe=VOLTS,
            ),
            "cranking through a thin jumper",
        ),
        (
            check(situation=Situation(key="run", on=frozenset({"travel lever"})), probe=VOLTS),
            "travel lever can move the machine",
        ),
        (check("works", target="travel"), "travel can move the machine"),
        (
            check(probe=Probe(kind="volts", p="J5:1")),
            "J5:1 cannot be reached without piercing a wire",
        ),
        (
            check(probe=Probe(kind="volts", p="X2.1a")),
            "X2.1a cannot be reached without piercing a wire",
        ),
        (
            check(
                situation=Situation(fitted=(Lead(kind="jumper", p="F1.2", n="starter:30"),)),
                probe=VOLTS,
            ),
            "a jumper on the starter circuit",
        ),
        (
            check(
                situation=Situation(fitted=(Lead(kind="jumper", p="F1.1", n="F1.2"),)), probe=VOLTS
            ),
            "a jumper across F1",
        ),
        (
            check(
                situation=Situation(
                    key="crank", fitted=(Lead(kind="fused jumper", p="engine", n="frame"),)
                ),
                probe=VOLTS,
            ),
            "cranking through a thin jumper",
        ),
        (
            check(
                "lamp",
                Situation(fitted=(Lead(kind="lamp 24 V 70 W", p="F1.2", n="battery minus"),)),
                VOLTS,
            ),
            "a lamp 24 V 70 W on a machine of 12 V: it is made for 24 V",
        ),
        (
            check(
                probe=Probe(kind="volts", p="rail sensor.3", meter_ohm=3000.0),
                instrument="low-impedance meter",
            ),
            "a low-impedance meter on ECU pin 47 (5 V group)",
        ),
        (
            check(
                "ohms",
                Situation(key="off", battery_off=True, unplugged=frozenset({"ECU", "X1"})),
                Probe(kind="ohms", p="X1.3b", n="rail sensor.3"),
                instrument="milliohm meter",
            ),
            "a milliohm meter through rail sensor: unplug rail sensor first",
        ),
        (
            check("ohms", probe=Probe(kind="diode", p="F1.2", n="battery minus")),
            "an ohmmeter on a live circuit: up to 12.3 V there",
        ),
        (
            check(situation=Situation(key="run", unplugged=frozenset({"X1"})), probe=VOLTS),
            "a plug off while the engine runs",
        ),
        (
            check(situation=Situation(key="on", battery_off=True), probe=VOLTS),
            "battery minus off with the key on",
        ),
        (
            check(
                situation=Situation(fitted=(Lead(kind="booster cable", p="F1.1", n="frame"),)),
                probe=VOLTS,
            ),
            "a booster cable that is not on battery minus",
        ),
        (check("amps", probe=Probe(kind="amps", p="10"), instrument="meter"), "an ammeter in line"),
    ],
)
def test_each_rule_says_why(bad, why):
    predictor = small.MadeUp(
        told={
            "F1.2": [12.3] * 13,
            "work light.2": [0.1] * 13,
            "rail sensor.3": [5.0] * 13,
            "frame": [0.0] * 13,
        }
    )
    assert why in barred(LAYOUT, bad, Live(predictor))


def test_a_plain_backprobe_reading_is_allowed():
    predictor = small.MadeUp(told={"F1.2": [12.3] * 13})
    assert barred(LAYOUT, check(probe=VOLTS), Live(predictor)) == ()


def test_a_node_nobody_knows_is_not_safe_for_ohms():
    class Knows(small.MadeUp):
        def seen(self, _situation, probes, **_):
            raise KeyError(probes[0].p)

    bad = check("ohms", Situation(key="off"), Probe(kind="ohms", p="X9.1", n="frame"))
    assert "an ohmmeter on a live circuit: up to inf V there" in barred(LAYOUT, bad, Live(Knows()))


def test_every_check_with_a_hazard_shows_words_and_authority():
    predictor = small.MadeUp()
    job = fold([], start=Situation(key="on"))
    scene = scene_of(LAYOUT, job, predictor.defects, small.believe({1: 0.5, 2: 0.5}))
    shown = 0
    for one in from_scene(scene):
        told = cautions(one)
        assert bool(told) == bool(one.hazards)
        shown += len(told)
        for words, _ in told:
            assert words
    assert shown


def test_copper_of_the_layout_agrees_with_walking_the_wires():
    for end, touch in LAYOUT.ends.items():
        if touch.part in ("frame", "engine"):
            continue
        here = {(e.part, e.pin) for e in LAYOUT.members[LAYOUT.net[end]] if e.pin}
        assert here == copper(f"{End(*end).part}.{end.pin}"), touch.node
