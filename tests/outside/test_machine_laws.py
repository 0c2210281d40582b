"""What may not matter to a whole machine does not matter, healthy and under every defect: a wire
turned round, a wire in two pieces, parts that hang on nothing, a situation lived twice, loads of
circuits that do not meet. Laws; no figure of the engine is taken for granted."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from backprobe.book import read_book
from backprobe.book.situations import Situation
from backprobe.circuit.bases import Bases
from backprobe.circuit.instruments import Tap as Place
from backprobe.circuit.instruments import show, taps_of
from backprobe.circuit.limits import limits_of
from backprobe.circuit.net import Net, build_net
from backprobe.circuit.ports import Cases, Ports
from backprobe.circuit.settle import settle
from backprobe.defects.model import Probe
from backprobe.defects.predict import Circuit
from backprobe.kinds.records import Series
from oracles.machines import machine
from oracles.one_at_a_time import Tap
from oracles.small_machines import Changes, defects, ports_of
from oracles.small_machines import machine as small_machine

SEEDS = (1, 2)


def circuit_of(text: str) -> Circuit:
    book, problems = read_book(text, "machine")
    assert book is not None, "\n".join(str(problem) for problem in problems)
    return Circuit.of(book)


def keys(circuit: Circuit) -> dict[tuple[str, float], int]:
    """Hypotheses by what they are."""
    atoms = circuit.defects.atoms
    found: dict[tuple[str, float], int] = {}
    for number, (atom, ohm) in enumerate(
        zip(circuit.defects.atom_of, circuit.defects.ohm, strict=True)
    ):
        found[(atoms[atom].id, float(ohm))] = number
    assert len(found) == circuit.cases.count
    return found


def same(one: Circuit, other: Circuit, situations: list[Situation], within: float = 1e-7) -> int:
    """Volts at every pin and every fuse, relay and unit, hypothesis by hypothesis; how many."""
    here, there = keys(one), keys(other)
    shared = sorted(set(here) & set(there))
    a, b = np.array([here[k] for k in shared]), np.array([there[k] for k in shared])
    nodes = [node for node in one.net.nodes if node in other.net.node]
    probes = [Probe(kind="volts", p=node) for node in nodes[:: max(1, len(nodes) // 25)]]
    names = [(s.owner, s.name) for s in one.net.states]
    at, to = ([c.net.state[name] for name in names] for c in (one, other))
    for situation in situations:
        first, second = one.seen(situation, probes), other.seen(situation, probes)
        assert (first.settled[a] == second.settled[b]).all()
        still = first.settled[a]
        states = one.settled(situation).states[a][:, at], other.settled(situation).states[b][:, to]
        moved = (states[0] != states[1]).any(axis=1) & still
        assert not moved.any(), shared[int(np.flatnonzero(moved)[0])]
        off = np.abs(first.mean[a] - second.mean[b])[still]
        worst = np.unravel_index(int(off.argmax()), off.shape)
        assert off.max() < within, (shared[int(worst[0])], probes[int(worst[1])], off.max())
    return len(shared)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_wire_written_the_other_way_round_is_the_same_wire(seed):
    """Ends, route and the place of every spot along it; also the pairs that rub."""
    made = machine(100, seed)
    wires = {
        name: replace(wire, a=wire.b, b=wire.a, route=wire.route[::-1])
        for name, wire in made.book.wires.items()
    }
    turned = Circuit.of(replace(made.book, wires=wires))
    situations = [made.situations["on"], made.situations["run"]]
    count = same(Circuit.of(made.book), turned, situations)
    assert count == made.circuit.cases.count


@pytest.mark.parametrize("seed", SEEDS)
def test_names_do_not_matter(seed):
    made = machine(100, seed)
    printed = [p for p in made.book.parts if re.search(r"\d$", p) or p.startswith("bus")]
    name = re.compile("|".join(rf"(?<![\w.]){re.escape(p)}(?!\w)" for p in sorted(printed, key=len)[::-1]))  # fmt: skip
    new = {p: f"Q{k:03d}" for k, p in enumerate(printed)}
    other = circuit_of(name.sub(lambda match: new[match[0]], made.text))
    one = Circuit.of(made.book)
    assert other.cases.count == one.cases.count
    situation = made.situations["run"]
    renamed = replace(situation, on=frozenset(new.get(s, s) for s in situation.on))
    for circuit in (one, other):
        circuit.rough = True
    states = one.settled(situation).states, other.settled(renamed).states
    assert (np.sort(states[0], axis=1) == np.sort(states[1], axis=1)).all()
    pins = [f"{p}.{pin}" for p in printed for pin in made.book.parts[p].pins[:1]]
    pins = [p for p in pins if p in one.net.node][:20]
    moved = [name.sub(lambda match: new[match[0]], p) for p in pins]
    assert len(pins) > 5
    first = one.seen(situation, [Probe(kind="volts", p=p) for p in pins]).mean
    second = other.seen(renamed, [Probe(kind="volts", p=p) for p in moved]).mean
    assert second == pytest.approx(first, abs=1e-8)


@pytest.mark.parametrize("seed", SEEDS)
def test_parts_that_hang_on_nothing_change_nothing(seed):
    """A lamp without wires, and a relay and a lamp wired to each other alone."""
    made = machine(100, seed)
    apart = """
spare lamp: lamp 55 W
lone relay: relay 12 V
lone lamp: lamp 21 W
lone relay.87 > lone lamp, 1 mm2, 0.5 m, wire lone 1
lone lamp.2 > lone relay.30, 1 mm2, 0.5 m, wire lone 2
"""
    more = circuit_of(made.text + apart)
    one = Circuit.of(made.book)
    count = same(one, more, [made.situations["on"], made.situations["run"]])
    assert count == one.cases.count < more.cases.count


@pytest.mark.parametrize("seed", SEEDS)
def test_a_situation_lived_twice_is_lived_once(seed):
    """What it blew is blown, and nothing else happens: the same loads on the same machine."""
    made = machine(100, seed)
    circuit = Circuit.of(made.book)
    circuit.rough = True
    for situation in (made.situations["on"], made.situations["run"]):
        again = replace(situation, after=situation)
        thrice = replace(again, after=again)
        probes = [Probe(kind="volts", p=node) for node in circuit.net.nodes[1::12]]
        first, second, third = (circuit.seen(s, probes) for s in (situation, again, thrice))
        kept = circuit._lasting
        blown = [circuit.settled(s).states[:, kept] for s in (situation, again, thrice)]
        assert (blown[0] <= blown[1]).all()
        assert (blown[1] == blown[2]).all()
        assert third.mean == pytest.approx(second.mean, abs=1e-9)
        alike = (blown[0] == circuit.net.resting[kept]).all(axis=1)
        assert second.mean[alike] == pytest.approx(first.mean[alike], abs=1e-9)
        assert not alike.all()


@pytest.mark.parametrize("seed", SEEDS)
def test_two_situations_at_once_are_each_of_them_where_their_circuits_do_not_meet(seed):
    """A stiff battery and thick minus: what one switch does to its own loads, it does to them with
    any other switch on, but for the millivolts the shared feed drops."""
    made = machine(400, seed)
    alone = made.circuit.within(np.zeros(1, np.int64))
    loads = [p for p in made.book.parts if p.startswith(("lamp", "pump", "valve"))]
    amps = [Probe(kind="amps", p=alone.load_of(load)) for load in loads]

    def drawn(*on: str) -> np.ndarray:
        return alone.seen(Situation(key="on", on=frozenset(on)), amps).mean[0]

    none = drawn()
    working = [s for s in made.switches if (np.abs(drawn(s) - none) > 0.1).any()]
    first, second = working[:2]
    one, two, both = drawn(first), drawn(second), drawn(first, second)
    touched, others = np.abs(one - none) > 0.1, np.abs(two - none) > 0.1
    apart = ~(touched & others)
    expected = none + np.where(touched, one - none, 0) + np.where(others, two - none, 0)
    assert both[apart] == pytest.approx(expected[apart], abs=0.03, rel=0.02)


def split(net: Net, wire: str, t: float) -> Net:
    """The same net with a wire in two pieces, the second keeping its name."""
    elements = []
    for element in net.elements:
        if element.name != wire:
            elements.append(element)
            continue
        first = replace(element, name=f"{wire} first", n=f"{wire} middle", ohm=element.ohm * t)
        elements += [first, replace(element, p=f"{wire} middle", ohm=element.ohm * (1 - t))]
    return build_net(
        elements, sources=net.sources, states=net.states, shifts=net.shifts, reference="0"
    )


def on_pieces(changes: Changes, wire: str, t: float, flip: bool) -> Changes:
    """The same physical changes said of the pieces."""
    made: list[object] = []
    for said in changes:
        change = said
        if isinstance(change, Series) and change.branch == wire and flip:
            change = replace(change, branch=f"{wire} first")
        if isinstance(change, Tap) and change.branch == wire:
            there = change.t < t
            at = change.t / t if there else (change.t - t) / (1 - t)
            change = replace(change, branch=f"{wire} first" if there else wire, t=at)
        if isinstance(change, Tap) and change.to == wire and change.to_t is not None:
            there = change.to_t < t
            at = change.to_t / t if there else (change.to_t - t) / (1 - t)
            change = replace(change, to=f"{wire} first" if there else wire, to_t=at)
        made.append(change)
    return tuple(made)  # type: ignore[arg-type]


def ended(net: Net, events: list[Changes], nodes: tuple[str, ...]) -> tuple[np.ndarray, ...]:
    made = [ports_of(net, changes) for changes in events]
    starts = np.cumsum([0, *(len(ports) for ports in made)])
    cases = Cases.of([range(a, b) for a, b in pairwise(starts)])
    ports = Ports.of([port for several in made for port in several])
    bases = Bases(net)
    begin = [(net.resting, np.arange(len(events)))]
    settled = settle(bases, limits_of(net), ports, cases, begin)
    places = taps_of(net, [Place(quantity="volts", p=node, n="0") for node in nodes])
    return settled.states, settled.steady, show(bases, settled, places, slopes=False).mean


@pytest.mark.parametrize("seed", range(4))
def test_a_wire_in_two_pieces_is_one_wire_under_every_defect(seed):
    """Opens, bad joints, shorts and rubbed pairs of it sit on one piece or the other."""
    net, wires = small_machine(seed)
    events = defects(net, wires, seed)
    rng = np.random.default_rng(seed)
    wire, t = str(rng.choice(wires)), float(rng.uniform(0.2, 0.8))
    cut = split(net, wire, t)
    pieces = [on_pieces(changes, wire, t, flip=bool(k % 2)) for k, changes in enumerate(events)]
    states, steady, volts = ended(net, events, net.nodes)
    other, steady_too, same_volts = ended(cut, pieces, net.nodes)
    assert (steady == steady_too).all()
    assert (states == other)[steady].all()
    # The middle leaks 1 GOhm like any node: up to 13 nA through what feeds a cut-off island.
    assert np.abs(volts - same_volts)[steady].max() < 2e-5
